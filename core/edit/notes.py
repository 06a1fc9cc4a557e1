"""Notes in and out: by fret, by pitch, deleting, ties, pitches, voices."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.edit.base import (
    At,
    Ids,
    by_pitch,
    check_voice,
    find_event,
    find_measure,
    find_note,
    refuse,
    with_event,
    with_events,
    with_note,
)
from core.edit.mend import put_measure
from core.edit.rows import Mode, Pen, Row, Uncuttable, insert, overwrite, starting
from core.model import (
    VOICE_NAMES,
    Base,
    Breath,
    Event,
    Fermata,
    Grace,
    Label,
    Lesson,
    Measure,
    Note,
    Pitch,
    Place,
    Value,
)

Entry = Literal["chord", "overwrite", "insert"]
"""What a new note does at a moment where another event begins: it joins the notes there (and
takes the time of a rest), it takes the place of what is there, or it pushes it on."""

CANNOT_CUT = "a tuplet would be cut; change or delete the tuplet first."


def check_fret(lesson: Lesson, measure_id: int, string: int, fret: int) -> None:
    """Refuse strings and frets the instrument does not have."""
    instrument = lesson.arrangement.instrument
    if not 1 <= string <= len(instrument.strings):
        last = len(instrument.strings)
        raise refuse(lesson, measure_id, f"there is no string {string}; strings are 1 to {last}.")
    highest = instrument.highest_fret - instrument.capo
    if not 0 <= fret <= highest:
        raise refuse(lesson, measure_id, f"there is no fret {fret}; frets are 0 to {highest}.")


def put_row(lesson: Lesson, measure_id: int, voice: int, row: Row, ids: Ids) -> Lesson:
    """The lesson with the events of one voice replaced and the rest mended."""
    found = find_measure(lesson, measure_id)
    return put_measure(lesson, found, with_events(found.measure, voice, row), ids)


class Spot(Struct, frozen=True):
    """Where events go in: a voice, a tick, over what is there or pushing it on."""

    voice: int
    tick: int
    mode: Mode


def place_row(lesson: Lesson, measure: Measure, middle: Row, spot: Spot, ids: Ids) -> Row:
    """The row of a voice with events put in; raises EditRefused."""
    row = measure.voices[spot.voice] if spot.voice < len(measure.voices) else ()
    pen = Pen(measure.metre, ids)
    try:
        if spot.mode == "overwrite":
            return overwrite(row, spot.tick, middle, pen)
        pushed = insert(row, spot.tick, middle, pen)
    except Uncuttable:
        raise refuse(lesson, measure.id, CANNOT_CUT) from None
    if pushed is None:
        why = "a note or rest lasts across that moment; insert at its start or after it."
        raise refuse(lesson, measure.id, why)
    return pushed


def _enter(
    lesson: Lesson, where: tuple[int, int, int], note: Note, value: Value | None, mode: Entry
) -> Lesson:
    """Put a note (its id is set here) at (measure, voice, tick)."""
    measure_id, voice, tick = where
    found = find_measure(lesson, measure_id)
    check_voice(lesson, measure_id, voice)
    if tick < 0:
        raise refuse(
            lesson, measure_id, "there is no moment before its start; choose one inside it."
        )
    measure, ids = found.measure, Ids(lesson)
    row = measure.voices[voice] if voice < len(measure.voices) else ()
    index = starting(row, tick)
    there = None if index is None else row[index]
    if there is not None and index is not None and mode == "chord" and there.notes:
        at = At(found, voice, index, tick, there)
        return put_measure(lesson, found, with_event(at, _joined(lesson, at, note, ids)), ids)
    if value is None:
        last = row[-1].value if row else Value(Base.QUARTER)
        value = last if there is None else there.value
    number = ids.take() if there is None or mode == "insert" else there.id
    event = Event(number, value, (structs.replace(note, id=ids.take()),))
    how: Mode = "insert" if mode == "insert" else "overwrite"
    updated = place_row(lesson, measure, (event,), Spot(voice, tick, how), ids)
    return put_measure(lesson, found, with_events(measure, voice, updated), ids)


def _joined(lesson: Lesson, at: At, note: Note, ids: Ids) -> Event:
    """The chord with the note added, or with the note on its string changed."""
    for old in at.event.notes:
        same_pitch = old.pitch.midi == note.pitch.midi
        if note.place is not None:
            unplaced = old.place is None and same_pitch
            if unplaced or (
                old.place is not None and old.place.value.string == note.place.value.string
            ):
                changed = moved(old, note.pitch, note.place)
                return _with_changed(at.event, changed)
        elif same_pitch:
            raise refuse(
                lesson,
                at.found.measure.id,
                f"{note.pitch} is already sounding there; choose another pitch or moment.",
            )
    added = structs.replace(note, id=ids.take())
    return structs.replace(at.event, notes=by_pitch((*at.event.notes, added)))


def _with_changed(event: Event, changed: Note) -> Event:
    notes = tuple(changed if note.id == changed.id else note for note in event.notes)
    return event if notes == event.notes else structs.replace(event, notes=by_pitch(notes))


def moved(note: Note, pitch: Pitch, place: Label[Place] | None) -> Note:
    """A note with another pitch or place, without the labels that belonged to the former one.

    A firm finger stays where open stays open and stopped stays stopped.
    """
    if note.place is not None and place is not None and note.place.value == place.value:
        return structs.replace(note, place=place, pitch=pitch)
    finger = note.finger
    if place is None or finger is None or not finger.firm:
        finger = None
    elif note.place is not None:
        opened = (note.place.value.fret == 0) != (place.value.fret == 0)
        finger = None if opened else finger
    same_pitch = pitch == note.pitch
    return structs.replace(
        note,
        pitch=pitch,
        place=place,
        finger=finger,
        harmonic=note.harmonic if same_pitch and place is None else None,
        accidental=note.accidental if same_pitch else "auto",
        substitute=note.substitute if finger is not None else None,
        alternative=note.alternative if same_pitch else None,
    )


class PutFret(Struct, frozen=True):
    """Put a fret on a string at (measure, voice, tick), pinned; the pitch is spelled by the key.

    Adds a note to the chord there or changes the one on that string. `value` is the value of a
    new event; None takes the value of what is there.
    """

    measure: int
    voice: int
    tick: int
    string: int
    fret: int
    value: Value | None = None
    mode: Entry = "chord"

    @property
    def label(self) -> str:
        return f"fret {self.fret} on string {self.string}"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        check_fret(lesson, self.measure, self.string, self.fret)
        place = Place(self.string, self.fret)
        midi = lesson.arrangement.instrument.midi_at(place)
        note = Note(0, Pitch.from_midi(midi, found.measure.key), Label(place))
        where = self.measure, self.voice, self.tick
        return _enter(lesson, where, note, self.value, self.mode)


class AddPitch(Struct, frozen=True):
    """Add a note by its sounding pitch at (measure, voice, tick); it has no place yet."""

    measure: int
    voice: int
    tick: int
    pitch: Pitch
    value: Value | None = None
    mode: Entry = "chord"

    @property
    def label(self) -> str:
        return f"note {self.pitch}"

    def apply(self, lesson: Lesson) -> Lesson:
        where = self.measure, self.voice, self.tick
        return _enter(lesson, where, Note(0, self.pitch), self.value, self.mode)


class DeleteNote(Struct, frozen=True):
    """Take one note away; where it was the only one a rest stays."""

    measure: int
    note: int

    @property
    def label(self) -> str:
        return "delete note"

    def apply(self, lesson: Lesson) -> Lesson:
        at, _ = find_note(lesson, self.measure, self.note)
        left = tuple(note for note in at.event.notes if note.id != self.note)
        event = structs.replace(at.event, notes=left) if left else silenced(at.event)
        return put_measure(lesson, at.found, with_event(at, event))


def silenced(event: Event) -> Event:
    """The rest that stays of an event: its time, and of its marks the fermata and the breath."""
    marks = tuple(mark for mark in event.marks if isinstance(mark, Fermata | Breath))
    return structs.replace(event, notes=(), marks=marks)


class SetPitch(Struct, frozen=True):
    """Give a note another sounding pitch: on its string where that can be, else without a place."""

    measure: int
    note: int
    pitch: Pitch

    @property
    def label(self) -> str:
        return f"pitch {self.pitch}"

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        if note.pitch == self.pitch:
            return lesson
        same = self.pitch.midi == note.pitch.midi
        if same:
            return put_measure(lesson, at.found, with_note(at, _respelled(note, self.pitch)))
        string = 0 if note.place is None else note.place.value.string
        place = lesson.arrangement.instrument.place_on(string, self.pitch.midi)
        changed = moved(note, self.pitch, None if place is None else Label(place))
        return put_measure(lesson, at.found, with_event(at, _with_changed(at.event, changed)))


def _respelled(note: Note, pitch: Pitch) -> Note:
    return structs.replace(note, pitch=pitch, accidental="auto")


class SetPlace(Struct, frozen=True):
    """Play a note of the same pitch at another place (pinned), or leave its place open (None)."""

    measure: int
    note: int
    place: Place | None

    @property
    def label(self) -> str:
        return (
            "leave the place open" if self.place is None else f"play on string {self.place.string}"
        )

    def apply(self, lesson: Lesson) -> Lesson:
        at, note = find_note(lesson, self.measure, self.note)
        label = None if self.place is None else Label(self.place)
        if note.place == label:
            return lesson
        if self.place is not None:
            check_fret(lesson, self.measure, self.place.string, self.place.fret)
            if lesson.arrangement.instrument.midi_at(self.place) != note.pitch.midi:
                where = f"string {self.place.string}, fret {self.place.fret}"
                raise refuse(
                    lesson,
                    self.measure,
                    f"{where} does not sound {note.pitch}; choose a place that does.",
                )
        return put_measure(lesson, at.found, with_note(at, moved(note, note.pitch, label)))


class MoveToString(Struct, frozen=True):
    """Play a note on another string: at the fret there that sounds the same pitch."""

    measure: int
    note: int
    string: int

    @property
    def label(self) -> str:
        return f"move to string {self.string}"

    def apply(self, lesson: Lesson) -> Lesson:
        _, note = find_note(lesson, self.measure, self.note)
        place = lesson.arrangement.instrument.place_on(self.string, note.pitch.midi)
        if place is None:
            why = f"string {self.string} cannot sound {note.pitch}; choose another string."
            raise refuse(lesson, self.measure, why)
        return SetPlace(self.measure, self.note, place).apply(lesson)


class SetTie(Struct, frozen=True):
    """Tie the notes of an event to the next event of its voice, or take the ties off.

    `note` names one note of a chord; None ties all that have the same pitch in the next event.
    """

    measure: int
    event: int
    on: bool = True
    note: int | None = None

    @property
    def label(self) -> str:
        return "tie" if self.on else "take the tie off"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        wanted = [note for note in at.event.notes if self.note in (None, note.id)]
        if not wanted:
            raise refuse(lesson, self.measure, "a rest cannot be tied; choose a note.")
        if self.on:
            following = self._following(lesson, at)
            pitches = {note.pitch for note in following.notes} if following else set()
            wanted = [note for note in wanted if note.pitch in pitches]
            if not wanted:
                raise refuse(lesson, self.measure, self._why_not(at, following))
        chosen = {note.id for note in wanted}
        notes = tuple(
            structs.replace(note, tied=self.on) if note.id in chosen else note
            for note in at.event.notes
        )
        return put_measure(lesson, at.found, with_event(at, structs.replace(at.event, notes=notes)))

    def _why_not(self, at: At, following: Event | None) -> str:
        """Why nothing can be tied: what comes next instead of the same pitch."""
        names = " and ".join(str(n.pitch) for n in at.event.notes if self.note in (None, n.id))
        voice = VOICE_NAMES[at.voice]
        if following is None:
            return f"nothing follows {names} in {voice}; write the note it is tied to first."
        after = " and ".join(str(note.pitch) for note in following.notes) or "a rest"
        return f"the next of {voice} after {names} is {after}; a tie needs the same pitch next."

    @staticmethod
    def _following(lesson: Lesson, at: At) -> Event | None:
        later = [event for event in at.row[at.index + 1 :] if event.grace is None]
        if later:
            return later[0]
        section = lesson.arrangement.sections[at.found.section]
        rows = [m.voices for m in section.measures[at.found.index + 1 :][:1]]
        if not rows and at.found.section + 1 < len(lesson.arrangement.sections):
            rows = [lesson.arrangement.sections[at.found.section + 1].measures[0].voices]
        row = rows[0][at.voice] if rows and at.voice < len(rows[0]) else ()
        return next((event for event in row if event.grace is None), None)


class AddGrace(Struct, frozen=True):
    """Put a grace note with one sounding pitch before an event."""

    measure: int
    event: int
    pitch: Pitch
    value: Value = Value(Base.EIGHTH)
    slashed: bool = True

    @property
    def label(self) -> str:
        return "grace note"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        ids = Ids(lesson)
        note = Note(ids.take(), self.pitch)
        grace = Event(ids.take(), self.value, (note,), grace=Grace(self.slashed))
        row = (*at.row[: at.index], grace, *at.row[at.index :])
        return put_measure(lesson, at.found, with_events(at.found.measure, at.voice, row), ids)
