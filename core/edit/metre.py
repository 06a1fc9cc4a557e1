"""What stands at the head and the end of measures: metre, key, length, count, barline, line."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from msgspec import Struct, structs

from core.edit.base import Found, find_measure, refuse
from core.edit.mend import put_measure, without_late_marks
from core.model import Key, Length, Lesson, Measure, Metre, Section
from core.model.time import TICKS_PER_WHOLE
from core.model.validate import LONGEST_MEASURE


class SetMetre(Struct, frozen=True):
    """Change the metre from a measure on, up to the next change of metre, or for it alone."""

    measure: int
    metre: Metre
    only: bool = False

    @property
    def label(self) -> str:
        return f"metre {self.metre}"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        former = found.measure.metre

        def change(measure: Measure) -> Measure:
            return without_late_marks(structs.replace(measure, metre=self.metre))

        if self.only:
            return put_measure(lesson, found, change(found.measure))
        return _from_on(lesson, found, lambda m: m.metre == former, change)


class SetKey(Struct, frozen=True):
    """Change the key from a measure on, up to the next change of key, or for it alone.

    The notes stay as they sound and are spelled; from the first measure on, the lesson's key
    changes with it.
    """

    measure: int
    key: Key
    only: bool = False

    @property
    def label(self) -> str:
        return f"key {self.key}"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        former = found.measure.key

        def change(measure: Measure) -> Measure:
            return structs.replace(measure, key=self.key)

        if self.only:
            return put_measure(lesson, found, change(found.measure))
        updated = _from_on(lesson, found, lambda m: m.key == former, change)
        if (found.section, found.index) != (0, 0) or updated.arrangement.key == self.key:
            return updated
        arrangement = structs.replace(updated.arrangement, key=self.key)
        return structs.replace(updated, arrangement=arrangement)


def _from_on(
    lesson: Lesson,
    found: Found,
    alike: Callable[[Measure], bool],
    change: Callable[[Measure], Measure],
) -> Lesson:
    """Change the measures from one on, as long as they are alike."""
    sections: list[Section] = list(lesson.arrangement.sections)
    going = True
    for index in range(found.section, len(sections)):
        row: list[Measure] = []
        for place, measure in enumerate(sections[index].measures):
            before = index == found.section and place < found.index
            going = going and (before or alike(measure))
            updated = change(measure) if going and not before else measure
            row.append(measure if updated == measure else updated)
        if any(a is not b for a, b in zip(row, sections[index].measures, strict=True)):
            sections[index] = structs.replace(sections[index], measures=tuple(row))
        if not going:
            break
    if all(a is b for a, b in zip(sections, lesson.arrangement.sections, strict=True)):
        return lesson
    arrangement = structs.replace(lesson.arrangement, sections=tuple(sections))
    return structs.replace(lesson, arrangement=arrangement)


class SetOwnLength(Struct, frozen=True):
    """Give a measure a length of its own (a pickup, the end of a repeat); None: its metre's."""

    measure: int
    length: Length | None

    @property
    def label(self) -> str:
        return "length of the metre" if self.length is None else f"length {self.length}"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        length = self.length
        if length is not None and not 0 < length.ticks <= LONGEST_MEASURE:
            most = LONGEST_MEASURE // TICKS_PER_WHOLE
            raise refuse(
                lesson, self.measure, f"a length is above 0 and at most {most} whole notes."
            )
        if length is not None and length.ticks == found.measure.metre.ticks:
            length = None
        if length == found.measure.own_length:
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, own_length=length))


class SetCounted(Struct, frozen=True):
    """Count a measure in the measure numbers, or not (a pickup, the second half of a split one)."""

    measure: int
    counted: bool

    @property
    def label(self) -> str:
        return "count the measure" if self.counted else "do not count the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if found.measure.counted == self.counted:
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, counted=self.counted))


class SetBarline(Struct, frozen=True):
    """Choose the barline after a measure; "" leaves it to the form."""

    measure: int
    barline: Literal["", "single", "double", "final", "dashed", "none"]

    @property
    def label(self) -> str:
        return f"{self.barline or 'usual'} barline"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if found.measure.barline == self.barline:
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, barline=self.barline))


class SetLineBreak(Struct, frozen=True):
    """Begin a line after a measure, or leave it to the page."""

    measure: int
    on: bool

    @property
    def label(self) -> str:
        return "line break" if self.on else "no line break"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if found.measure.line_break == self.on:
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, line_break=self.on))
