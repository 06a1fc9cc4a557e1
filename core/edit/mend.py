"""After an edit: what pointed to something that is gone is mended, or goes with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import structs

from core.edit.base import Found, Ids, name_of, with_measure
from core.model import (
    Arrangement,
    EditRefused,
    Ending,
    Event,
    Lesson,
    Measure,
    Note,
    Section,
    Span,
    walk,
)
from core.model.form import NOTE_SPANS
from core.model.roadmap import MOST_OCCURRENCES, most_played
from core.model.validate import LONGEST_MEASURE

NEEDS_TWO_ENDS = (NOTE_SPANS - {"string"}) | {"slur"}


def put_measure(lesson: Lesson, found: Found, measure: Measure, ids: Ids | None = None) -> Lesson:
    """The lesson with one measure replaced, and what hung on its former content mended.

    Marks after the new end go, ties that lost their other note are taken off, spans move their
    ends to what is left in the voice or go. Raises EditRefused for a measure grown too long.
    """
    if measure is found.measure:
        return lesson
    if measure.length_ticks > LONGEST_MEASURE:
        name = name_of(lesson, measure.id)
        raise EditRefused(f"{name[:1].upper()}{name[1:]} would be longer than 64 whole notes.")
    measure = without_late_marks(without_lost_ties(found.measure, measure))
    updated = with_measure(lesson, found, measure, ids)
    updated = _untie_before(updated, found, measure)
    return mend_spans(lesson, updated, [found.measure], [measure])


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


# ------------------------------------------------------------------------------------- ties


def _meets(note: Note, following: Event | None) -> bool:
    return following is not None and any(n.pitch == note.pitch for n in following.notes)


def _tied_pairs(row: Sequence[Event]) -> Iterator[tuple[Event, Event | None]]:
    sounding = [event for event in row if event.grace is None]
    yield from zip(sounding, [*sounding[1:], None], strict=False)


def _held(measure: Measure) -> set[int]:
    """The ids of the notes whose tie meets its other note inside the measure."""
    return {
        note.id
        for row in measure.voices
        for event, following in _tied_pairs(row)
        for note in event.notes
        if note.tied and _meets(note, following)
    }


def without_lost_ties(original: Measure, updated: Measure) -> Measure:
    """The updated measure, where ties that met their note in the original no longer do, without."""
    if original.voices is updated.voices:
        return updated
    lost = _held(original) - _held(updated)
    if not lost:
        return updated
    rows = tuple(tuple(_untied(event, lost) for event in row) for row in updated.voices)
    return structs.replace(updated, voices=rows)


def _untied(event: Event, lost: set[int]) -> Event:
    if not any(note.id in lost and note.tied for note in event.notes):
        return event
    notes = tuple(
        structs.replace(note, tied=False) if note.id in lost else note for note in event.notes
    )
    return structs.replace(event, notes=notes)


def _first(measure: Measure, voice: int) -> Event | None:
    row = measure.voices[voice] if voice < len(measure.voices) else ()
    return next((event for event in row if event.grace is None), None)


def _untie_before(lesson: Lesson, found: Found, measure: Measure) -> Lesson:
    """Take off ties of the measure before that met a note here and no longer do."""
    row = lesson.arrangement.sections[found.section].measures
    if found.index == 0 or measure.voices is found.measure.voices:
        return lesson
    before = row[found.index - 1]
    lost: set[int] = set()
    for voice, events in enumerate(before.voices):
        for note in events[-1].notes if events else ():
            if note.tied and _meets(note, _first(found.measure, voice)):
                lost |= set() if _meets(note, _first(measure, voice)) else {note.id}
    if not lost:
        return lesson
    rows = tuple(tuple(_untied(event, lost) for event in events) for events in before.voices)
    where = Found(found.section, found.index - 1, before)
    return with_measure(lesson, where, structs.replace(before, voices=rows))


# ------------------------------------------------------------------------------------- spans


def mend_spans(
    before: Lesson, after: Lesson, original: Sequence[Measure], updated: Sequence[Measure]
) -> Lesson:
    """The lesson `after` with its spans mended, where `original` measures became `updated` ones.

    An end that is gone moves to the nearest thing left on the span's side of it, in its voice.
    """
    spans = after.arrangement.spans
    if not spans:
        return after
    there = {number for measure in updated for number in walk.measure_ids(measure)}
    gone = {n for measure in original for n in walk.measure_ids(measure) if n not in there}
    if not any(span.start in gone or span.end in gone for span in spans):
        return after
    order = _WrittenOrder(before.arrangement)
    mended = (
        _mended(span, gone, order) if {span.start, span.end} & gone else span for span in spans
    )
    kept = tuple(span for span in mended if span is not None)
    return structs.replace(after, arrangement=structs.replace(after.arrangement, spans=kept))


class _WrittenOrder:
    """Measure, event and note ids of an arrangement in written order, voice by voice."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.rows: dict[tuple[str, int], list[int]] = {}
        self.places: dict[int, tuple[str, int, int]] = {}
        self.measures: dict[int, int] = {}
        self.events: dict[int, int] = {}
        for index, measure in enumerate(walk.measures(arrangement)):
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
        """Whether `start` is not after `end`."""
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
