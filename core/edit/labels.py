"""What the hands do: fingers, plucking, suggestions, and the signs of one note."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, structs

from core.edit.base import (
    At,
    find_measure,
    find_note,
    map_events,
    refuse,
    with_arrangement,
    with_note,
    with_sections,
)
from core.edit.mend import put_measure
from core.edit.notes import check_fret, moved
from core.hand.barres import LaidBarre, marked
from core.model import (
    Event,
    Finger,
    Fingering,
    Harmonic,
    Label,
    Lesson,
    Measure,
    Note,
    Origin,
    Pitch,
    Place,
    Pluck,
    walk,
)
from core.model.notes import HARMONIC_SEMITONES

Part = Literal["place", "finger", "plucking"]
PARTS: tuple[Part, ...] = ("place", "finger", "plucking")


def _put(lesson: Lesson, at: At, note: Note, updated: Note) -> Lesson:
    return lesson if updated == note else put_measure(lesson, at.found, with_note(at, updated))


class SetFinger(Struct, frozen=True):
    """Pin the left-hand finger of a note; None leaves it open."""

    measure: int
    note: int
    finger: Finger | None

    @property
    def label(self) -> str:
        return "leave the finger open" if self.finger is None else f"finger {self.finger.value}"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        label = None if self.finger is None else Label(self.finger)
        return _put(lesson, at, note, structs.replace(note, finger=label))


class SetPlucking(Struct, frozen=True):
    """Pin the right-hand finger of a note; None leaves it open."""

    measure: int
    note: int
    plucking: Pluck | None

    @property
    def label(self) -> str:
        return (
            "leave the plucking open" if self.plucking is None else f"pluck {self.plucking.value}"
        )

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        label = None if self.plucking is None else Label(self.plucking)
        return _put(lesson, at, note, structs.replace(note, plucking=label))


class PinSuggestion(Struct, frozen=True):
    """Make what the program suggests for a note the teacher's own."""

    measure: int
    note: int
    parts: tuple[Part, ...] = PARTS

    @property
    def label(self) -> str:
        return "pin the suggestion"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        return _put(lesson, at, note, _pinned(note, self.parts))


class RefuseSuggestion(Struct, frozen=True):
    """Take what the program suggests for a note off; what the teacher or source set stays."""

    measure: int
    note: int
    parts: tuple[Part, ...] = PARTS

    @property
    def label(self) -> str:
        return "refuse the suggestion"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        changes = {part: None for part in self.parts if _suggested(note, part)}
        return _put(lesson, at, note, structs.replace(note, **changes) if changes else note)


class PinMeasure(Struct, frozen=True):
    """Make everything the program suggests in a measure the teacher's own."""

    measure: int

    @property
    def label(self) -> str:
        return "pin the suggestions of the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        events = {event.id for row in found.measure.voices for event in row}
        spans = tuple(
            structs.replace(s, suggested=False) if s.suggested and s.start in events else s
            for s in lesson.arrangement.spans
        )
        if spans != lesson.arrangement.spans:
            arrangement = structs.replace(lesson.arrangement, spans=spans)
            lesson = with_arrangement(lesson, arrangement)
        return put_measure(lesson, found, map_events(found.measure, pinned_event))


def _suggested(note: Note, part: Part) -> bool:
    label: Label[object] | None = getattr(note, part)
    return label is not None and not label.firm


def _pinned(note: Note, parts: tuple[Part, ...]) -> Note:
    changes = {part: Label(getattr(note, part).value) for part in parts if _suggested(note, part)}
    return structs.replace(note, **changes) if changes else note


def pinned_event(event: Event) -> Event:
    """The event with all that is suggested for its notes the teacher's own; the same object where
    nothing is."""
    notes = tuple(_pinned(note, PARTS) for note in event.notes)
    same = all(a is b for a, b in zip(notes, event.notes, strict=True))
    return event if same else structs.replace(event, notes=notes)


class SetNoteSign(Struct, frozen=True):
    """Turn a sign of one note on or off: let ring, circled string, guide finger, small note."""

    measure: int
    note: int
    sign: Literal["let_ring", "circled", "guide", "small"]
    on: bool = True

    @property
    def label(self) -> str:
        words = {"let_ring": "let ring", "circled": "circled string", "guide": "guide finger"}
        return words.get(self.sign, "small note") + ("" if self.on else " off")

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        if self.sign == "circled" and self.on and note.place is None:
            raise refuse(lesson, self.measure, "the note has no string yet; give it a place first.")
        return _put(lesson, at, note, structs.replace(note, **{self.sign: self.on}))


