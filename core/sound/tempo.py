"""The written tempo of every measure: marks, rit. and accel., a tempo; and the map to seconds.

Speeds are ticks a second. Gradual changes follow v(x) = [1 + (w^q - 1) x]^(1/q) with q = 3
(A. Friberg & J. Sundberg, JASA 105:1469, 1999; the formula from memory), in steps of a sixteenth,
each a whole number of microseconds a quarter, so that the MIDI file says the very same.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Literal

from msgspec import Struct

from core.model import TICKS_PER_QUARTER, Arrangement, Section, TempoMark, walk

# House defaults: how far words alone change the speed, and over how many measures at most.
SLOWEST = 0.6
FASTEST = 1.4
GRADUAL_MEASURES = 2
_CURVE = 3
_STEP = TICKS_PER_QUARTER // 4


class Pace(Struct, frozen=True):
    """From tick `at` of a measure on, so many ticks a second at the goal tempo."""

    at: int
    speed: Fraction


class _Change(Struct, frozen=True):
    """A change of tempo inside a section; `until` is set where a line says how far it reaches."""

    at: int
    kind: Literal["set", "back", "slower", "faster"]
    speed: Fraction = Fraction(0)
    until: int | None = None


def written_paces(arrangement: Arrangement, slowing: bool = True) -> dict[int, tuple[Pace, ...]]:
    """Measure id -> its paces, the first at tick 0; with `slowing` False rit. and accel. are left.

    A metronome mark holds until the next; rit. and accel. by words end with their section or
    ending, by a line with the line, and the slower speed holds until a tempo mark or section end.
    """
    tempo = arrangement.tempo
    base = _speed(tempo.beat.ticks, tempo.per_minute)
    table: dict[int, tuple[Pace, ...]] = {}
    ends = _event_places(arrangement)
    for section in arrangement.sections:
        changes = [*_marked(section, arrangement), *_lines(section, arrangement, ends)]
        if not slowing:
            changes = [c for c in changes if c.kind in ("set", "back")]
        paces, base = _section_paces(section, sorted(changes, key=lambda c: c.at), base)
        start = 0
        for measure in section.measures:
            table[measure.id] = _cut(paces, start, start + measure.length_ticks)
            start += measure.length_ticks
    return table


def _speed(beat_ticks: int, per_minute: float) -> Fraction:
    return Fraction(per_minute).limit_denominator(10**6) * beat_ticks / 60


def _event_places(arrangement: Arrangement) -> dict[int, tuple[int, int, int]]:
    """Event or note id -> (section id, start, end) in ticks from the section's start."""
    table: dict[int, tuple[int, int, int]] = {}
    for section in arrangement.sections:
        start = 0
        for measure in section.measures:
            for located in walk.events(measure):
                begin = start + located.onset
                place = (section.id, begin, begin + located.event.ticks)
                table[located.event.id] = place
                table.update((note.id, place) for note in located.event.notes)
            start += measure.length_ticks
    return table


def _marked(section: Section, arrangement: Arrangement) -> Iterator[_Change]:
    start = 0
    for measure in section.measures:
        for mark in measure.marks:
            if isinstance(mark, TempoMark) and (change := _of_mark(mark, start, arrangement)):
                yield change
        start += measure.length_ticks


def _of_mark(mark: TempoMark, start: int, arrangement: Arrangement) -> _Change | None:
    at = start + mark.at.ticks
    if mark.per_minute is not None:
        beat = mark.beat or arrangement.tempo.beat
        return _Change(at, "set", _speed(beat.ticks, mark.per_minute))
    match mark.effect:
        case "a tempo":
            return _Change(at, "back")
        case "slower" | "faster" as kind:
            return _Change(at, kind)
    return None


def _lines(
    section: Section, arrangement: Arrangement, places: dict[int, tuple[int, int, int]]
) -> Iterator[_Change]:
    for span in arrangement.spans:
        begin, end = places.get(span.start), places.get(span.end)
        if span.kind != "tempo" or begin is None or end is None or begin[0] != section.id:
            continue
        quicker = span.text.lower().startswith(("acc", "string", "stretto", "poco acc"))
        until = end[2] if end[0] == section.id else _length(section)
        yield _Change(begin[1], "faster" if quicker else "slower", until=until)


