"""After an edit: what pointed to something that is gone is mended, or goes with it."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import structs

from core.edit.base import Found, Ids, name_of, with_measure, with_sections
from core.edit.ties import loosened
from core.model import (
    EditRefused,
    Ending,
    Lesson,
    Measure,
    Section,
    Span,
    walk,
)
from core.model.form import NOTE_SPANS
from core.model.roadmap import MOST_OCCURRENCES, most_played
from core.model.validate import LONGEST_MEASURE, upper

NEEDS_TWO_ENDS = (NOTE_SPANS - {"string"}) | {"slur"}


def put_measure(lesson: Lesson, found: Found, measure: Measure, ids: Ids | None = None) -> Lesson:
    """The lesson with one measure replaced, and what hung on its former content mended.

    Marks after the new end go, ties that lost their other note are taken off, spans move their
    ends to what is left in the voice or go. Raises EditRefused for a measure grown too long.
    """
    if measure is found.measure:
        return lesson
    measure = _checked(lesson, measure)
    before, after = _neighbours(lesson, found)
    first = None if before is None else before.measure
    row = [m for m in (first, found.measure, after) if m is not None]
    new = loosened(row, [measure if m is found.measure else m for m in row])
    place = 0 if before is None else 1
    updated = with_measure(lesson, found, new[place], ids)
    if before is not None and new[0] is not before.measure:
        updated = with_measure(updated, before, new[0])
    return mend_spans(lesson, updated, [found.measure], [new[place]])


def put_measures(lesson: Lesson, changed: dict[int, Measure], ids: Ids | None = None) -> Lesson:
    """The lesson with several measures (by id) replaced at once, mended as by `put_measure`."""
    row = list(walk.measures(lesson.arrangement))
    new = loosened(row, [_checked(lesson, changed.get(m.id, m)) for m in row])
    present = {measure.id: measure for measure in new}
    sections = [
        section
        if all(present[m.id] is m for m in section.measures)
        else structs.replace(section, measures=tuple(present[m.id] for m in section.measures))
        for section in lesson.arrangement.sections
    ]
    if all(a is b for a, b in zip(sections, lesson.arrangement.sections, strict=True)):
        return lesson
    original = [measure for measure in row if measure.id in changed]
    updated = with_sections(lesson, sections, ids)
    return mend_spans(lesson, updated, original, [present[m.id] for m in original])


def _checked(lesson: Lesson, measure: Measure) -> Measure:
    if measure.length_ticks > LONGEST_MEASURE:
        name = name_of(lesson, measure.id)
        raise EditRefused(f"{upper(name)} would be longer than 64 whole notes; split it first.")
    return without_late_marks(measure)


def _neighbours(lesson: Lesson, found: Found) -> tuple[Found | None, Measure | None]:
    """The measures before and after one."""
    before = measure_before(lesson, found)
    sections = lesson.arrangement.sections
    row = sections[found.section].measures
    if found.index + 1 < len(row):
        return before, row[found.index + 1]
    later = found.section + 1 < len(sections)
    return before, sections[found.section + 1].measures[0] if later else None


def measure_before(lesson: Lesson, found: Found) -> Found | None:
    """Where the measure before one is."""
    sections = lesson.arrangement.sections
    if found.index:
        row = sections[found.section].measures
        return Found(found.section, found.index - 1, row[found.index - 1])
    if found.section:
        row = sections[found.section - 1].measures
        return Found(found.section - 1, len(row) - 1, row[-1])
    return None


def check_length(lesson: Lesson) -> Lesson:
    """The lesson, or a refusal where its road map grew too long."""
    if most_played(lesson.arrangement) > MOST_OCCURRENCES:
        raise EditRefused(
            f"The piece would play more than {MOST_OCCURRENCES} measures; repeat less or cut it."
        )
    return lesson


def without_late_marks(measure: Measure) -> Measure:
    """The measure without the marks that stand after its end."""
    if not measure.marks:
        return measure
    end = measure.length_ticks
    kept = tuple(mark for mark in measure.marks if mark.at.ticks <= end)
    return measure if len(kept) == len(measure.marks) else structs.replace(measure, marks=kept)


# ------------------------------------------------------------------------------------- spans


def mend_spans(
    before: Lesson, after: Lesson, original: Sequence[Measure], updated: Sequence[Measure]
) -> Lesson:
    """The lesson `after` with its spans mended, where `original` measures became `updated` ones.

    An end that is gone moves to the nearest thing left on the span's side of it, in its voice.
    A span that would now end in an earlier measure than it begins in goes: inside one measure
    nothing says that a span of a file must run forwards across the voices.
    """
    spans = after.arrangement.spans
    if not spans:
        return after
    there = {
        number: index
        for index, measure in enumerate(updated)
        for number in walk.measure_ids(measure)
    }
    gone = {n for measure in original for n in walk.measure_ids(measure) if n not in there}

    def backwards(span: Span) -> bool:
        return there.get(span.start, 0) > there.get(span.end, len(updated))

    if not any(s.start in gone or s.end in gone or backwards(s) for s in spans):
        return after
    order = _WrittenOrder(_around(before, original))
    mended = (
        _mended(span, gone, order) if {span.start, span.end} & gone else span for span in spans
    )
    kept = tuple(span for span in mended if span is not None and not backwards(span))
    return structs.replace(after, arrangement=structs.replace(after.arrangement, spans=kept))


def _around(lesson: Lesson, original: Sequence[Measure]) -> list[Measure]:
    """The measures from the one before the original ones to the one after them."""
    row = list(walk.measures(lesson.arrangement))
    wanted = {measure.id for measure in original}
    places = [index for index, measure in enumerate(row) if measure.id in wanted]
    return row[max(0, places[0] - 1) : places[-1] + 2]


class _WrittenOrder:
    """Measure, event and note ids of some measures in written order, voice by voice."""

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.rows: dict[tuple[str, int], list[int]] = {}
        self.places: dict[int, tuple[str, int, int]] = {}
        self.measures: dict[int, int] = {}
        self.events: dict[int, int] = {}
        for index, measure in enumerate(measures):
            self._add("measure", 0, measure.id, index)
            voices = [*measure.voices, *(row for other in measure.others for row in other.voices)]
            for voice, row in enumerate(voices):
                for event in row:
                    self._add("event", voice, event.id, index)
                    for note in event.notes:
                        self._add("note", voice, note.id, index)
                        self.events[note.id] = event.id

    def _add(self, kind: str, voice: int, number: int, measure: int) -> None:
        row = self.rows.setdefault((kind, voice), [])
        self.places[number] = kind, voice, len(row)
        self.measures[number] = measure
        row.append(number)

    def nearest(self, number: int, gone: set[int], *, forward: bool) -> int | None:
        """The nearest id of the same kind and voice that is left."""
        kind, voice, index = self.places[number]
        row = self.rows[kind, voice]
        others = row[index + 1 :] if forward else reversed(row[:index])
        return next((other for other in others if other not in gone), None)

    def runs(self, start: int, end: int) -> bool:
        """Whether `start` is not after `end`; what lies outside the measures keeps its side."""
        if start not in self.places or end not in self.places:
            return True
        kind, voice, index = self.places[start]
        other_kind, other_voice, other = self.places[end]
        if (kind, voice) == (other_kind, other_voice):
            return index <= other
        return self.measures[start] <= self.measures[end]


def _mended(span: Span, gone: set[int], order: _WrittenOrder) -> Span | None:
    if span.kind in NOTE_SPANS and span.kind != "string":
        return None
    ends: list[int] = []
    for number, forward in ((span.start, True), (span.end, False)):
        left: int | None = number
        if number in gone and span.kind not in NOTE_SPANS:
            left = order.events.get(number, number)
        if left in gone:
            left = order.nearest(left, gone, forward=forward)
        if left is None:
            return None
        ends.append(left)
    start, end = ends
    if not order.runs(start, end) or (start == end and span.kind in NEEDS_TWO_ENDS):
        return None
    return structs.replace(span, start=start, end=end)


# ---------------------------------------------------------------- endings, waivers and likenesses


def mend_endings(original: Section, updated: Section) -> Section:
    """The section with endings that name only measures and passes it still has."""
    there = {measure.id for measure in updated.measures}
    ids = [measure.id for measure in original.measures]
    kept: list[Ending] = []
    for ending in original.endings:
        covered = ids[ids.index(ending.first) : ids.index(ending.last) + 1]
        left = [number for number in covered if number in there]
        passes = tuple(p for p in ending.passes if p <= updated.times)
        if left and passes:
            same = left[0] == ending.first and left[-1] == ending.last and passes == ending.passes
            kept.append(
                ending
                if same
                else structs.replace(ending, first=left[0], last=left[-1], passes=passes)
            )
    endings = tuple(kept)
    return updated if endings == updated.endings else structs.replace(updated, endings=endings)


def mend_removed(lesson: Lesson, gone: set[int]) -> Lesson:
    """The lesson without waivers for, and likenesses to, measures that are gone."""
    if any(waiver.measure in gone for waiver in lesson.waivers):
        waivers = tuple(waiver for waiver in lesson.waivers if waiver.measure not in gone)
        lesson = structs.replace(lesson, waivers=waivers)
    if not any(m.same_as in gone for m in walk.measures(lesson.arrangement)):
        return lesson
    sections = tuple(
        structs.replace(
            section,
            measures=tuple(
                structs.replace(m, same_as=None) if m.same_as in gone else m
                for m in section.measures
            ),
        )
        if any(m.same_as in gone for m in section.measures)
        else section
        for section in lesson.arrangement.sections
    )
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    return structs.replace(lesson, arrangement=arrangement)
