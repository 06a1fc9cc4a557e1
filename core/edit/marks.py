"""Signs of events and measures: fermata and its kin, chord shapes, text, tempo, positions."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import find_event, find_measure, refuse, with_event
from core.edit.mend import put_measure
from core.model import (
    Articulation,
    ChordMark,
    ChordShape,
    Dynamic,
    Event,
    EventMark,
    Fermata,
    Lesson,
    Measure,
    MeasureMark,
    PositionMark,
    TempoMark,
    TextMark,
    walk,
)
from core.model.notes import Arpeggio

DYNAMICS = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "sf", "sfz", "fp", "rf")


def words_of(mark: EventMark) -> str:
    """What the undo menu calls a mark of an event."""
    if isinstance(mark, Articulation):
        return mark.kind
    if isinstance(mark, Dynamic):
        return mark.text
    if isinstance(mark, Arpeggio):
        return "roll" if mark.roll else "broken chord"
    return "fermata" if isinstance(mark, Fermata) else mark.kind


def same_slot(mark: EventMark, other: EventMark) -> bool:
    """Whether an event can have only one of the two: one dynamic, one of each articulation."""
    if isinstance(mark, Articulation) and isinstance(other, Articulation):
        return mark.kind == other.kind
    return type(mark) is type(other)


class SetMark(Struct, frozen=True):
    """Put a mark on an event, in place of one of its kind; `on` False takes it off."""

    measure: int
    event: int
    mark: EventMark
    on: bool = True

    @property
    def label(self) -> str:
        return words_of(self.mark) + ("" if self.on else " off")

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        self._check(lesson, at.event)
        kept = tuple(mark for mark in at.event.marks if not same_slot(mark, self.mark))
        marks = (*kept, self.mark) if self.on else kept
        if (self.on and self.mark in at.event.marks) or marks == at.event.marks:
            return lesson
        return put_measure(lesson, at.found, with_event(at, structs.replace(at.event, marks=marks)))

    def _check(self, lesson: Lesson, event: Event) -> None:
        mark = self.mark
        if isinstance(mark, Fermata) and not 100 <= mark.hold_percent <= 1000:
            raise refuse(lesson, self.measure, "a fermata holds 100 to 1000 percent of the value.")
        if isinstance(mark, Dynamic) and mark.text not in DYNAMICS:
            raise refuse(
                lesson, self.measure, f"{mark.text!r} is no dynamic; write one such as p or mf."
            )
        stops = isinstance(mark, Articulation) and mark.kind == "damp"
        if self.on and event.is_rest and not stops and isinstance(mark, Articulation | Arpeggio):
            raise refuse(lesson, self.measure, f"a rest takes no {words_of(mark)}.")


class ToggleMark(Struct, frozen=True):
    """Put a mark on an event, or take it off where it stands already."""

    measure: int
    event: int
    mark: EventMark

    @property
    def label(self) -> str:
        return words_of(self.mark)

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        there = any(same_slot(mark, self.mark) for mark in at.event.marks)
        return SetMark(self.measure, self.event, self.mark, not there).apply(lesson)


class ToggleFermata(Struct, frozen=True):
    """A fermata on every voice at the onset of an event, or off all of them (red pen S4)."""

    measure: int
    event: int
    fermata: Fermata = Fermata()

    @property
    def label(self) -> str:
        return "fermata"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        on = not any(isinstance(mark, Fermata) for mark in at.event.marks)
        together = [
            located.event.id
            for located in walk.events(at.found.measure)
            if located.onset == at.onset and located.event.grace is None
        ]
        for number in {self.event, *together}:
            lesson = SetMark(self.measure, number, self.fermata, on).apply(lesson)
        return lesson


# ------------------------------------------------------------------------------ above a measure


class AddMeasureMark(Struct, frozen=True):
    """Put a mark above a measure: tempo, text, chord shape or position numeral.

    One of its kind at the same moment is replaced (texts stand beside each other).
    """

    measure: int
    mark: MeasureMark

    @property
    def label(self) -> str:
        return measure_mark_words(self.mark)

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        check_measure_mark(lesson, found.measure, self.mark)
        if self.mark in found.measure.marks:
            return lesson
        kept = tuple(mark for mark in found.measure.marks if not self._replaces(mark))
        marks = tuple(sorted((*kept, self.mark), key=lambda mark: mark.at.ticks))
        return put_measure(lesson, found, structs.replace(found.measure, marks=marks))

    def _replaces(self, mark: MeasureMark) -> bool:
        same = type(mark) is type(self.mark) and mark.at == self.mark.at
        return same and not isinstance(mark, TextMark)


class RemoveMeasureMark(Struct, frozen=True):
    """Take a mark off a measure."""

    measure: int
    mark: MeasureMark

    @property
    def label(self) -> str:
        return f"{measure_mark_words(self.mark)} off"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        marks = list(found.measure.marks)
        if self.mark not in marks:
            raise refuse(lesson, self.measure, "that mark is no longer there; choose another.")
        marks.remove(self.mark)
        return put_measure(lesson, found, structs.replace(found.measure, marks=tuple(marks)))


class ChangeMeasureMark(Struct, frozen=True):
    """Change a mark of a measure into another one, or move it."""

    measure: int
    mark: MeasureMark
    other: MeasureMark

    @property
    def label(self) -> str:
        return measure_mark_words(self.other)

    def apply(self, lesson: Lesson) -> Lesson:
        removed = RemoveMeasureMark(self.measure, self.mark).apply(lesson)
        return AddMeasureMark(self.measure, self.other).apply(removed)


def measure_mark_words(mark: MeasureMark) -> str:
    """What the undo menu calls a mark of a measure."""
    if isinstance(mark, ChordMark):
        return f"chord {mark.shape.name}".strip()
    if isinstance(mark, TempoMark):
        return "tempo mark"
    return "text" if isinstance(mark, TextMark) else "position"


def check_measure_mark(lesson: Lesson, measure: Measure, mark: MeasureMark) -> None:
    """Refuse a mark that cannot stand in the measure."""
    if mark.at.ticks > measure.length_ticks:
        raise refuse(lesson, measure.id, "there is no such moment; choose one inside it.")
    if isinstance(mark, TextMark) and not mark.text.strip():
        raise refuse(lesson, measure.id, "a text needs at least one letter.")
    if isinstance(mark, TempoMark):
        _check_tempo(lesson, measure, mark)
    if isinstance(mark, PositionMark) and not 1 <= mark.fret <= 24:
        raise refuse(lesson, measure.id, f"there is no position {mark.fret}; they are 1 to 24.")
    if isinstance(mark, ChordMark):
        _check_shape(lesson, measure, mark.shape)


def _check_tempo(lesson: Lesson, measure: Measure, mark: TempoMark) -> None:
    if mark.per_minute is not None and not 5 <= mark.per_minute <= 600:
        raise refuse(lesson, measure.id, "a tempo is 5 to 600 a minute.")
    if (mark.per_minute is None) != (mark.beat is None):
        raise refuse(lesson, measure.id, "a metronome mark needs both a beat and a figure.")
    if not mark.text.strip() and mark.per_minute is None and not mark.effect:
        raise refuse(lesson, measure.id, "a tempo mark needs words or a figure.")


def _check_shape(lesson: Lesson, measure: Measure, shape: ChordShape) -> None:
    strings = len(lesson.arrangement.instrument.strings)
    if len(shape.frets) != strings:
        why = f"a chord shape needs a fret for each of the {strings} strings."
        raise refuse(lesson, measure.id, why)
    if shape.fingers and len(shape.fingers) != strings:
        raise refuse(lesson, measure.id, "a chord shape needs a finger for each string or none.")
    if any(fret is not None and not 0 <= fret <= 24 for fret in shape.frets):
        raise refuse(lesson, measure.id, "a chord shape has a fret that is not on the guitar.")
    if not 1 <= shape.first_fret <= 24:
        raise refuse(lesson, measure.id, "a chord shape is drawn from fret 1 to 24.")
    barre = shape.barre
    if barre is not None and not (
        1 <= barre.to_string <= barre.from_string <= strings and 1 <= barre.fret <= 24
    ):
        raise refuse(lesson, measure.id, "the barre of the chord shape is not on the guitar.")
