"""Line and page breaking by dynamic programming on squared stretch (after Knuth & Plass 1981)."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
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
REACHES = (1, 2, 3, 6)  # lines on either side of a bad one that are broken anew with it
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


def bad_lines(
    parts: Sequence[Part], breaks: Sequence[int], width: float, first: int = 0
) -> list[int]:
    """Which lines may not stay as they are: too full, too empty, or broken by hand inside.

    `first` is where the first line begins; the last of `breaks` is the end of the piece where
    that is the number of parts.
    """
    found: list[int] = []
    for number, last in enumerate(breaks):
        row = parts[first:last]
        stretch, fits = Sums(row).stretch(0, len(row), width)
        final = last == len(parts)
        full = last - first > 1 and (not fits or stretch < LOWEST)
        empty = not final and stretch > HIGHEST and not row[-1].must_end
        if full or empty or any(p.must_end for p in row[:-1]):
            found.append(number)
        first = last
    return found


def keep_breaks(
    parts: Sequence[Part], old: Sequence[int], width: float, first: int = 0, last: int | None = None
) -> list[int]:
    """Old breaks, mended near the lines that no longer hold. Only lines with a measure from
    `first` to `last` - 1 are judged; the others were judged when they were made.

    Bad lines are broken anew together with one, two, then more lines on either side, until all of
    them hold; where that cannot be, as well as they can.
    """
    begin = bisect_right(old, first)
    end = bisect_left(old, len(parts) if last is None else max(last, first + 1)) + 1
    start = old[begin - 1] if begin else 0
    bad = [begin + number for number in bad_lines(parts, old[begin:end], width, start)]
    breaks = list(old)
    for low, high in reversed(_clusters(bad)):
        breaks = _mended(parts, breaks, low, high, width)
    return breaks


def _clusters(bad: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of the lines that are mended together."""
    found: list[tuple[int, int]] = []
    for line in bad:
        if found and line - found[-1][1] <= REACHES[-1]:
            found[-1] = (found[-1][0], line)
        else:
            found.append((line, line))
    return found


def _mended(
    parts: Sequence[Part], breaks: list[int], low: int, high: int, width: float
) -> list[int]:
    """The breaks with lines `low` to `high` broken anew."""
    for reach in REACHES:
        a, b = max(low - reach, 0), min(high + reach, len(breaks) - 1)
        first, last = (breaks[a - 1] if a else 0), breaks[b]
        inner = break_lines(parts[first:last], width, ends=last == len(parts))
        made = [first + end for end in inner]
        if reach == REACHES[-1] or not bad_lines(parts, made, width, first):
            return [*breaks[:a], *made, *breaks[b + 1 :]]
    return breaks


class PageBreaks(Struct, frozen=True, eq=False):
    """How pages are broken, and what it cost, kept so that the next breaking may go on from it.

    `best` is the number of pages and the price, `back` the first system of the last page, for
    every number of systems.
    """

    heights: list[float]
    turns: list[float]
    first_room: float
    room: float
    gap: float
    best: list[tuple[int, float]]
    back: list[int]

    @property
    def ends(self) -> list[int]:
        """The index after the last system of each page."""
        breaks = [len(self.heights)]
        while breaks[-1]:
            breaks.append(self.back[breaks[-1]])
        return breaks[-2::-1]


def break_pages(
    heights: list[float],
    first_room: float,
    room: float,
    gap: float,
    turns: list[float] | None = None,
    old: PageBreaks | None = None,
) -> PageBreaks:
    """As few pages as needed, full ones, no system alone on the last, and turns where they are
    cheap. `first_room` is at most `room`.

    `turns` is the cost of turning the page after each system: 0 where a hand is free or time is
    left, 1 where both hands play on (all of them where nothing is given). With `old`, what lies
    before the first change is taken over: the outcome is the same.
    """
    turns = [1.0] * len(heights) if turns is None else turns
    made = PageBreaks(heights, turns, first_room, room, gap, [(0, 0.0)], [0])
    if old is not None and (old.first_room, old.room, old.gap) == (first_room, room, gap):
        if heights == old.heights and turns == old.turns:
            return old
        same = _same(made, old)
        made.best.extend(old.best[1 : same + 1])
        made.back.extend(old.back[1 : same + 1])
    for last in range(len(made.best), len(heights) + 1):
        _page_to(made, last)
    return made


def _page_to(made: PageBreaks, last: int) -> None:
    """The best way to end a page after `last` systems, given all shorter ways."""
    heights, final = made.heights, last == len(made.heights)
    best, back = (last + 1, 0.0), 0
    used = -made.gap
    for first in range(last - 1, -1, -1):
        used += heights[first] + made.gap
        available = made.room if first else made.first_room
        if used > available and last - first > 1:
            break
        slack = (max(0.0, available - used) / available) ** 2 + TURN * made.turns[last - 1]
        if final:
            slack = LONELY if last - first == 1 and first else 0.0
        pages, price = made.best[first]
        found = (pages + 1, price + slack)
        if found <= best:
            best, back = found, first
    made.best.append(best)
    made.back.append(back)


def _same(made: PageBreaks, old: PageBreaks) -> int:
    """For how many systems from the first the best pages are as before. The last page of all has
    other prices than the same page before others."""
    same = 0
    for a, b, s, t in zip(made.heights, old.heights, made.turns, old.turns, strict=False):
        if a != b or s != t:
            break
        same += 1
    return min(same, len(made.heights) - 1, len(old.heights) - 1)
