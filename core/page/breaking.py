"""Line and page breaking by dynamic programming on squared stretch (after Knuth & Plass 1981)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from math import inf

from msgspec import Struct

SQUEEZE = 3.0  # how much dearer compression is than stretching
SECTION_BONUS = 0.3
PHRASE_BONUS = 0.08
FINAL = 0.03  # the last line may stay short, but not at any price
LONELY = 0.1  # one system alone on the last page
TURN = 0.1  # of a page turn with both hands busy
LOWEST, HIGHEST = 0.72, 1.9  # forces at which old breaks are kept


class Part(Struct, frozen=True, gc=False):
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
    ends_phrase: bool = False


class Sums:
    """Running sums, so that any line is judged in constant time. `ends`: the piece ends here."""

    def __init__(self, parts: Sequence[Part], *, ends: bool = True) -> None:
        self.parts = parts
        self.ends = ends
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
    final = sums.ends and last == len(sums.parts)
    if stretch >= 1.0:
        badness = (FINAL if final else 1.0) * (stretch - 1.0) ** 2
    else:
        badness = SQUEEZE * (1.0 / max(stretch, 0.05) - 1.0) ** 2
    if sums.parts[last - 1].ends_section:
        badness -= SECTION_BONUS
    elif sums.parts[last - 1].ends_phrase:
        badness -= PHRASE_BONUS
    return badness + 0.002


def break_lines(parts: Sequence[Part], width: float, *, ends: bool = True) -> list[int]:
    """The index after the last measure of each line, at the least total cost.

    `ends`: the last of these lines is the last of the piece and may stay short.
    """
    if not parts:
        return []
    sums = Sums(parts, ends=ends)
    count = len(parts)
    best = [0.0] + [inf] * count
    back = [0] * (count + 1)
    for first in range(count):
        if best[first] == inf:
            continue
        last = first
        while last < count:
            last += 1
            price = cost(sums, first, last, width)
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


def bad_lines(parts: Sequence[Part], breaks: Sequence[int], width: float) -> list[int]:
    """Which lines may not stay as they are: too full, too empty, or broken by hand inside."""
    sums = Sums(parts)
    found: list[int] = []
    first = 0
    for number, last in enumerate(breaks):
        stretch, fits = sums.stretch(first, last, width)
        final = last == len(parts)
        full = last - first > 1 and (not fits or stretch < LOWEST)
        empty = not final and stretch > HIGHEST and not parts[last - 1].must_end
        if full or empty or any(p.must_end for p in parts[first : last - 1]):
            found.append(number)
        first = last
    return found


def keep_breaks(parts: Sequence[Part], old: Sequence[int], width: float) -> list[int]:
    """Old breaks, mended near the lines that no longer hold; empty where that cannot be done.

    A bad line is broken anew together with one, two, then three lines on either side.
    """
    if not old or old[-1] != len(parts):
        return []
    bad = bad_lines(parts, old, width)
    if not bad:
        return list(old)
    for reach in (1, 2, 3):
        low, high = max(bad[0] - reach, 0), min(bad[-1] + reach, len(old) - 1)
        if high - low > 8:
            break
        first, last = (old[low - 1] if low else 0), old[high]
        inner = break_lines(parts[first:last], width, ends=last == len(parts))
        mended = [*old[:low], *(first + end for end in inner), *old[high + 1 :]]
        if not bad_lines(parts, mended, width):
            return mended
    return []


def break_pages(
    heights: Sequence[float],
    first_room: float,
    room: float,
    gap: float,
    turns: Sequence[float] = (),
) -> list[int]:
    """The index after the last system of each page: as few pages as needed, full ones, no system
    alone on the last, and turns where they are cheap.

    `turns` is the cost of turning the page after each system: 0 where a hand is free or time is
    left, 1 where both hands play on. Empty: all alike.
    """
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
            slack = (max(0.0, available - used) / available) ** 2
            if last == count:
                slack = LONELY if last - first == 1 and first else 0.0
            elif turns:
                slack += TURN * turns[last - 1]
            pages, price = best[first]
            if (pages + 1, price + slack) < best[last]:
                best[last], back[last] = (pages + 1, price + slack), first
    breaks = [count]
    while breaks[-1]:
        breaks.append(back[breaks[-1]])
    return breaks[-2::-1]
