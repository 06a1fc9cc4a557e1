"""How hard each event is struck: dynamics, hairpins, accents and the weight of the beat.

Velocities run from 1 to 127. Levels and weights are house defaults (taste, not published); the
order of beat weights is that of F. Lerdahl & R. Jackendoff, 1983 (strong beats two or three apart).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction

from core.model import Arrangement, Articulation, Dynamic, Event, Measure, Metre, walk
from core.model.roadmap import second_time

LEVELS = {
    "ppp": 30, "pp": 42, "p": 54, "mp": 66, "mf": 78, "f": 92, "ff": 106, "fff": 116,
}  # fmt: skip
USUAL = LEVELS["mf"]
SUDDEN = {"sf", "sfz", "fz", "sffz", "rf", "rfz"}
_STRESS = {"accent": 14, "strong accent": 22, "tenuto": 4}
_SUDDEN_STRESS = 20
_HAIRPIN = 14
_WEIGHT = 16


def velocities(arrangement: Arrangement) -> dict[int, int]:
    """Event id -> velocity, as written (the same in every pass)."""
    places = _places(arrangement)
    levels = _levels(arrangement, places)
    at = [level[0] for level in levels]
    table: dict[int, int] = {}
    start = 0
    for measure in walk.measures(arrangement):
        for located in _events(measure):
            tick = start + located.onset
            level = _level_at(levels, at, tick)
            weight = beat_weight(measure, located.onset)
            stress = _stress(located.event) + _WEIGHT * (weight - 0.5)
            table[located.event.id] = max(1, min(127, round(level + stress)))
        start += measure.length_ticks
    return table


def _events(measure: Measure) -> Iterator[walk.Located]:
    """The events of a measure and of its variation for the second time."""
    yield from walk.events(measure)
    varied = second_time(measure)
    if varied is not None:
        yield from walk.events(varied)


def _places(arrangement: Arrangement) -> dict[int, int]:
    """Event or note id -> onset in ticks from the start of the written piece."""
    table: dict[int, int] = {}
    start = 0
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            table[located.event.id] = start + located.onset
            table.update((note.id, start + located.onset) for note in located.event.notes)
        start += measure.length_ticks
    return table


Level = tuple[int, float, float]  # from this tick: level, and the level at the next entry


def _levels(arrangement: Arrangement, places: dict[int, int]) -> list[Level]:
    marked: list[tuple[int, float]] = [(0, USUAL)]
    start = 0
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            for mark in located.event.marks:
                if isinstance(mark, Dynamic) and mark.text in LEVELS:
                    marked.append((start + located.onset, LEVELS[mark.text]))
                elif isinstance(mark, Dynamic) and mark.text == "fp":
                    marked.append((start + located.onset + 1, LEVELS["p"]))
        start += measure.length_ticks
    marked.sort(key=lambda m: m[0])
    flat = [(tick, level, level) for tick, level in marked]
    for span in arrangement.spans:
        if span.kind in ("crescendo", "diminuendo") and {span.start, span.end} <= places.keys():
            rise = _HAIRPIN if span.kind == "crescendo" else -_HAIRPIN
            flat = _with_hairpin(flat, places[span.start], places[span.end], rise)
    return flat


def _with_hairpin(levels: list[Level], start: int, end: int, rise: int) -> list[Level]:
    """The levels with a slope from `start` to `end`, towards a dynamic written at its end."""
    if end <= start:
        return levels
    at = [level[0] for level in levels]
    before = levels[bisect_right(at, start) - 1][2]
    written = [level for tick, level, _ in levels if start < tick <= end]
    goal = written[-1] if written and (written[-1] - before) * rise > 0 else before + rise
    kept = [entry for entry in levels if not start < entry[0] <= end and entry[0] != start]
    return sorted([*kept, (start, before, goal), (end, goal, goal)])


def _level_at(levels: list[Level], at: list[int], tick: int) -> float:
    index = bisect_right(at, tick) - 1
    start, first, last = levels[index]
    if first == last or index + 1 == len(levels):
        return last if index + 1 == len(levels) else first
    return first + (last - first) * float(Fraction(tick - start, at[index + 1] - start))


def _stress(event: Event) -> float:
    total = 0.0
    for mark in event.marks:
        if isinstance(mark, Articulation):
            total += _STRESS.get(mark.kind, 0)
        elif isinstance(mark, Dynamic) and (mark.text in SUDDEN or mark.text == "fp"):
            total += _SUDDEN_STRESS
    return total


def beat_weight(measure: Measure, onset: int) -> float:
    """1 on the first beat, .5 on a middle one, .25 on other beats and .2 off the beat.

    A short first measure (a pickup) is counted from the end of its metre.
    """
    short = measure.metre.ticks - measure.ticks
    return metre_weight(measure.metre, onset + (short if not measure.counted else 0))


def metre_weight(metre: Metre, onset: int) -> float:
    """The weight of a moment of a full measure."""
    pulses = metre.pulse_ticks
    if onset == 0:
        return 1.0
    starts = [sum(pulses[:n]) for n in range(len(pulses))]
    if onset not in starts:
        return 0.2
    if len(pulses) % 2 == 0 and starts.index(onset) == len(pulses) // 2:
        return 0.5
    return 0.5 if len(pulses) == 3 else 0.25
