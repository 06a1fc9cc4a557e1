"""Line and page breaking by dynamic programming on squared stretch (after Knuth & Plass 1981)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import accumulate
from math import inf

from msgspec import Struct

SQUEEZE = 3.0  # how much dearer compression is than stretching
SECTION_BONUS = 0.06
FINAL = 0.03  # the last line may stay short, but not at any price
LOWEST, HIGHEST = 0.72, 1.9  # forces at which old breaks are kept


class Part(Struct, frozen=True):
    """What line breaking needs of one measure (spaces): the fixed widths as first, inner or last
    of a line, natural and least length of its springs, and the breaks allowed after it."""

    head: float
    lead_first: float
    lead: float
    tail: float
    tail_last: float
    natural: float
    least: float
    must_end: bool = False
    ends_section: bool = False


class Sums:
    """Running sums, so that any line is judged in constant time."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = parts
        self.fixed = [0.0, *accumulate(p.lead + p.tail for p in parts)]
        self.natural = [0.0, *accumulate(p.natural for p in parts)]
        self.least = [0.0, *accumulate(p.least for p in parts)]

    def stretch(self, first: int, last: int, width: float) -> tuple[float, bool]:
        """How much the measures first..last-1 stretch to fill a line, and whether they fit."""
        begin, end = self.parts[first], self.parts[last - 1]
        fixed = self.fixed[last] - self.fixed[first]
        fixed += begin.head + begin.lead_first - begin.lead + end.tail_last - end.tail
        room = width - fixed
        fits = room >= self.least[last] - self.least[first]
        return room / (self.natural[last] - self.natural[first]), fits


def cost(sums: Sums, first: int, last: int, width: float) -> float:
    """The cost of one line; infinite where it cannot hold its measures (unless it is only one)."""
    stretch, fits = sums.stretch(first, last, width)
    if not fits and last - first > 1:
        return inf
    final = last == len(sums.parts)
    if stretch >= 1.0:
        badness = (FINAL if final else 1.0) * (stretch - 1.0) ** 2
    else:
        badness = SQUEEZE * (1.0 / max(stretch, 0.05) - 1.0) ** 2
    if sums.parts[last - 1].ends_section:
        badness -= SECTION_BONUS
    return badness + 0.002


def break_lines(parts: Sequence[Part], width: float | Callable[[int], float]) -> list[int]:
    """The index after the last measure of each line, at the least total cost."""
    if not parts:
        return []
    width_at = width if callable(width) else (lambda _: width)
    sums = Sums(parts)
    count = len(parts)
    best = [0.0] + [inf] * count
    back = [0] * (count + 1)
    for first in range(count):
        if best[first] == inf:
            continue
        last = first
        while last < count:
            last += 1
            price = cost(sums, first, last, width_at(first))
            if price == inf:
                break
            if best[first] + price < best[last] - 1e-12:
                best[last], back[last] = best[first] + price, first
            if parts[last - 1].must_end:
                break
    breaks = [count]
    while breaks[-1]:
        breaks.append(back[breaks[-1]])
    return breaks[-2::-1]


def still_good(
    parts: Sequence[Part], breaks: Sequence[int], width: float | Callable[[int], float]
) -> bool:
    """Whether old line breaks may stay: every line fits, within bounds of force."""
    sums = Sums(parts)
    width_at = width if callable(width) else (lambda _: width)
    first = 0
    for last in breaks:
        stretch, fits = sums.stretch(first, last, width_at(first))
        final = last == len(parts)
        if any(p.must_end for p in parts[first : last - 1]):
            return False
        if last - first > 1 and (not fits or stretch < LOWEST):
            return False
        if not final and stretch > HIGHEST and not parts[last - 1].must_end:
            return False
        first = last
    return first == len(parts)


def break_pages(heights: Sequence[float], first_room: float, room: float, gap: float) -> list[int]:
    """The index after the last system of each page: as even as may be, as few pages as needed."""
    count = len(heights)
    best: list[tuple[int, float]] = [(0, 0.0)] + [(count + 1, inf)] * count
    back = [0] * (count + 1)
    for first in range(count):
        used = -gap
        for last in range(first + 1, count + 1):
            used += heights[last - 1] + gap
            available = first_room if first == 0 else room
            if used > available and last - first > 1:
                break
            slack = 0.0 if last == count else (max(0.0, available - used) / available) ** 2
            pages, price = best[first]
            if (pages + 1, price + slack) < best[last]:
                best[last], back[last] = (pages + 1, price + slack), first
    breaks = [count]
    while breaks[-1]:
        breaks.append(back[breaks[-1]])
    return breaks[-2::-1]
