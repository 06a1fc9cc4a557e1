"""Which measures stand in which line: old breaks are kept, and only what changed is decided."""

from __future__ import annotations

from collections.abc import Sequence
from operator import eq

from core.page import breaking
from core.page.score import Order, Score, Window, alike, equal

PIECE = 4  # measures in a piece of one long line


def page_lines(
    score: Score,
    window: Window,
    width: float,
    old: Score | None,
    old_ends: Sequence[int],
    old_width: float,
) -> Sequence[int]:
    """The index after the last measure of each line of a page.

    Of an old score the line ends stay; lines are judged anew only where measures have other
    lengths or other neighbours than before.
    """
    if old is None or not old_ends:
        return breaking.break_lines(score.parts, width)
    count = len(score.parts)
    low, high = _changed_parts(old, score, window)
    ends = old_ends
    if score.order is not old.order:
        first, last, ends = _carried(old.order, score.order, old_ends)
        low, high = max(min(low, first) - 1, 0), min(max(high, last) + 1, count)
    if width != old_width:
        low, high = 0, count
    if low >= high:
        return ends
    return breaking.keep_breaks(score.parts, ends, width, low, high)


def _changed_parts(old: Score, score: Score, window: Window) -> tuple[int, int]:
    """The stretch of new measures outside which all lengths are as before; last before first
    where all are."""
    first, last, shift = 0, len(score.parts), len(score.parts) - len(old.parts)
    if score.flags is old.flags:  # then nothing outside the window can differ
        first, last, shift = window.first, window.last, window.shift
    was, now = old.parts[first : last - shift], score.parts[first:last]
    if was == now:
        return len(score.parts), 0
    head, tail = alike(was, now, equal)
    return first + head, last - tail


def _carried(old: Order, new: Order, ends: Sequence[int]) -> tuple[int, int, list[int]]:
    """The stretch of measures that came, went or moved, and the old line ends around it.

    New measures join the line of the measure before them.
    """
    was, now = old.ids, new.ids
    first, last = alike(was, now, eq)
    end, shift = len(now) - last, len(now) - len(was)
    kept = [e for e in ends if e < first]
    after = [e + shift for e in ends if e + shift > end]
    # Did a line end between the last measure that stays before and the first that stays after?
    parted = any(first <= e <= end - shift for e in ends) and 0 < end < len(now)
    if parted:
        kept.append(end)
    return first, end, [*kept, *(after or [len(now)])]


def pieces(
    score: Score, window: Window, old: Score | None, old_ends: Sequence[int]
) -> Sequence[int]:
    """Where one long line may be cut into pieces that are set by themselves: about every fourth
    measure, where no tie, no span and no ending passes; counted anew after each cut."""
    count, shift = len(score.boxes), window.shift
    start, old_after = 0, frozenset[int]()
    kept: list[int] = []
    if old is not None and score.spans is old.spans and score.order is old.order:
        before = [e for e in old_ends if e < window.first]
        kept = before
        start = before[-1] if before else 0
        old_after = frozenset(e + shift for e in old_ends if e + shift > window.last)
    closed = score.spans.closed
    ends: list[int] = []
    held = 0
    for index in range(start, count - 1):
        held += 1
        spot = score.spots[index]
        if not (held >= PIECE or spot.last) or index in closed or _inside_ending(score, index):
            continue
        if score.boxes[index + 1].context.tied_in:
            continue
        ends.append(index + 1)
        held = 0
        if index + 1 in old_after:  # from here on all is counted as before
            return [*kept, *ends, *sorted(e for e in old_after if e > index + 1)]
    return [*kept, *ends, count]


def _inside_ending(score: Score, index: int) -> bool:
    """Whether an ending goes on after a measure."""
    place = score.order.place
    return any(
        ending.first in place
        and ending.last in place
        and place[ending.first] <= index < place[ending.last]
        for ending in score.spots[index].head.endings
    )
