"""Which events of a voice make one tuplet: for the page's brackets and for other programs'."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.model.notes import Event


def runs(events: Sequence[Event], depth: int) -> Iterator[list[Event]]:
    """The tuplets at a depth (0 is outermost) in the events of one voice, grace notes left out.

    A tuplet is full when its time is a whole number of `normal` of the smallest value in it.
    """
    run: list[Event] = []
    for event in events:
        stack = event.value.tuplets
        if event.grace is not None:
            continue
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
