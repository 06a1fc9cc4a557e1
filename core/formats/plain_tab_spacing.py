"""Values that a plain-text tab does not write, from the spacing of its columns."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import product

from core.edit.rows import Uncuttable, fill
from core.formats.plain_tab_lines import Bar, Column
from core.model import Base, Metre, Value
from core.model.time import TICKS_PER_WHOLE

GRID = TICKS_PER_WHOLE // 32
WIDEST_EDGE = 2  # dashes before the first beat
# Parts of a beat in which columns may lie, and by how many characters the measure may be off.
DIVISIONS = ((1, (0,)), (2, (0,)), (3, (0,)), (1, (1, -1, 2, -2)), (4, (0,)), (6, (0,)), (8, (0,)))

Spaced = list[tuple[int, int, Column | None]]  # onset, end, what stands there


def spaced(bar: Bar, ticks: int, metre: Metre) -> tuple[Spaced, bool]:
    """When the columns of a measure begin and end, and whether their spacing told it."""
    if not bar.columns:
        return [(0, ticks, None)], True
    starts = [column.start - bar.begin for column in bar.columns]
    onsets = _proportional(starts, bar.end - bar.begin, ticks, metre)
    fits = onsets is not None
    if onsets is None:
        step = _even(len(starts), ticks)
        onsets = [index * step for index in range(len(starts))]
    ends = [*onsets[1:], max(ticks, onsets[-1] + GRID)]
    timed: Spaced = list(zip(onsets, ends, bar.columns, strict=True))
    return ([(0, onsets[0], None), *timed] if onsets[0] else timed), fits


def _proportional(starts: Sequence[int], width: int, ticks: int, metre: Metre) -> list[int] | None:
    """Onsets in proportion to the columns where these lie exactly on a division of the beat.

    The coarsest division is meant. A dash or two before the first figure are an edge, and where
    all columns lie on beats the measure may be a character or two too long or too short.
    """
    beat = metre.pulse_ticks[0]
    edge = min(1, starts[0])
    leads = dict.fromkeys((edge, starts[0] if starts[0] <= WIDEST_EDGE else edge))
    for parts, spares in DIVISIONS:
        for lead, spare in product(leads, spares):
            whole = width - lead + spare
            exact = [Fraction((start - lead) * ticks, max(1, whole)) for start in starts]
            on_grid = all((onset * parts) % beat == 0 for onset in exact)
            if on_grid and exact[0] >= 0 and exact[-1] < ticks:
                onsets = [int(onset) for onset in exact]
                if _writable(onsets, ticks, metre):
                    return onsets
    return None


def _writable(onsets: Sequence[int], ticks: int, metre: Metre) -> bool:
    try:
        for begin, end in zip([0, *onsets], [*onsets, ticks], strict=True):
            if end > begin:
                fill(begin, end, metre)
    except Uncuttable:
        return False
    return True


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
