"""What cannot be played together: the smallest set of demands that clash, each named by itself.

A demand is a note that must be struck, a note that must ring on, a pinned string and fret, a
pinned finger, a position numeral, or a barre mark.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import Literal, NamedTuple

from msgspec import structs

from core.hand import music
from core.hand.fingering import Solved
from core.hand.lattice import Lattice
from core.hand.music import Task
from core.hand.passage import Menu, Passage
from core.hand.strokes import choices

Kind = Literal["finger", "place", "position", "barre", "stroke", "hold"]


class Demand(NamedTuple):
    """`of` is a tone (finger, place, stroke, hold), an onset (position), or the number of a barre
    mark in the pins of the task."""

    kind: Kind
    of: int


class Conflict(NamedTuple):
    """A smallest set of demands that no hand can meet together: tones that would have to ring on
    (`holds`), tones that must be struck (`strokes`), and of those with a pin that takes part: on
    their string (`places`), with their finger (`fingers`); the onsets of position numerals, the
    barre marks. `most`: how many notes the level allows at once, where that is what they exceed.
    """

    onset: int
    holds: tuple[int, ...]
    strokes: tuple[int, ...]
    places: tuple[int, ...] = ()
    fingers: tuple[int, ...] = ()
    positions: tuple[int, ...] = ()
    barres: tuple[int, ...] = ()
    most: int | None = None

    def demands(self) -> frozenset[Demand]:
        """Every demand by itself; what rings on must be struck first."""
        rows = (
            ("hold", self.holds), ("stroke", (*self.holds, *self.strokes)), ("place", self.places),
            ("finger", self.fingers), ("position", self.positions), ("barre", self.barres),
        )  # fmt: skip
        return frozenset(Demand(kind, of) for kind, row in rows for of in row)  # type: ignore[arg-type]


def conflicts(solved: Solved) -> list[Conflict]:
    """For each stretch in which nothing is playable, a smallest set of demands that clash.

    Deletion filter: every demand is dropped in turn, and stays dropped if the rest is still
    impossible; what remains is impossible together and possible without any one of them. Pins are
    dropped first, so that they are named only where the notes alone would do.
    """
    found = []
    for start, end in pairwise(solved.task.passage.cuts()):
        if solved.lattice.soft[start]:
            stretch = _Stretch(solved, start, end)
            if stretch.failed is not None:
                found.append(stretch.conflict())
    return found


class _Stretch:
    """The tones between two cuts, up to the first onset that cannot be reached."""

    def __init__(self, solved: Solved, start: int, end: int) -> None:
        self.task, self.start = solved.task, start
        self.known = solved.lattice
        tones = self.task.passage.tones
        inside = [i for i, tone in enumerate(tones) if start <= tone.first < end]
        self.last = end - 1
        self.failed = self._fails(self._every(inside))
        if self.failed is not None:
            self.last = start + self.failed
        self.all = self._every([i for i in inside if tones[i].first <= self.last])

    def _every(self, tones: Collection[int]) -> list[Demand]:
        """Pins first, then strokes, then what rings on."""
        rows = self.task.passage
        found = [*self._pins(tones)]
        for number in range(self.start, self.last + 1):
            if rows.onsets[number].position is not None:
                found.append(Demand("position", number))
        for number, barre in enumerate(self.task.pinned.barres):
            first, last = (self.task.moments[n][0] for n in (self.start, self.last))
            if not barre.suggested and barre.first <= last and barre.last >= first:
                found.append(Demand("barre", number))
        found += [Demand("stroke", i) for i in tones]
        held = (i for i in tones if min(rows.tones[i].last, self.last) > rows.tones[i].first)
        return [*found, *(Demand("hold", i) for i in held)]

    def _pins(self, tones: Collection[int]) -> Iterator[Demand]:
        for i in tones:
            if music.given_finger(self.task.strokes[i], self.task.terms) is not None:
                yield Demand("finger", i)
            if self.task.strokes[i].firm is not None:
                yield Demand("place", i)

    def _fails(self, demands: Collection[Demand], most: bool = True) -> int | None:
        """The onset of the stretch at which these demands cannot be met; None where they can."""
        passage = demanded(self.task, demands, (self.start, self.last), most)
        tables, store = self.known.tables, self.known.store
        return Lattice(passage, tables, (), store).failed_at

    def conflict(self) -> Conflict:
        """The smallest set, by deletion, until nothing more can go: a note that is dropped may
        have been what kept the hand in its position, so one round is not always enough."""
        demands, before = self.all, 0
        while len(demands) != before:
            before = len(demands)
            for demand in list(demands):
                rest = [d for d in demands if d != demand]
                if self._fails(rest) is not None:
                    demands = rest
        struck = {d.of for d in demands if d.kind == "stroke"}

        def of(kind: Kind) -> tuple[int, ...]:
            alone = kind in ("position", "barre")
            return tuple(d.of for d in demands if d.kind == kind and (alone or d.of in struck))

        crowded = self._fails(demands, most=False) is None
        holds = of("hold")
        strokes = tuple(i for i in of("stroke") if i not in holds)
        most = self.task.passage.onsets[self.last].most if crowded else None
        return Conflict(
            self.last, holds, strokes, of("place"), of("finger"), of("position"), of("barre"), most
        )


def demanded(
    task: Task, demands: Collection[Demand], onsets: tuple[int, int], most: bool = True
) -> Passage:
    """The passage from the first through the last of `onsets` in which only some demands are made.

    A dropped barre mark binds no note, but a barre may still be laid there.
    """
    first, last = onsets
    wanted = frozenset(demands)
    tones = []
    for index, tone in enumerate(task.passage.tones):
        if Demand("stroke", index) in wanted:
            end = min(tone.last, last) if Demand("hold", index) in wanted else tone.first
            tones.append(
                structs.replace(
                    tone, menu=_menu(task, index, wanted), first=tone.first - first,
                    last=end - first, keep=-1,
                )
            )  # fmt: skip
    rows = []
    for number in range(first, last + 1):
        onset = task.passage.onsets[number]
        position = onset.position if Demand("position", number) in wanted else None
        limit = onset.most if most else None
        rows.append(structs.replace(onset, position=position, most=limit))
    return Passage(tuple(rows), tuple(tones))


def _menu(task: Task, index: int, wanted: frozenset[Demand]) -> Menu:
    """The ways to play a tone under the pins that are wanted."""
    stroke = task.strokes[index]
    if stroke.firm is not None and Demand("place", index) not in wanted:
        found = choices(stroke.sounds[0].first, task.terms.limits)
        stroke = structs.replace(stroke, choices=found, firm=None)
    free = Demand("finger", index) not in wanted
    spots = music.menu(stroke, task.terms, free=free)
    for number, barre in enumerate(task.pinned.barres):
        here = barre.first <= stroke.start[0] <= barre.last
        if here and not barre.suggested and Demand("barre", number) in wanted:
            return music.barred(spots, barre)
    return spots
