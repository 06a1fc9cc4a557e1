"""Taking music from a source that is kept with the lesson, by time.

The lesson and a part of the source run alongside each other from their first numbered measure on,
so that a pickup before it may be there or not, and longer or shorter. What the part has at the
time of a measure is taken, whatever the barlines of the source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate

from msgspec import Struct

from core.edit.base import name_of
from core.edit.clip import Clip, Paste, Piece
from core.edit.measures import run_of
from core.edit.rows import Uncuttable, fill
from core.model import EditRefused, Event, Lesson, Measure, SourcePart, walk
from core.model.validate import upper


def starts(measures: Sequence[Measure]) -> list[int]:
    """Where each measure begins, in ticks from the first one that is no pickup, and where the
    last one ends."""
    first = measures[0] if measures else None
    pickup = first is not None and (not first.counted or first.ticks < first.metre.ticks)
    begin = -first.ticks if first is not None and pickup else 0
    return list(accumulate((measure.ticks for measure in measures), initial=begin))


def time_of(lesson: Lesson, measure_id: int) -> int:
    """When a measure of the lesson begins, as `starts` counts; EditRefused where it is gone."""
    measures = list(walk.measures(lesson.arrangement))
    for begin, measure in zip(starts(measures), measures, strict=False):
        if measure.id == measure_id:
            return begin
    raise EditRefused("That measure is no longer there; choose another.")


def part_of(lesson: Lesson, source: int, part: int) -> SourcePart:
    """A part of a kept source; raises EditRefused when there is none."""
    parts = lesson.sources[source].parts if 0 <= source < len(lesson.sources) else ()
    if not 0 <= part < len(parts):
        raise EditRefused("There is no such part in the sources of the lesson; choose another.")
    return parts[part]


def measure_at(part: SourcePart, ticks: int) -> int | None:
    """The index of the measure of a part that sounds at a time; None behind the part's end.

    Before the part begins it is the first.
    """
    begins = starts(part.measures)
    return max(0, bisect_right(begins, ticks) - 1) if ticks < begins[-1] else None


def voices_of(part: SourcePart) -> tuple[int, ...]:
    """The voices of a part that have music anywhere."""
    found = {
        voice
        for measure in part.measures
        for voice, row in enumerate(measure.voices)
        if any(event.notes for event in row)
    }
    return tuple(sorted(found))


class _Cut(Exception):
    """A note sounds over the beginning or the end of what is taken: its measure's index."""

    def __init__(self, index: int, at_end: bool) -> None:
        super().__init__()
        self.index, self.at_end = index, at_end


def copy_source(part: SourcePart, begin: int, end: int, voice: int | None = 0) -> Clip:
    """What a voice of a part (None: every voice) has between two ticks as `starts` counts them.

    Raises EditRefused where there is nothing.
    """
    try:
        return _copied(part, begin, end, voice)
    except _Cut:
        raise EditRefused(
            f"The part {part.name} holds a note over the end of what is taken; "
            "take the next measure too."
        ) from None


def _copied(part: SourcePart, begin: int, end: int, voice: int | None) -> Clip:
    pieces: list[Piece] = []
    for index, (start, measure) in enumerate(
        zip(starts(part.measures), part.measures, strict=False)
    ):
        if start >= end or start + measure.length_ticks <= begin:
            continue
        for number, row in enumerate(measure.voices):
            if voice in (None, number):
                window = begin - start, end - start
                pieces += (
                    Piece(number, onset - window[0], event)
                    for onset, event in _between(measure, index, row, window)
                )
    if not pieces:
        raise EditRefused(f"The part {part.name} has no music there; choose another.")
    return Clip(tuple(pieces))


def _between(
    measure: Measure, index: int, row: Sequence[Event], window: tuple[int, int]
) -> Iterator[tuple[int, Event]]:
    """The events of a row that lie in a window of its measure, with their onsets.

    Rests that reach beyond it are shortened; a note that does raises _Cut.
    """
    begin, end = window
    onset = 0
    for event in row:
        off = onset + event.ticks
        if begin <= onset and off <= end and onset < end:
            yield onset, event
        elif onset < end and off > begin:
            if event.notes:
                raise _Cut(index, at_end=onset >= begin)
            yield from _rests(max(onset, begin), min(off, end), measure)
        onset = off


def _rests(begin: int, end: int, measure: Measure) -> Iterator[tuple[int, Event]]:
    try:
        values = fill(begin, end, measure.metre)
    except Uncuttable:
        return  # a rest within a tuplet: the gap stays, and pasting fills it
    for value in values:
        yield begin, Event(0, value)
        begin += value.ticks


class TakeFromSource(Struct, frozen=True):
    """Write into measures of the lesson what a part of a kept source has at their time.

    `source` and `part` count from 0, `first` and `last` are ids of measures. `of` is the voice of
    the part, None for all of them; `voice` is where it goes, or the first of all of them.
    """

    source: int
    part: int
    first: int
    last: int
    voice: int = 0
    of: int | None = 0

    @property
    def label(self) -> str:
        return "take from the source"

    def apply(self, lesson: Lesson) -> Lesson:
        part = part_of(lesson, self.source, self.part)
        run = run_of(lesson, self.first, self.last)
        begin = time_of(lesson, self.first)
        end = begin + sum(found.measure.ticks for found in run)
        last = starts(part.measures)[-1] if part.measures else 0
        if begin >= last:
            missing = name_of(lesson, self.first)
            raise EditRefused(f"The part {part.name} ends before {missing}; choose another part.")
        try:
            clip = _copied(part, begin, end, self.of)
        except _Cut as cut:
            raise self._not_fitting(lesson, part, cut) from None
        return Paste(self.first, 0, clip, self.voice).apply(lesson)

    def _not_fitting(self, lesson: Lesson, part: SourcePart, cut: _Cut) -> EditRefused:
        measure = part.measures[cut.index]
        where, edge, other = self.first, "start", "the one before"
        if cut.at_end:
            where, edge, other = self.last, "end", "the next one"
        return EditRefused(
            f"{upper(name_of(lesson, where))} does not fit the source: {part.name}, there in "
            f"{measure.metre}, holds a note over its {edge}; select {other} too and take both."
        )
