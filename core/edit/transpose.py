"""Transposing selected music: by semitones, by octaves, or along the key."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import by_pitch, find_measure, map_events, refuse
from core.edit.clip import Selection, selected
from core.edit.mend import put_measures
from core.edit.notes import moved
from core.model import EditRefused, Event, Instrument, Key, Label, Lesson, Measure, Note, Pitch
from core.model.pitch import STEPS


class Transpose(Struct, frozen=True):
    """Move selected notes by semitones, spelled by the key; whole octaves keep their spelling.

    A note stays on its string where there is such a fret, else its place is left open.
    With `along_key` the figure counts steps of the key instead (2 is a third up).
    """

    what: Selection
    by: int
    along_key: bool = False

    @property
    def label(self) -> str:
        if not self.along_key and self.by in (12, -12):
            return "octave up" if self.by > 0 else "octave down"
        return "transpose"

    def apply(self, lesson: Lesson) -> Lesson:
        if not -48 <= self.by <= 48:
            raise EditRefused("Transpose by at most 48 semitones or steps at a time.")
        chosen: dict[int, set[int]] = {}
        for found, voice, index, _ in selected(lesson, self.what):
            event = found.measure.voices[voice][index]
            if event.notes:
                chosen.setdefault(found.measure.id, set()).add(event.id)
        if not chosen:
            raise EditRefused("No note is selected; select notes first.")
        if self.by == 0:
            return lesson
        changed: dict[int, Measure] = {}
        for number, events in chosen.items():
            measure = find_measure(lesson, number).measure
            try:
                changed[number] = self._measure(measure, events, lesson.arrangement.instrument)
            except ValueError:
                raise refuse(
                    lesson, number, "a note would be out of all range; transpose by less."
                ) from None
        return put_measures(lesson, changed)

    def _measure(self, measure: Measure, events: set[int], instrument: Instrument) -> Measure:
        def change(event: Event) -> Event:
            if event.id not in events:
                return event
            notes = by_pitch([self._note(note, measure.key, instrument) for note in event.notes])
            return structs.replace(event, notes=notes)

        return map_events(measure, change)

    def _note(self, note: Note, key: Key, instrument: Instrument) -> Note:
        pitch = transposed(note.pitch, key, self.by, self.along_key)
        if note.place is None or note.harmonic:
            return moved(note, pitch, None)
        place = instrument.place_on(note.place.value.string, pitch.midi)
        return moved(note, pitch, None if place is None else Label(place, note.place.origin))


def transposed(pitch: Pitch, key: Key, by: int, along_key: bool = False) -> Pitch:
    """A pitch moved by semitones, spelled by the key, or by steps of the key with what raises it.

    Whole octaves keep their spelling. Raises ValueError outside of all range.
    """
    if along_key:
        octave, index = divmod(pitch.diatonic + by, 7)
        step = STEPS[index]
        raised = pitch.alter - key.alter_of(pitch.step)
        return Pitch(step, key.alter_of(step) + raised, octave)
    if by % 12 == 0:
        return Pitch(pitch.step, pitch.alter, pitch.octave + by // 12)
    return Pitch.from_midi(pitch.midi + by, key)
