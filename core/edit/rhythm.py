"""Time: values, dots, tuplets, rests, deleting events, completing and trimming measures."""

from __future__ import annotations

from math import prod

from msgspec import Struct, structs

from core.edit.base import At, Ids, check_voice, find_event, find_measure, refuse, with_events
from core.edit.mend import put_measure, without_late_marks
from core.edit.notes import CANNOT_CUT, Spot, place_row, silenced
from core.edit.rows import Mode, Pen, Row, Uncuttable, cut_to, fill, rests, row_ticks, set_value
from core.model import Base, Event, Lesson, Measure, Value


class InsertRest(Struct, frozen=True):
    """Put a rest at (measure, voice, tick): over what is there, or pushing it on."""

    measure: int
    voice: int
    tick: int
    value: Value
    mode: Mode = "overwrite"
    hidden: bool = False

    @property
    def label(self) -> str:
        return "rest"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        check_voice(lesson, self.measure, self.voice)
        if self.tick < 0:
            raise refuse(
                lesson, self.measure, "there is no moment before its start; choose one inside it."
            )
        ids = Ids(lesson)
        rest = Event(ids.take(), self.value, hidden=self.hidden)
        measure = found.measure
        row = place_row(lesson, measure, (rest,), Spot(self.voice, self.tick, self.mode), ids)
        return put_measure(lesson, found, with_events(measure, self.voice, row), ids)


class TurnToRest(Struct, frozen=True):
    """Make a rest of an event; its time stays."""

    measure: int
    event: int

    @property
    def label(self) -> str:
        return "make a rest"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        if at.event.grace is not None:
            return DeleteEvent(self.measure, self.event).apply(lesson)
        if at.event.is_rest:
            return lesson
        return _put(lesson, at, (silenced(at.event),))


class DeleteEvent(Struct, frozen=True):
    """Take an event out; what follows in the voice moves up."""

    measure: int
    event: int

    @property
    def label(self) -> str:
        return "delete"

    def apply(self, lesson: Lesson) -> Lesson:
        return _put(lesson, find_event(lesson, self.measure, self.event), ())


class HideRest(Struct, frozen=True):
    """Hide a rest (its time stays as a gap) or show it; `line` places it in steps above the middle
    line, None leaves its height to the page."""

    measure: int
    event: int
    hidden: bool = False
    line: int | None = None

    @property
    def label(self) -> str:
        return "hide the rest" if self.hidden else "place the rest"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        if not at.event.is_rest:
            raise refuse(lesson, self.measure, "that is a note; only rests can be hidden.")
        if self.line is not None and not -12 <= self.line <= 12:
            raise refuse(lesson, self.measure, "a rest stands at most 12 steps from the middle.")
        if (at.event.hidden, at.event.rest_line) == (self.hidden, self.line):
            return lesson
        return _put(
            lesson, at, (structs.replace(at.event, hidden=self.hidden, rest_line=self.line),)
        )


class SetValue(Struct, frozen=True):
    """Give an event another written value.

    Overwriting keeps the other events of the voice at their time; inserting moves them along.
    """

    measure: int
    event: int
    value: Value
    mode: Mode = "overwrite"

    @property
    def label(self) -> str:
        return f"value {self.value.base.value}{'.' * self.value.dots}"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        if at.event.value == self.value:
            return lesson
        ids, metre = Ids(lesson), at.found.measure.metre
        try:
            row = set_value(at.row, at.index, self.value, self.mode, Pen(metre, ids))
        except Uncuttable:
            raise refuse(lesson, self.measure, CANNOT_CUT) from None
        return put_measure(lesson, at.found, with_events(at.found.measure, at.voice, row), ids)


class ToggleDot(Struct, frozen=True):
    """Dot an event's value, or take its dots off."""

    measure: int
    event: int
    mode: Mode = "overwrite"

    @property
    def label(self) -> str:
        return "dot"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        value = at.event.value
        try:
            other = Value(value.base, 0 if value.dots else 1, value.tuplets)
        except ValueError:
            raise refuse(
                lesson, self.measure, "that value cannot take a dot; choose a longer one."
            ) from None
        return SetValue(self.measure, self.event, other, self.mode).apply(lesson)


class MakeTuplet(Struct, frozen=True):
    """Divide the time of an event into `actual` notes in the time of `normal`: 3 for 2 by default.

    The event becomes the first of them, rests follow to be filled.
    """

    measure: int
    event: int
    actual: int = 3
    normal: int = 2

    @property
    def label(self) -> str:
        return {2: "duplet", 3: "triplet", 4: "quadruplet", 5: "quintuplet"}.get(
            self.actual, f"tuplet of {self.actual}"
        )

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        if at.event.grace is not None:
            raise refuse(
                lesson,
                self.measure,
                "a grace note has no time to divide; choose the note after it.",
            )
        value = self._part(at.event.value)
        if value is None:
            why = (
                f"a {at.event.value.base.value} note cannot be divided {self.actual}:{self.normal}."
            )
            raise refuse(lesson, self.measure, why)
        ids = Ids(lesson)
        others = tuple(Event(ids.take(), value) for _ in range(self.actual - 1))
        return _put(lesson, at, (structs.replace(at.event, value=value), *others), ids)

    def _part(self, value: Value) -> Value | None:
        if not (2 <= self.actual <= 16 and 1 <= self.normal <= 16):
            return None
        for base in Base:
            plain = Value(base, 0, value.tuplets)
            if plain.ticks * self.normal == value.ticks:
                try:
                    return Value(base, 0, (*value.tuplets, (self.actual, self.normal)))
                except ValueError:
                    return None
        return None


