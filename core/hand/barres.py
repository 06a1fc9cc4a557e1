"""Barres of a solution, as marks of the lesson: where finger 1 lies over several strings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from msgspec import Struct, structs

from core.hand.passage import Spot
from core.model import Arrangement, Barre, Lesson, Span, walk


class LaidBarre(Struct, frozen=True):
    """A barre from one event to another (ids), over strings `thin` to `thick`."""

    start: int
    end: int
    fret: int
    thin: int
    thick: int

    def mark(self) -> Barre:
        """The figures of the mark: counted from string 1 where it lies there."""
        strings = self.thick - self.thin + 1
        return Barre(self.fret, strings, None if self.thin == 1 else self.thick)


class Hold(NamedTuple):
    """What the hand holds at an onset: the barre (fret, thinnest, thickest string; None: none, or
    marked already), every spot that is down, the event to hang a mark on, and whether the onset
    belongs to what was asked for."""

    barre: tuple[int, int, int] | None
    spots: tuple[Spot, ...]
    event: int
    free: bool


def laid(holds: Sequence[Hold]) -> Iterator[LaidBarre]:
    """The barres of a row of onsets in which something free was struck.

    A barre that grows or shrinks while it is held is one mark over all its strings, unless one of
    them sounds otherwise meanwhile.
    """
    for run in _runs(holds):
        if any(hold.free for hold in run):
            yield LaidBarre(run[0].event, run[-1].event, *_over(run))


def _runs(holds: Sequence[Hold]) -> Iterator[list[Hold]]:
    run: list[Hold] = []
    for hold in holds:
        if run and not (hold.barre and _goes_on(run, hold)):
            yield run
            run = []
        if hold.barre:
            run.append(hold)
    if run:
        yield run


def _over(run: Sequence[Hold]) -> tuple[int, int, int]:
    barres = [hold.barre for hold in run if hold.barre]
    return barres[0][0], min(b[1] for b in barres), max(b[2] for b in barres)


def _goes_on(run: list[Hold], hold: Hold) -> bool:
    """Whether one mark can stand for the barres of a run and the next: the same fret, strings that
    meet, and nothing under it that is lower or belongs to another finger."""
    assert hold.barre is not None
    fret, thin, thick = _over(run)
    if hold.barre[0] != fret or hold.barre[1] > thick or hold.barre[2] < thin:
        return False
    _, thin, thick = _over([*run, hold])
    under = (s for h in (*run, hold) for s in h.spots if thin <= s.string <= thick)
    return all(s.fret > fret or (s.fret == fret and s.finger == 1) for s in under)


def marked(
    lesson: Lesson, barres: Sequence[LaidBarre], window: frozenset[int] | None, solver: str
) -> Lesson:
    """The lesson with these suggested barres instead of those that were suggested before in the
    measures asked for (all: None); the same object where nothing is new."""
    former: list[Span] = []
    kept: list[Span] = []
    homes = _homes(lesson.arrangement)
    for span in lesson.arrangement.spans:
        mine = span.suggested and span.kind == "barre" and _within(span, homes, window)
        (former if mine else kept).append(span)
    known = {structs.replace(span, id=0): span for span in former}
    renewed, next_id = [], lesson.next_id
    for barre in barres:
        span = Span(0, "barre", barre.start, barre.end, barre=barre.mark(), suggested=True)
        if span in known:
            renewed.append(known[span])
        else:
            renewed.append(structs.replace(span, id=next_id))
            next_id += 1
    if renewed == former:
        return lesson
    arrangement = structs.replace(lesson.arrangement, spans=(*kept, *renewed))
    return structs.replace(lesson, arrangement=arrangement, next_id=next_id, solver=solver)


def _homes(arrangement: Arrangement) -> dict[int, int]:
    """The measure of every event and note."""
    homes: dict[int, int] = {}
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            homes[located.event.id] = measure.id
            homes.update((note.id, measure.id) for note in located.event.notes)
    return homes


def _within(span: Span, homes: dict[int, int], window: frozenset[int] | None) -> bool:
    return window is None or any(homes.get(end) in window for end in (span.start, span.end))
