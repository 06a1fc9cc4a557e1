"""Horizontal spacing: springs by duration, rods by what stands at each column.

The ideal length of a spring is Gourlay's function (via Renz 2002, as engraving.md gives it):
``w * (1 + a * log2(shortest / least)) * (gap / shortest)``.
A system has one force s; every gap is ``max(rod, s * ideal)``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from math import log2

from core.model import TICKS_PER_QUARTER
from core.page.moment import Column
from core.page.pen import Rect

LEAST = TICKS_PER_QUARTER // 4  # the sixteenth
LEAST_WIDTH = 2.15  # spaces for a sixteenth at force 1
GROWTH = 0.55
PAD = 0.22  # clear space between things that stand side by side
TAB_PAD = 0.15


@lru_cache(maxsize=4096)
def ideal(shortest: int, gap: int) -> float:
    """The length in spaces of a spring over `gap` ticks where `shortest` sounds."""
    doublings = log2(shortest / LEAST)
    width = (
        LEAST_WIDTH * (1 + GROWTH * doublings) if doublings >= 0 else LEAST_WIDTH * 0.75**-doublings
    )
    return width * (gap / shortest)


def separation(a: Column, b: Column) -> float:
    """The least distance of two neighbouring columns: no rod of one touches a rod of the other."""
    return max(1.3, clearance(a, b))


def clearance(a: Column, b: Column) -> float:
    """How far apart two columns must be for their rods alone; 0 where they pass each other."""
    if a.right + PAD <= b.left:
        return 0.0
    staff = _clear(a.rods, b.rods, PAD)
    return max(staff, _clear(a.tab_rods, b.tab_rods, TAB_PAD))


def _clear(left: Sequence[Rect], right: Sequence[Rect], pad: float) -> float:
    least = 0.0
    for a in left:
        reach = a[2] + pad
        top, bottom = a[1] - 0.1, a[3] + 0.1
        for b in right:
            if b[1] < bottom and top < b[3] and reach - b[0] > least:
                least = reach - b[0]
    return least


def total(springs: Iterable[tuple[float, float]], force: float) -> float:
    """The length of a row of (ideal, rod) springs under a force."""
    return sum(max(rod, force * length) for length, rod in springs)


def force_for(springs: Sequence[tuple[float, float]], length: float) -> float:
    """The force that makes a row of springs exactly `length` long (never below 0).

    Springs are taken in the order in which their rods stop blocking (Blostein & Haken 1991, from
    memory): below its blocking force rod / ideal a spring does not yield.
    """
    rods = sum(rod for _, rod in springs)
    order = sorted(springs, key=lambda spring: spring[1] / spring[0])
    stiff, loose = rods, 0.0
    force = 0.0
    for index, (ideal_length, rod) in enumerate(order):
        stiff -= rod
        loose += ideal_length
        force = (length - stiff) / loose
        following = order[index + 1] if index + 1 < len(order) else None
        if following is None or force <= following[1] / following[0]:
            break
    return max(force, 0.0)
