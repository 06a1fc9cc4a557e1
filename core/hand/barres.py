"""Barres of a solution, as marks of the lesson: where finger 1 lies over several strings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from msgspec import Struct

from core.hand.passage import Spot
from core.model import Barre


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
