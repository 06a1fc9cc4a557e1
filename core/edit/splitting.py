"""Splitting a measure in two and joining two into one."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import Ids, find_measure, refuse
from core.edit.measures import replace_run
from core.edit.mend import without_late_marks
from core.edit.rows import Pen, Row, Uncuttable, rests, row_ticks, split
from core.model import Length, Lesson, Measure
from core.model.validate import LONGEST_MEASURE


class SplitMeasure(Struct, frozen=True):
    """Split a measure at a tick; the second half is uncounted unless it is a measure of its own."""

    measure: int
    tick: int
    counted: bool = False

    @property
    def label(self) -> str:
        return "split the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        measure = found.measure
        if not 0 < self.tick < measure.length_ticks or self.tick >= measure.ticks:
            raise refuse(
                lesson,
                self.measure,
                "there is no such moment to split at; choose one between its notes.",
            )
        first: list[Row] = []
        second: list[Row] = []
        for row in measure.voices:
            head, tail = self._halves(lesson, row, Pen(measure.metre, ids))
            first.append(head)
            second.append(tail)
        start = Length(self.tick)
        early = tuple(mark for mark in measure.marks if mark.at.ticks < self.tick)
        late = tuple(
            structs.replace(mark, at=Length(mark.at.ticks - self.tick))
            for mark in measure.marks
            if mark.at.ticks >= self.tick
        )
        opening = tuple(s for s in measure.signs if s.kind in ("segno", "coda"))
        closing = tuple(s for s in measure.signs if s.kind not in ("segno", "coda"))
        head_measure = structs.replace(
            measure, voices=tuple(first), own_length=start, marks=early, signs=opening, barline="",
            line_break=False, others=(), same_as=None,
        )  # fmt: skip
        tail_measure = Measure(
            ids.take(), measure.metre, measure.key, tuple(second), late, closing,
            Length(measure.ticks - self.tick), self.counted, measure.barline, measure.line_break,
        )  # fmt: skip
        halves = head_measure, without_late_marks(tail_measure)
        return replace_run(lesson, found, 1, halves, ids)

    def _halves(self, lesson: Lesson, row: Row, pen: Pen) -> tuple[Row, Row]:
        onset = 0
        for index, event in enumerate(row):
            if onset >= self.tick:
                return row[:index], row[index:]
            if onset + event.ticks > self.tick:
                return self._cut(lesson, row, index, pen)
            onset += event.ticks
        return row, ()

    def _cut(self, lesson: Lesson, row: Row, index: int, pen: Pen) -> tuple[Row, Row]:
        """Cut an event that lasts across the moment into two tied ones."""
        event, onset = row[index], row_ticks(row[:index])
        off = onset + event.ticks
        try:
            head = split(event, onset, self.tick, pen)
            later = structs.replace(
                event,
                id=pen.ids.take(),
                marks=(),
                notes=tuple(structs.replace(note, id=pen.ids.take()) for note in event.notes),
            )
            tail = split(later, 0, off - self.tick, pen)
        except Uncuttable:
            raise refuse(
                lesson, self.measure, "a tuplet lasts across that moment; split before or after it."
            ) from None
        held = tuple(structs.replace(note, tied=True) for note in head[-1].notes)
        head = (*head[:-1], structs.replace(head[-1], notes=held))
        return (*row[:index], *head), (*tail, *row[index + 1 :])


class JoinMeasures(Struct, frozen=True):
    """Join a measure with the next one of its section into one measure."""

    measure: int

    @property
    def label(self) -> str:
        return "join measures"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        section = lesson.arrangement.sections[found.section]
        if found.index + 1 == len(section.measures):
            why = "its section ends; join the sections first."
            raise refuse(lesson, self.measure, why)
        first, second = found.measure, section.measures[found.index + 1]
        if first.ticks + second.ticks > LONGEST_MEASURE:
            raise refuse(
                lesson,
                self.measure,
                "the music would be longer than 64 whole notes; split it elsewhere first.",
            )
        ends = {ending.last for ending in section.endings}
        if first.id in ends or second.id in {ending.first for ending in section.endings}:
            raise refuse(lesson, self.measure, "an ending begins or ends; take it off first.")
        joined = self._joined(lesson, first, second, ids)
        return replace_run(lesson, found, 2, (joined,), ids)

    def _joined(self, lesson: Lesson, first: Measure, second: Measure, ids: Ids) -> Measure:
        rows: list[Row] = []
        for voice in range(max(len(first.voices), len(second.voices))):
            head = first.voices[voice] if voice < len(first.voices) else ()
            tail = second.voices[voice] if voice < len(second.voices) else ()
            if row_ticks(head) > first.ticks and tail:
                raise refuse(lesson, self.measure, "there is too much in it; trim it first.")
            if row_ticks(head) < first.ticks and tail:
                try:
                    head = (
                        *head,
                        *rests(row_ticks(head), first.ticks, Pen(first.metre, ids)),
                    )
                except Uncuttable:
                    raise refuse(
                        lesson,
                        self.measure,
                        "what is missing fits no rest; change or delete a tuplet first.",
                    ) from None
            rows.append((*head, *tail))
        length = first.ticks + second.ticks
        late = tuple(
            structs.replace(mark, at=Length(mark.at.ticks + first.ticks)) for mark in second.marks
        )
        return structs.replace(
            first, voices=tuple(rows), marks=(*first.marks, *late),
            signs=(*first.signs, *second.signs), barline=second.barline,
            own_length=None if length == first.metre.ticks else Length(length),
            line_break=second.line_break, others=(), same_as=None,
        )  # fmt: skip