def _length(section: Section) -> int:
    return sum(measure.length_ticks for measure in section.measures)


def _section_paces(
    section: Section, changes: Sequence[_Change], base: Fraction
) -> tuple[list[Pace], Fraction]:
    """The paces of a section from its start, and the base tempo it leaves behind."""
    paces = [Pace(0, base)]
    for index, change in enumerate(changes):
        if change.kind == "set":
            base = change.speed
        if change.kind in ("set", "back"):
            paces = [p for p in paces if p.at < change.at] + [Pace(change.at, base)]
            continue
        following = [c.at for c in changes[index + 1 :] if c.at > change.at]
        stop = min([_gradual_end(section, change), *following[:1]])
        target = SLOWEST if change.kind == "slower" else FASTEST
        current = paces[bisect_right(paces, change.at, key=lambda p: p.at) - 1].speed
        paces = [p for p in paces if p.at < change.at]
        paces += _gradual(change.at, stop, current, target)
    return paces, base


def _gradual_end(section: Section, change: _Change) -> int:
    if change.until is not None:
        return change.until
    start, ends = 0, {ending.last for ending in section.endings}
    inside, left = False, GRADUAL_MEASURES
    for measure in section.measures:
        start += measure.length_ticks
        inside = inside or start > change.at
        left -= inside
        if inside and (left == 0 or measure.id in ends):
            return start
    return start


def _gradual(start: int, stop: int, current: Fraction, target: float) -> Iterator[Pace]:
    """Steps from the current speed to `target` times it, each at the middle of its sixteenth."""
    length = max(1, stop - start)
    for at in range(start, max(stop, start + 1), _STEP):
        x = min(1.0, (at + min(_STEP, length) / 2 - start) / length)
        factor = (1 + (target**_CURVE - 1) * x) ** (1 / _CURVE)
        micros = round(10**6 * TICKS_PER_QUARTER / float(current) / factor)
        yield Pace(at, Fraction(10**6 * TICKS_PER_QUARTER, micros))


def _cut(paces: Sequence[Pace], start: int, stop: int) -> tuple[Pace, ...]:
    """The paces that hold between two ticks, counted from the first of them."""
    first = bisect_right(paces, start, key=lambda p: p.at) - 1
    inside = [p for p in paces[first + 1 :] if p.at < stop]
    return (Pace(0, paces[first].speed), *(Pace(p.at - start, p.speed) for p in inside))


class Stretch(Struct, frozen=True):
    """A stretch of constant speed: from this tick and this second on, ticks a second."""

    tick: int
    second: Fraction
    speed: Fraction


class TempoMap(Struct, frozen=True):
    """From ticks to seconds and back, exactly. `stretches` is never empty and ordered by tick."""

    stretches: tuple[Stretch, ...]

    def second(self, tick: int) -> Fraction:
        """The moment of a tick, in seconds."""
        index = bisect_right(self.stretches, tick, key=lambda s: s.tick) - 1
        stretch = self.stretches[max(index, 0)]
        return stretch.second + (tick - stretch.tick) / stretch.speed

    def tick(self, second: Fraction | float) -> int:
        """The tick that is sounding at a moment."""
        index = bisect_right(self.stretches, second, key=lambda s: s.second) - 1
        stretch = self.stretches[max(index, 0)]
        return stretch.tick + int((second - stretch.second) * stretch.speed)


def tempo_map(steps: Iterable[tuple[int, Fraction]]) -> TempoMap:
    """The map of (tick, speed) steps in order of tick; equal neighbours are joined."""
    found: list[Stretch] = []
    for tick, speed in steps:
        if not found:
            found.append(Stretch(tick, Fraction(0), speed))
            continue
        last = found[-1]
        if speed == last.speed:
            continue
        second = last.second + (tick - last.tick) / last.speed
        if tick == last.tick:
            found.pop()
        found.append(Stretch(tick, second, speed))
    return TempoMap(tuple(found))
