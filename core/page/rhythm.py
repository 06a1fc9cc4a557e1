"""Which notes are beamed together, from the metre (from memory of the handbooks, engraving.md).

3/4 in quarters; 6/8 3+3; 4/4 eighths never across the middle, sixteenths by the beat; 2/2 by half.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate

from core.model import TICKS_PER_QUARTER, TICKS_PER_WHOLE, Event, Metre
from core.page.glyphs import FLAGS

EIGHTH = TICKS_PER_QUARTER // 2


@lru_cache(maxsize=128)
def beats(metre: Metre) -> tuple[int, ...]:
    """Where the beamed beats of a measure begin, in ticks; one more for its end."""
    unit = TICKS_PER_WHOLE // metre.unit
    if len(metre.groups) == 1 and not metre.compound and metre.unit >= 8:
        lengths = tuple(n * unit for n in _odd_groups(metre.beats))
    else:
        lengths = metre.pulse_ticks
    return (0, *accumulate(lengths))


def _odd_groups(count: int) -> tuple[int, ...]:
    """Groups of an ungrouped simple metre in eighths or shorter: 2+2, 3+2, 2+2+3, three in one."""
    if count <= 3:
        return (count,)
    groups = [2] * (count // 2)
    if count % 2:
        groups[0 if count == 5 else -1] = 3
    return tuple(groups)


@lru_cache(maxsize=128)
def halves(metre: Metre) -> tuple[int, ...]:
    """Where plain eighths may be joined over two beats: the halves of 4/4, all of 2/4."""
    if metre.unit == 4 and metre.groups in ((4,), (2,)):
        return tuple(range(0, metre.ticks + 1, 2 * TICKS_PER_QUARTER))
    return beats(metre)


def groups(events: Sequence[tuple[int, Event]], metre: Metre) -> list[tuple[int, ...]]:
    """Indices of the events of one voice that share a beam; `events` are (onset, event).

    Rests, quarters and grace notes part beams. Groups of one are left out (they get flags).
    """
    found: list[tuple[int, ...]] = []
    wide = halves(metre)
    for start in wide:
        end = next((e for e in wide if e > start), None)
        inside = [
            i for i, (onset, event) in enumerate(events)
            if onset >= start and (end is None or onset < end) and event.grace is None
        ]  # fmt: skip
        plain = all(events[i][1].value.ticks == EIGHTH for i in inside)
        if plain:
            found += _runs(events, inside)
            continue
        for part in _split(inside, events, beats(metre)):
            found += _runs(events, part)
    return found


def _split(
    inside: list[int], events: Sequence[tuple[int, Event]], starts: tuple[int, ...]
) -> list[list[int]]:
    parts: dict[int, list[int]] = {}
    for index in inside:
        beat = sum(1 for start in starts if start <= events[index][0])
        parts.setdefault(beat, []).append(index)
    return list(parts.values())


def _runs(events: Sequence[tuple[int, Event]], indices: list[int]) -> list[tuple[int, ...]]:
    """Unbroken runs of beamable notes, two or more long."""
    runs: list[tuple[int, ...]] = []
    run: list[int] = []
    for index in indices:
        event = events[index][1]
        if event.is_rest or FLAGS[event.value.base] == 0:
            runs.append(tuple(run))
            run = []
        else:
            run.append(index)
    runs.append(tuple(run))
    return [run for run in runs if len(run) > 1]


def beam_levels(values: Sequence[tuple[int, int, int]]) -> list[list[tuple[int, int, int]]]:
    """Beams of a group, level by level: (first, last, stub) by index into the group.

    `values` are (onset, flags, ticks). A run of one gets a stub: -1 to the left, 1 to the right;
    stub is 0 for a full beam. A stub points to the note it shares its beat with (from memory).
    """
    count = len(values)
    deepest = max(flags for _, flags, _ in values)
    levels: list[list[tuple[int, int, int]]] = [[(0, count - 1, 0)]]
    for level in range(2, deepest + 1):
        row: list[tuple[int, int, int]] = []
        index = 0
        while index < count:
            if values[index][1] < level:
                index += 1
                continue
            last = index
            while last + 1 < count and values[last + 1][1] >= level:
                last += 1
            stub = 0 if last > index else _stub(index, count, values)
            row.append((index, last, stub))
            index = last + 1
        levels.append(row)
    return levels


def _stub(index: int, count: int, values: Sequence[tuple[int, int, int]]) -> int:
    if index == 0:
        return 1
    if index == count - 1:
        return -1
    onset, _, ticks = values[index]
    return 1 if onset % (2 * ticks) == 0 else -1