class SetAccidental(Struct, frozen=True):
    """How the accidental of a note is shown: by the rules, as a courtesy, editorial, hidden."""

    measure: int
    note: int
    accidental: Literal["auto", "courtesy", "editorial", "hidden"]

    @property
    def label(self) -> str:
        return (
            "accidental by the rules"
            if self.accidental == "auto"
            else (f"{self.accidental} accidental")
        )

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        return _put(lesson, at, note, structs.replace(note, accidental=self.accidental))


class SetHarmonic(Struct, frozen=True):
    """Play a note as a harmonic on its string; None makes it an ordinary note again.

    The pitch follows the node that is touched; a natural harmonic leaves the string open.
    """

    measure: int
    note: int
    harmonic: Harmonic | None

    @property
    def label(self) -> str:
        return "ordinary note" if self.harmonic is None else f"{self.harmonic.kind} harmonic"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        if note.harmonic == self.harmonic:
            return lesson
        if note.place is None:
            raise refuse(lesson, self.measure, "the note has no string yet; give it a place first.")
        place = note.place.value
        raised = 0
        if self.harmonic is not None:
            natural = self.harmonic.kind == "natural"
            place = Place(place.string, 0) if natural else place
            node = self.harmonic.touched_fret - place.fret
            if node not in HARMONIC_SEMITONES:
                why = f"no harmonic sounds {node} frets above the stopped note."
                raise refuse(lesson, self.measure, why)
            raised = HARMONIC_SEMITONES[node]
        midi = lesson.arrangement.instrument.midi_at(place) + raised
        pitch = Pitch.from_midi(midi, at.found.measure.key)
        changed = moved(note, pitch, Label(place, note.place.origin))
        return _put(lesson, at, note, structs.replace(changed, harmonic=self.harmonic))


class SetAlternative(Struct, frozen=True):
    """Keep a second fingering beside the first, with its reason; None drops it."""

    measure: int
    note: int
    alternative: Fingering | None

    @property
    def label(self) -> str:
        return "drop the alternative" if self.alternative is None else "alternative fingering"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        place = None if self.alternative is None else self.alternative.place
        if place is not None:
            check_fret(lesson, self.measure, place.string, place.fret)
            if lesson.arrangement.instrument.midi_at(place) != note.pitch.midi:
                where = f"string {place.string}, fret {place.fret}"
                raise refuse(
                    lesson,
                    self.measure,
                    f"{where} does not sound {note.pitch}; choose a place that does.",
                )
        return _put(lesson, at, note, structs.replace(note, alternative=self.alternative))


class ExchangeAlternative(Struct, frozen=True):
    """Make the second fingering of a note the first, and keep the first as the second."""

    measure: int
    note: int

    @property
    def label(self) -> str:
        return "take the alternative"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        other = note.alternative
        if other is None:
            raise refuse(
                lesson, self.measure, "the note has no alternative fingering; write one first."
            )
        if other.place is not None:
            check_fret(lesson, self.measure, other.place.string, other.place.fret)
            if lesson.arrangement.instrument.midi_at(other.place) != note.pitch.midi:
                raise refuse(
                    lesson,
                    self.measure,
                    f"the alternative does not sound {note.pitch}; change it first.",
                )
        kept = Fingering(
            note.place.value if note.place and note.harmonic is None else None,
            note.finger.value if note.finger else None,
            other.reason,
        )
        updated = structs.replace(
            note,
            place=Label(other.place) if other.place else note.place,
            harmonic=None if other.place else note.harmonic,
            finger=Label(other.finger) if other.finger else None,
            alternative=kept,
        )
        return _put(lesson, at, note, updated)


class SetSubstitute(Struct, frozen=True):
    """The finger put down silently in place of the first while the note sounds; None drops it."""

    measure: int
    note: int
    finger: Finger | None

    @property
    def label(self) -> str:
        return "finger substitution"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        return _put(lesson, at, note, structs.replace(note, substitute=self.finger))