class DropTuplet(Struct, frozen=True):
    """Make one plain event again of the tuplet an event belongs to; its first notes stay."""

    measure: int
    event: int

    @property
    def label(self) -> str:
        return "drop the tuplet"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        if not at.event.value.tuplets:
            raise refuse(lesson, self.measure, "that note is in no tuplet; choose one that is.")
        first, last = tuplet_run(at.row, at.index)
        start = row_ticks(at.row[:first])
        length = row_ticks(at.row[first:last])
        metre, ids = at.found.measure.metre, Ids(lesson)
        try:
            values = fill(start, start + length, metre)
        except Uncuttable:
            values = ()
        if not values:
            raise refuse(lesson, self.measure, "that tuplet is not complete; fill it first.")
        kept = structs.replace(at.row[first], value=values[0])
        rest = tuple(Event(ids.take(), value) for value in values[1:])
        row = (*at.row[:first], kept, *rest, *at.row[last:])
        return put_measure(lesson, at.found, with_events(at.found.measure, at.voice, row), ids)


def tuplet_run(row: Row, index: int) -> tuple[int, int]:
    """The events (first, one past the last) of the outermost tuplet around an event.

    A tuplet is full when its time is a whole number of `normal` of the smallest value in it; one
    that never gets full ends with the last event of the same ratio.
    """
    ratio = row[index].value.tuplets[0]
    first = index
    while first and row[first - 1].value.tuplets[:1] == (ratio,):
        first -= 1
    last, total, units = first, 0, []
    while last < len(row) and row[last].value.tuplets[:1] == (ratio,):
        value = row[last].value
        units.append(value.base.ticks * prod(normal for _, normal in value.tuplets[1:]))
        total += row[last].ticks
        last += 1
        if total % (ratio[1] * min(units)) == 0:
            if index < last:
                break
            first, total, units = last, 0, []
    return first, last


class CompleteMeasure(Struct, frozen=True):
    """Fill what is missing in the voices of a measure with rests.

    `voice` None completes every voice that has something in it (the first one always).
    """

    measure: int
    voice: int | None = None

    @property
    def label(self) -> str:
        return "complete the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if self.voice is not None:
            check_voice(lesson, self.measure, self.voice)
        measure, ids = found.measure, Ids(lesson)
        how_many = max(len(measure.voices), (self.voice or 0) + 1)
        for voice in range(how_many):
            row = measure.voices[voice] if voice < len(measure.voices) else ()
            wanted = voice == self.voice if self.voice is not None else bool(row) or voice == 0
            if wanted and row_ticks(row) < measure.ticks:
                measure = with_events(measure, voice, self._filled(lesson, measure, row, ids))
        return put_measure(lesson, found, measure, ids)

    @staticmethod
    def _filled(lesson: Lesson, measure: Measure, row: Row, ids: Ids) -> Row:
        stacks = [event.value for event in row[-1:]]
        try:
            added = rests(row_ticks(row), measure.ticks, Pen(measure.metre, ids), stacks)
        except Uncuttable:
            raise refuse(
                lesson, measure.id, "what is missing fits no rest; change or delete a tuplet first."
            ) from None
        return (*row, *added)


class TrimMeasure(Struct, frozen=True):
    """Cut what is too much in the voices of a measure; a note across its end is shortened."""

    measure: int

    @property
    def label(self) -> str:
        return "trim the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        measure, ids = found.measure, Ids(lesson)
        if measure.length_ticks == measure.ticks:
            return lesson
        try:
            rows = tuple(
                cut_to(row, measure.ticks, Pen(measure.metre, ids))
                if row_ticks(row) > measure.ticks
                else row
                for row in measure.voices
            )
        except Uncuttable:
            raise refuse(lesson, self.measure, CANNOT_CUT) from None
        trimmed = without_late_marks(structs.replace(measure, voices=rows))
        return put_measure(lesson, found, trimmed, ids)


def _put(lesson: Lesson, at: At, events: Row, ids: Ids | None = None) -> Lesson:
    """The lesson with one event replaced by others."""
    row = (*at.row[: at.index], *events, *at.row[at.index + 1 :])
    return put_measure(lesson, at.found, with_events(at.found.measure, at.voice, row), ids)
