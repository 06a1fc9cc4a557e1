"""Tuning, capo and the guitar itself: keeping the pitches or keeping the places."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from msgspec import Struct, structs

from core.edit.mend import put_measures
from core.model import (
    EditRefused,
    Event,
    Fingering,
    Instrument,
    Label,
    Lesson,
    Measure,
    Note,
    OtherVersion,
    Pitch,
    Place,
    walk,
)

Voices = tuple[tuple[Event, ...], ...]


class Unplayable(Struct, frozen=True):
    """A note another tuning or capo cannot keep: where it is and what becomes of it."""

    measure: int
    note: int
    pitch: Pitch
    sentence: str


class SetInstrument(Struct, frozen=True):
    """Change tuning, capo, scale or anything else of the guitar.

    Keeping "pitches", every note sounds as before: it stays on its string where the fret allows,
    else goes to another free string, else its place is left open. Keeping "places", every fret
    and finger stays and the pitch changes; a place on a string that is gone is left open.
    `cannot_play` lists what is lost either way.
    """

    instrument: Instrument
    keep: Literal["pitches", "places"] = "pitches"

    @property
    def label(self) -> str:
        return f"change the guitar, keeping {self.keep}"

    def apply(self, lesson: Lesson) -> Lesson:
        former = lesson.arrangement.instrument
        if former == self.instrument:
            return lesson
        if self.instrument.highest_fret - self.instrument.capo < 1:
            raise EditRefused("With that capo no fret is left to play; set it lower.")
        if not 1 <= self.instrument.highest_fret <= 24:
            raise EditRefused("A guitar has 1 to 24 frets.")
        arrangement = structs.replace(lesson.arrangement, instrument=self.instrument)
        updated = structs.replace(lesson, arrangement=arrangement)
        same_tuning = (former.strings, former.capo) == (
            self.instrument.strings,
            self.instrument.capo,
        )
        if same_tuning:
            return updated
        measures = walk.measures(lesson.arrangement)
        return put_measures(updated, {m.id: self._measure(m, former) for m in measures})

    def cannot_play(self, lesson: Lesson) -> tuple[Unplayable, ...]:
        """The notes that have a place and would lose it, in written order, other versions too."""
        updated = self.apply(lesson)
        lost: list[Unplayable] = []
        numbers = walk.numbers(lesson.arrangement)
        for before, after in zip(
            walk.measures(lesson.arrangement), walk.measures(updated.arrangement), strict=True
        ):
            kept = {note.id: note for event in walk.all_events(after) for note in event.notes}
            name = walk.called(numbers[before.id])
            for note in (note for event in walk.all_events(before) for note in event.notes):
                if note.place is not None and kept[note.id].place is None:
                    sentence = f"In {name} {note.pitch} has no place in this tuning."
                    lost.append(Unplayable(before.id, note.id, note.pitch, sentence))
        return tuple(lost)

    def _measure(self, measure: Measure, former: Instrument) -> Measure:
        voices = self._voices(measure.voices, measure, former)
        others = tuple(
            OtherVersion(other.purpose, self._voices(other.voices, measure, former))
            for other in measure.others
        )
        if voices == measure.voices and others == measure.others:
            return measure
        return structs.replace(measure, voices=voices, others=others)

    def _voices(self, voices: Voices, measure: Measure, former: Instrument) -> Voices:
        """The voices with every note mapped; no note takes a string on which another sounds."""
        held: list[tuple[int, int, int]] = [
            (onset, onset + event.ticks, note.place.value.string)
            for row in voices
            for onset, event in _timed(row)
            for note in event.notes
            if note.place is not None and self._stays(note.place.value, former)
        ]
        rows: list[tuple[Event, ...]] = []
        for row in voices:
            events: list[Event] = []
            for onset, event in _timed(row):
                end = onset + max(event.ticks, 1)
                taken = {string for start, stop, string in held if start < end and onset < stop}
                here = set(taken)
                notes = tuple(self._note(note, measure, former, here) for note in event.notes)
                held += [(onset, onset + event.ticks, string) for string in here - taken]
                same = all(a is b for a, b in zip(notes, event.notes, strict=True))
                events.append(event if same else structs.replace(event, notes=notes))
            rows.append(tuple(events))
        return tuple(rows)

    def _note(self, note: Note, measure: Measure, former: Instrument, taken: set[int]) -> Note:
        if note.place is None:
            return note
        if self.keep == "places":
            return self._same_place(note, measure, former)
        return self._same_pitch(note, former, taken)

    def _same_place(self, note: Note, measure: Measure, former: Instrument) -> Note:
        assert note.place is not None
        place = note.place.value
        if place.string > len(self.instrument.strings) or self._too_high(place):
            return _unplaced(note)
        shift = self.instrument.open_midi(place.string) - former.open_midi(place.string)
        if shift == 0:
            return note
        midi = note.pitch.midi + shift
        if note.harmonic is None:
            midi = self.instrument.midi_at(place)
        pitch = Pitch.from_midi(midi, measure.key)
        return structs.replace(note, pitch=pitch, alternative=_finger_only(note.alternative))

    def _same_pitch(self, note: Note, former: Instrument, taken: set[int]) -> Note:
        assert note.place is not None
        place = note.place.value
        if self._stays(place, former):
            return note
        if note.harmonic is not None:
            return _unplaced(note)
        possible = [p for p in self.instrument.places(note.pitch.midi) if p.string not in taken]
        possible.sort(key=lambda p: (p.string != place.string, abs(p.fret - place.fret)))
        if not possible:
            return _unplaced(note)
        taken.add(possible[0].string)
        finger = note.finger if possible[0].string == place.string else None
        if finger is not None and (possible[0].fret == 0) != (place.fret == 0):
            finger = None
        return structs.replace(
            note,
            place=Label(possible[0], note.place.origin),
            finger=finger,
            substitute=note.substitute if finger else None,
            alternative=_finger_only(note.alternative),
        )

    def _stays(self, place: Place, former: Instrument) -> bool:
        """Whether the place is there and sounds as before."""
        if place.string > len(self.instrument.strings) or self._too_high(place):
            return False
        return self.instrument.open_midi(place.string) == former.open_midi(place.string)

    def _too_high(self, place: Place) -> bool:
        return place.fret > self.instrument.highest_fret - self.instrument.capo


def _unplaced(note: Note) -> Note:
    return structs.replace(
        note, place=None, finger=None, substitute=None, harmonic=None, circled=False,
        alternative=_finger_only(note.alternative),
    )  # fmt: skip


def _finger_only(alternative: Fingering | None) -> Fingering | None:
    """An alternative without its place, which no longer sounds the pitch."""
    if alternative is None or alternative.place is None:
        return alternative
    kept = structs.replace(alternative, place=None)
    return kept if kept.finger or kept.reason else None


def _timed(row: tuple[Event, ...]) -> Iterator[tuple[int, Event]]:
    """The events of a voice with their onsets in ticks."""
    onset = 0
    for event in row:
        yield onset, event
        onset += event.ticks


def set_tuning(lesson: Lesson, strings: tuple[Pitch, ...], keep: str = "pitches") -> SetInstrument:
    """The command that tunes the lesson's guitar otherwise."""
    instrument = structs.replace(lesson.arrangement.instrument, strings=strings)
    return SetInstrument(instrument, keep)  # type: ignore[arg-type]


def set_capo(lesson: Lesson, capo: int, keep: str = "places") -> SetInstrument:
    """The command that moves the capo; a sentence instead of a ValueError for an odd fret."""
    if not 0 <= capo <= 12:
        raise EditRefused(f"A capo stands at fret 0 (none) to 12, not {capo}.")
    instrument = structs.replace(lesson.arrangement.instrument, capo=capo)
    return SetInstrument(instrument, keep)  # type: ignore[arg-type]