class SetBend(Struct, frozen=True):
    """Bend a note by so many semitones; None takes the bend off."""

    measure: int
    note: int
    semitones: float | None

    @property
    def label(self) -> str:
        return "no bend" if self.semitones is None else "bend"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        if self.semitones is not None and not 0 < self.semitones <= 12:
            raise refuse(
                lesson, self.measure, "a bend rises by more than 0 and at most 12 semitones."
            )
        return _put(lesson, at, note, structs.replace(note, bend=self.semitones))


class Suggest(Struct, frozen=True):
    """What a solver worked out: labels by note id, and the solver's name and version.

    Not a command: it amends the current lesson outside the history, without an undo step.
    `asked` holds the measures it worked on, as they were: results for measures that changed
    meanwhile are dropped. `dropped` are notes whose suggested labels are taken off: no hand can
    play them as things stand. `barres` are all of the measures in `asked`; None leaves the marks
    alone.
    """

    places: Mapping[int, Label[Place]]
    fingers: Mapping[int, Label[Finger]] = {}
    solver: str = ""
    asked: tuple[Measure, ...] = ()
    dropped: frozenset[int] = frozenset()
    barres: tuple[LaidBarre, ...] | None = None

    def amend(self, lesson: Lesson) -> Lesson:
        """The lesson with suggested places and fingers; the same object where nothing is new.

        Only open or formerly suggested labels are set. A place that does not sound the note's
        pitch is not taken. Measures that are not the objects in `asked` (if given) are left alone.
        """
        asked = {measure.id: measure for measure in self.asked}
        sections = []
        for section in lesson.arrangement.sections:
            row = tuple(
                _suggest_measure(lesson, measure, self)
                if not asked or asked.get(measure.id) is measure
                else measure
                for measure in section.measures
            )
            same = all(a is b for a, b in zip(row, section.measures, strict=True))
            sections.append(section if same else structs.replace(section, measures=row))
        fresh = all(m is asked.get(m.id, m) for m in walk.measures(lesson.arrangement))
        solver = self.solver or lesson.solver
        if not all(a is b for a, b in zip(sections, lesson.arrangement.sections, strict=True)):
            lesson = structs.replace(with_sections(lesson, sections), solver=solver)
        if self.barres is None or not fresh:
            return lesson
        return marked(lesson, self.barres, frozenset(asked) if asked else None, solver)


class TakeSuggestions(Struct, frozen=True):
    """Write what was worked out into the lesson because the teacher asked for it: one step.

    Refused where a measure it was worked out for has changed meanwhile.
    """

    found: Suggest
    what: str = "suggested fingers"

    @property
    def label(self) -> str:
        return self.what

    def apply(self, lesson: Lesson) -> Lesson:
        present = {measure.id: measure for measure in walk.measures(lesson.arrangement)}
        for measure in self.found.asked:
            if present.get(measure.id) is not measure:
                why = "something changed while the fingers were worked out; ask for them again."
                raise refuse(lesson, measure.id, why)
        return self.found.amend(lesson)


def _without_suggestions(note: Note) -> Note:
    changes = {part: None for part in ("place", "finger") if _suggested(note, part)}
    return structs.replace(note, **changes) if changes else note


def _suggest_measure(lesson: Lesson, measure: Measure, found: Suggest) -> Measure:
    instrument = lesson.arrangement.instrument

    def labelled(note: Note) -> Note:
        if note.id in found.dropped:
            return _without_suggestions(note)
        changes: dict[str, object] = {}
        place_label, finger_label = found.places.get(note.id), found.fingers.get(note.id)
        place = place_label.value if place_label else None
        finger = finger_label.value if finger_label else None
        free = note.place is None or not note.place.firm
        if place is not None and free and note.harmonic is None:
            sounds = place.string <= len(instrument.strings) and (
                instrument.midi_at(place) == note.pitch.midi
            )
            if sounds and (note.place is None or note.place.value != place):
                changes["place"] = Label(place, Origin.SUGGESTED)
        free = note.finger is None or not note.finger.firm
        if finger is not None and free and (note.finger is None or note.finger.value != finger):
            changes["finger"] = Label(finger, Origin.SUGGESTED)
        return structs.replace(note, **changes) if changes else note

    def change(event: Event) -> Event:
        notes = tuple(labelled(note) for note in event.notes)
        same = all(a is b for a, b in zip(notes, event.notes, strict=True))
        return event if same else structs.replace(event, notes=notes)

    return map_events(measure, change)
