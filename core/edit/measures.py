"""Measures in and out: inserting, deleting, emptying, repeating, the same as another."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.edit.base import Found, Ids, find_measure, name_of, with_section
from core.edit.copying import copied_measure, copied_spans, copied_voices
from core.edit.mend import (
    check_length,
    mend_endings,
    mend_removed,
    mend_spans,
    put_measure,
)
from core.edit.ties import loosened
from core.model import EditRefused, Lesson, Measure, Section, Span
from core.model.validate import upper

MOST_AT_ONCE = 500


def replace_run(
    lesson: Lesson, found: Found, count: int, measures: tuple[Measure, ...], ids: Ids | None = None
) -> Lesson:
    """The lesson with `count` measures from `found` on replaced, and all that hung on them mended.

    A section left without measures goes.
    """
    section = lesson.arrangement.sections[found.section]
    row = section.measures
    original = row[found.index : found.index + count]
    updated = structs.replace(
        section, measures=(*row[: found.index], *measures, *row[found.index + count :])
    )
    kept = [_grown(mend_endings(section, updated), original, measures)] if updated.measures else []
    after = with_section(lesson, found.section, kept, ids)
    if kept:
        after = _loosened(after, found, row, updated)
    after = mend_spans(lesson, after, original, measures)
    gone = {measure.id for measure in original} - {measure.id for measure in measures}
    return check_length(mend_removed(after, gone) if gone else after)


def _loosened(
    lesson: Lesson, found: Found, original: tuple[Measure, ...], updated: Section
) -> Lesson:
    """The lesson without ties to measures of the section that are gone or elsewhere now."""
    row = lesson.arrangement.sections[found.section].measures
    first = max(0, found.index - 1)
    new = loosened(original[first:], updated.measures[first:])
    if all(a is b for a, b in zip(new, row[first:], strict=True)):
        return lesson
    section = lesson.arrangement.sections[found.section]
    section = structs.replace(section, measures=(*row[:first], *new))
    return with_section(lesson, found.section, [section])


def _grown(
    section: Section, original: tuple[Measure, ...], updated: tuple[Measure, ...]
) -> Section:
    """The section with an ending that ended with the last original measure ending with the new."""
    if not updated or updated[-1].id == original[-1].id:
        return section
    endings = tuple(
        structs.replace(e, last=updated[-1].id) if e.last == original[-1].id else e
        for e in section.endings
    )
    return structs.replace(section, endings=endings)


def run_of(lesson: Lesson, first: int, last: int) -> list[Found]:
    """The measures from one to another in written order; refused when they run backwards."""
    rows = [
        Found(section_index, index, measure)
        for section_index, section in enumerate(lesson.arrangement.sections)
        for index, measure in enumerate(section.measures)
    ]
    order = {found.measure.id: index for index, found in enumerate(rows)}
    if first not in order or last not in order:
        raise EditRefused("That measure is no longer there; choose another.")
    if order[first] > order[last]:
        names = name_of(lesson, last), name_of(lesson, first)
        raise EditRefused(f"Choose the measures in order: {names[0]} comes before {names[1]}.")
    return rows[order[first] : order[last] + 1]


class InsertMeasures(Struct, frozen=True):
    """Insert empty measures before or after one, in its metre and key."""

    measure: int
    count: int = 1
    where: Literal["before", "after"] = "after"

    @property
    def label(self) -> str:
        return "insert measure" if self.count == 1 else f"insert {self.count} measures"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        if not 1 <= self.count <= MOST_AT_ONCE:
            raise EditRefused(f"Insert 1 to {MOST_AT_ONCE} measures at a time.")
        metre, key = found.measure.metre, found.measure.key
        added = tuple(Measure(ids.take(), metre, key) for _ in range(self.count))
        run = (*added, found.measure) if self.where == "before" else (found.measure, *added)
        return replace_run(lesson, found, 1, run, ids)


class DeleteMeasures(Struct, frozen=True):
    """Delete the measures from one to another; what hung only on them goes with them."""

    first: int
    last: int

    @property
    def label(self) -> str:
        return "delete measure" if self.first == self.last else "delete measures"

    def apply(self, lesson: Lesson) -> Lesson:
        run = run_of(lesson, self.first, self.last)
        total = sum(len(section.measures) for section in lesson.arrangement.sections)
        if len(run) == total:
            raise EditRefused("The last measure cannot be deleted; empty it instead.")
        for section in sorted({found.section for found in run}, reverse=True):
            here = [found for found in run if found.section == section]
            lesson = replace_run(lesson, here[0], len(here), ())
        return lesson


class EmptyMeasure(Struct, frozen=True):
    """Take all notes and rests out of a measure; its metre, signs and marks stay."""

    measure: int

    @property
    def label(self) -> str:
        return "empty the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if not any(found.measure.voices):
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, voices=((),)))


class RepeatMeasure(Struct, frozen=True):
    """Write a measure once more after itself, with the spans that lie in it."""

    measure: int

    @property
    def label(self) -> str:
        return "repeat the measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        numbers: dict[int, int] = {}
        copy = copied_measure(found.measure, ids, numbers)
        copy = structs.replace(copy, signs=(), same_as=self.measure, counted=True)
        spans = copied_spans(lesson.arrangement.spans, ids, numbers)
        return with_spans(replace_run(lesson, found, 1, (found.measure, copy), ids), spans, ids)


class CopyMeasures(Struct, frozen=True):
    """Write copies of the measures from one to another after a measure, with the lines in them."""

    first: int
    last: int
    after: int

    @property
    def label(self) -> str:
        return "copy measures"

    def apply(self, lesson: Lesson) -> Lesson:
        run = run_of(lesson, self.first, self.last)
        found, ids = find_measure(lesson, self.after), Ids(lesson)
        numbers: dict[int, int] = {}
        copies = tuple(
            structs.replace(copied_measure(f.measure, ids, numbers), signs=(), same_as=f.measure.id)
            for f in run
        )
        spans = copied_spans(lesson.arrangement.spans, ids, numbers)
        return with_spans(replace_run(lesson, found, 1, (found.measure, *copies), ids), spans, ids)


class SameAs(Struct, frozen=True):
    """Write into a measure what another one has (notes, rests, fingers), and keep the link.

    `other` None drops the link; the music stays.
    """

    measure: int
    other: int | None

    @property
    def label(self) -> str:
        return "no longer the same" if self.other is None else "same as another measure"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        if self.other is None:
            return put_measure(lesson, found, structs.replace(found.measure, same_as=None))
        if self.other == self.measure:
            name = upper(name_of(lesson, self.measure))
            raise EditRefused(f"{name} cannot be the same as itself; name another measure.")
        model = find_measure(lesson, self.other).measure
        numbers: dict[int, int] = {}
        voices = copied_voices(model.voices, ids, numbers)
        measure = structs.replace(found.measure, voices=voices, same_as=self.other)
        spans = copied_spans(lesson.arrangement.spans, ids, numbers)
        return with_spans(put_measure(lesson, found, measure, ids), spans, ids)


def with_spans(lesson: Lesson, added: tuple[Span, ...], ids: Ids) -> Lesson:
    """The lesson with spans added."""
    if not added:
        return lesson
    spans = (*lesson.arrangement.spans, *added)
    arrangement = structs.replace(lesson.arrangement, spans=spans)
    next_id = max(ids.next, lesson.next_id)
    return structs.replace(lesson, arrangement=arrangement, next_id=next_id)
