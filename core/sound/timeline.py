"""The timeline: every stroke with its first and last sample, string-true; and the playhead.

Onsets are rounded from exact ticks, each by itself, so that nothing can drift.

Ring rules (the trade's common practice, no source, where no sign says otherwise):
a new stroke on a string chokes the old one; a fretted note stops at its written end, or earlier
where its finger must go to another fret; an open string, a natural harmonic and a note marked to
let ring sound on until their string is struck again, a damp mark, or a visible rest at which
nothing is written to sound. Notes without a place sound for their written length.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction

from msgspec import Struct

from core.model import Lesson
from core.sound.performance import Performance, perform
from core.sound.plan import MeasureRange, OccurrenceRange, OneSection, Plan, Whole
from core.sound.ring import TAIL_SECONDS, Stroke, strokes
from core.sound.tempo import TempoMap

__all__ = [
    "DEFAULT_RATE", "Click", "MeasureRange", "OccurrenceRange", "OneSection", "Plan", "Position",
    "Stroke", "Timeline", "Whole", "timeline",
]  # fmt: skip

DEFAULT_RATE = 48_000


class Click(Struct, frozen=True):
    """A click: its first sample and rank (0 first beat, 1 beat, 2 between beats)."""

    on: int
    rank: int
    gain: float


class Position(Struct, frozen=True):
    """Where a heard measure begins: sample, tick of the performance, occurrence, measure id;
    and its length in ticks."""

    sample: int
    tick: int
    occurrence: int
    measure: int
    length: int


class Timeline(Struct, frozen=True):
    """Immutable. `strokes` and `clicks` are ordered by `on`; `music_start` and `music_end` are the
    samples of the first and after the last measure; `total` adds the ring of the last strings."""

    rate: int
    strokes: tuple[Stroke, ...]
    clicks: tuple[Click, ...]
    positions: tuple[Position, ...]
    tempo: TempoMap
    music_start: int
    music_end: int
    total: int
    longest: int

    @property
    def seconds(self) -> float:
        """The length of the music in seconds, count-in included, the last ring not."""
        return self.music_end / self.rate

    def at(self, sample: int) -> tuple[int, int, int]:
        """(occurrence index, measure id, tick in the measure) that sounds at a sample.

        In a count-in it is the beginning of the measure that follows; after the end the last
        one's end.
        """
        inside = min(max(sample, self.music_start), self.music_end)
        index = max(bisect_right(self.positions, inside, key=lambda p: p.sample) - 1, 0)
        here = self.positions[index]
        tick = self.tempo.tick(Fraction(inside, self.rate)) - here.tick
        if tick >= here.length and index + 1 < len(self.positions):
            here, tick = self.positions[index + 1], 0
        return here.occurrence, here.measure, min(max(0, tick), here.length)

    def counting_in(self, sample: int) -> bool:
        """Whether the first count-in is still clicking."""
        return sample < self.music_start

    def sample_of(self, occurrence: int) -> int:
        """The first sample of an occurrence when first heard; the music's start if it is not."""
        return next(
            (p.sample for p in self.positions if p.occurrence == occurrence), self.music_start
        )

    def sample_at(self, other: Timeline, sample: int) -> int:
        """The sample of the same moment of the music as `sample` of another timeline.

        Its start where the measure that sounds there is not heard here.
        """
        if other.counting_in(sample):
            return 0
        index = bisect_right(other.positions, sample, key=lambda p: p.sample) - 1
        there = other.positions[max(index, 0)]
        here = self.positions[index] if index < len(self.positions) else None
        if here is None or here.occurrence != there.occurrence or here.measure != there.measure:
            here = next((p for p in self.positions if p.measure == there.measure), None)
        if here is None:
            return 0
        tick = other.at(sample)[2]
        return round(self.tempo.second(here.tick + tick) * self.rate)


def timeline(lesson: Lesson, plan: Plan, rate: int = DEFAULT_RATE) -> Timeline:
    """The timeline of a plan at `rate` samples a second. Raises BadInput (see `Plan`, `chosen`)."""
    performance = perform(lesson, plan)

    def sample(tick: int) -> int:
        return round(performance.tempo.second(tick) * rate)

    end = sample(performance.end)
    rung = strokes(performance, lesson.arrangement.instrument, plan.gains, sample, rate)
    last = max((s.end for s in rung), default=end)
    clicks = tuple(Click(sample(c.tick), c.rank, plan.click_gain) for c in performance.clicks)
    return Timeline(
        rate,
        rung,
        clicks,
        _positions(performance, sample),
        performance.tempo,
        sample(performance.music_start),
        end,
        max(end, min(last, end + round(TAIL_SECONDS * rate))),
        max((s.end - s.on for s in rung), default=0),
    )


def _positions(performance: Performance, sample: Callable[[int], int]) -> tuple[Position, ...]:
    return tuple(
        Position(
            sample(h.start), h.start, h.occurrence.index, h.occurrence.measure.id,
            h.occurrence.measure.length_ticks,
        )
        for h in performance.heard
    )  # fmt: skip
