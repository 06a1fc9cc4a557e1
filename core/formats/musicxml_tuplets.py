"""Which events of a measure begin and end a tuplet, for the brackets other programs draw."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from core.model import Event, Measure

DEEPEST = 6  # tuplet numbers go with the nesting; MusicXML 4.0 has 16


def brackets(measure: Measure) -> dict[int, list[tuple[int, str]]]:
    """Event id -> (number of the tuplet, ``start`` or ``stop``); outermost tuplets are 1.

    A tuplet is full when its time is a whole number of `normal` of the smallest value in it, as
    the page groups them. One note alone gets no bracket.
    """
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    stops: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for row in measure.voices:
        timed = [event for event in row if event.grace is None]
        deepest = max((len(event.value.tuplets) for event in timed), default=0)
        for depth in range(min(deepest, DEEPEST)):
            for run in _runs(timed, depth):
                if len(run) > 1:
                    found[run[0].id].append((depth + 1, "start"))
                    stops[run[-1].id].insert(0, (depth + 1, "stop"))
    for number, ends in stops.items():
        found[number] += ends
    return dict(found)


def _runs(events: Sequence[Event], depth: int) -> Iterator[list[Event]]:
    run: list[Event] = []
    for event in events:
        stack = event.value.tuplets
        if run and run[0].value.tuplets[: depth + 1] != stack[: depth + 1]:
            yield run
            run = []
        if len(stack) > depth:
            run.append(event)
            if _full(run, depth):
                yield run
                run = []
    if run:
        yield run


def _full(run: Sequence[Event], depth: int) -> bool:
    ticks = sum(event.value.ticks for event in run)
    _, normal = run[0].value.tuplets[depth]
    unit = min(event.value.base.ticks for event in run)
    for actual, outer_normal in run[0].value.tuplets[:depth]:
        unit = unit * outer_normal // actual
    return ticks % (normal * unit) == 0
