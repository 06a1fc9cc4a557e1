"""Values that a plain-text tab does not write, from the spacing of its columns."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from core.edit.rows import Uncuttable, fill
from core.formats.plain_tab_lines import Bar, Column
from core.model import Base, Metre, Value
from core.model.time import TICKS_PER_WHOLE

GRID = TICKS_PER_WHOLE // 32
FINEST = TICKS_PER_WHOLE // 96  # a triplet of thirty-seconds: what spacing may mean besides

Spaced = list[tuple[int, int, Column | None]]  # onset, end, what stands there


def spaced(bar: Bar, ticks: int, metre: Metre) -> tuple[Spaced, bool]:
    """When the columns of a measure begin and end, and whether their spacing told it."""
    if not bar.columns:
        return [(0, ticks, None)], True
    starts = [column.start - bar.begin for column in bar.columns]
    lead = 1 if starts[0] > 0 else 0
    onsets = _proportional(starts, lead, bar.end - bar.begin - lead, ticks, metre)
    fits = onsets is not None
    if onsets is None:
        step = _even(len(starts), ticks)
        onsets = [index * step for index in range(len(starts))]
    ends = [*onsets[1:], max(ticks, onsets[-1] + GRID)]
    timed: Spaced = list(zip(onsets, ends, bar.columns, strict=True))
    return ([(0, onsets[0], None), *timed] if onsets[0] else timed), fits


def _proportional(
    starts: Sequence[int], lead: int, width: int, ticks: int, metre: Metre
) -> list[int] | None:
    """Onsets in proportion to the columns, each a value's length after the one before; or None."""
    exact = [Fraction((start - lead) * ticks, max(1, width)) for start in starts]
    onsets = [round(onset / FINEST) * FINEST for onset in exact]
    close = all(
        abs(wanted - onset) * width <= ticks for wanted, onset in zip(exact, onsets, strict=True)
    )
    increasing = all(a < b for a, b in pairwise(onsets))
    if not close or not increasing or onsets[-1] >= ticks:
        return None
    try:
        for begin, end in zip([0, *onsets], [*onsets, ticks], strict=True):
            if end > begin:
                fill(begin, end, metre)
    except Uncuttable:
        return None
    return onsets


def _even(count: int, ticks: int) -> int:
    """The longest plain value of which `count` fit into the measure, at least a thirty-second."""
    step = TICKS_PER_WHOLE
    while step * count > ticks and step > GRID:
        step //= 2
    return step


def values_between(start: int, end: int, sounding: bool, metre: Metre) -> tuple[Value, ...]:
    """One value from one column to the next where there is one, else the values that fill it.

    `start` and `end` count from the measure's beginning.
    """
    plain = (Value(base, dots) for base in Base for dots in (0, 1))
    whole = tuple(value for value in plain if sounding and value.ticks == end - start)
    if whole:
        return whole
    try:
        return fill(start, end, metre)
    except Uncuttable:  # a length of its own that no values fill: the nearest below it
        return tuple(v for v in (Value(base) for base in Base) if v.ticks <= end - start)[:1]
