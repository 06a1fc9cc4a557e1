"""From times as played to written times: which grid each beat is on, and what was moved how far.

Every beat (a dotted one in compound metres) is tried whole, in halves, thirds, quarters and so on;
the grid with the least sum of squared errors, in units of a player's usual scatter, plus a price
for fine grids wins. Scatter and prices are our own choice (no published source).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from msgspec import Struct

from core.model import TICKS_PER_QUARTER, Metre

# (parts of the beat, price)
_SIMPLE = ((1, 0.0), (2, 1.0), (3, 4.0), (4, 3.0), (6, 10.0), (8, 12.0))
_SIMPLE_EXACT = (*_SIMPLE, (5, 12.0), (7, 14.0), (12, 14.0), (16, 14.0))
_COMPOUND = ((1, 0.0), (3, 1.0), (6, 3.0), (2, 5.0), (12, 12.0))
_COMPOUND_EXACT = (*_COMPOUND, (24, 14.0))
_CHOICES: dict[tuple[bool, bool], tuple[tuple[int, float], ...]] = {
    (False, False): _SIMPLE, (False, True): _SIMPLE_EXACT,
    (True, False): _COMPOUND, (True, True): _COMPOUND_EXACT,
}  # fmt: skip
SCATTER_SECONDS = 0.022
_EXACT_SHARE = 0.95
_EXACT = 0.008  # of a beat


class Bar(Struct, frozen=True):
    """A measure in model ticks from the beginning of the piece."""

    start: int
    length: int
    metre: Metre


class Beat(Struct, frozen=True):
    """A stretch with one grid: first tick, length, and how many parts it has (0: undecided)."""

    start: int
    length: int
    compound: bool
    parts: int = 0


class Grid(Struct, frozen=True):
    """The decided beats of a piece; `exact` where the file's times were already on a grid."""

    beats: tuple[Beat, ...]
    exact: bool

    def beat(self, tick: float) -> Beat:
        """The beat a moment is in (the last one for what is later)."""
        index = bisect_right(self.beats, tick, key=lambda b: b.start) - 1
        return self.beats[max(index, 0)]

    def snap(self, tick: float) -> int:
        """The nearest moment of the grid."""
        beat = self.beat(tick)
        part = round((tick - beat.start) * beat.parts / beat.length)
        return beat.start + part * beat.length // beat.parts

    def step(self, tick: int) -> int:
        """The length of the grid's steps at a moment."""
        beat = self.beat(tick)
        return beat.length // beat.parts


def beats_of(bar: Bar) -> list[Beat]:
    """The beats of a measure, the last one cut where the measure is short."""
    pulses = bar.metre.pulse_ticks
    compound = bar.metre.compound or (len(pulses) == 1 and bar.metre.beats == 3)
    lengths = pulses if compound else [min(pulses[0], TICKS_PER_QUARTER)]
    found: list[Beat] = []
    at, number = 0, 0
    while at < bar.length:
        length = min(lengths[number % len(lengths)], bar.length - at)
        found.append(Beat(bar.start + at, length, compound))
        at += length
        number += 1
    return found


def decide(bars: Sequence[Bar], onsets: Sequence[float], seconds_per_quarter: float) -> Grid:
    """The grid of a piece from the onsets (in ticks, any order) of all its notes."""
    beats = [beat for bar in bars for beat in beats_of(bar)]
    starts = [beat.start for beat in beats]
    inside: list[list[float]] = [[] for _ in beats]
    for onset in onsets:
        index = max(0, bisect_right(starts, onset) - 1)
        inside[index].append((onset - starts[index]) / beats[index].length)
    fitting = sum(_on_a_grid(f) for row in inside for f in row)
    exact = fitting >= _EXACT_SHARE * len(onsets)
    decided = []
    for beat, row in zip(beats, inside, strict=True):
        seconds = seconds_per_quarter * beat.length / TICKS_PER_QUARTER
        scatter = _EXACT if exact else min(0.06, max(0.015, SCATTER_SECONDS / seconds))
        decided.append(Beat(beat.start, beat.length, beat.compound, _parts(beat, row, scatter)))
    return Grid(tuple(decided), exact)


def _on_a_grid(fraction: float) -> bool:
    return any(abs(fraction * n - round(fraction * n)) < _EXACT * n / 8 for n in (16, 12, 10, 14))


def _parts(beat: Beat, fractions: Sequence[float], scatter: float) -> int:
    choices = _CHOICES[beat.compound, scatter == _EXACT]

    def cost(choice: tuple[int, float]) -> float:
        parts, price = choice
        wrong = (f - round(f * parts) / parts for f in fractions)
        return price + sum((w / scatter) ** 2 for w in wrong)

    return min(choices, key=cost)[0]
