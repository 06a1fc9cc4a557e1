"""Which events of a measure begin and end a tuplet, for the brackets other programs draw."""

from __future__ import annotations

from collections import defaultdict

from core.model import Measure
from core.model.tuplets import runs

DEEPEST = 6  # tuplet numbers go with the nesting; MusicXML 4.0 has 16


def brackets(measure: Measure) -> dict[int, list[tuple[int, str]]]:
    """Event id -> (number of the tuplet, ``start`` or ``stop``); outermost tuplets are 1.

    Grouped as the page groups them; one note alone gets no bracket.
    """
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    stops: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for row in measure.voices:
        timed = [event for event in row if event.grace is None]
        deepest = max((len(event.value.tuplets) for event in timed), default=0)
        for depth in range(min(deepest, DEEPEST)):
            for run in runs(timed, depth):
                if len(run) > 1:
                    found[run[0].id].append((depth + 1, "start"))
                    stops[run[-1].id].insert(0, (depth + 1, "stop"))
    for number, ends in stops.items():
        found[number] += ends
    return dict(found)
