"""Fingerings of an arrangement: places, fingers, prices and what cannot be played.

`solve` is the one entrance; everything else reads a `Solved`. A `Workshop` keeps what was worked
out before, so that the next question about the same music is answered faster.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple

import numpy as np
from msgspec import Struct, structs

from core.hand import anatomy, music, ways
from core.hand.anatomy import Reach
from core.hand.barres import Hold, LaidBarre, laid
from core.hand.features import NAMES
from core.hand.lattice import Lattice, Store
from core.hand.music import Keep, Task
from core.hand.passage import THUMB, Passage, Spot
from core.hand.search import search
from core.hand.sounding import heard
from core.hand.strokes import Limits, Stroke
from core.hand.tables import tables
from core.hand.weights import FITTED
from core.model import (
    TICKS_PER_QUARTER,
    Arrangement,
    Finger,
    HandProfile,
    Label,
    LevelContract,
    Origin,
    Place,
)

SOLVER = "exact hand/1"


class Terms(Struct, frozen=True):
    """What a fingering is asked for: the level, the hand (spans or age), the measures wanted
    (all: None), what to keep beside what is firm, and the weights (in the order of `NAMES`).

    `hardest_first`: make the hardest single move as easy as it can be before anything else.
    """

    contract: LevelContract = LevelContract()
    hand: HandProfile = HandProfile()
    age: int | None = None
    window: frozenset[int] | None = None
    keep: Keep = ""
    weights: tuple[float, ...] = FITTED
    hardest_first: bool = False
    bass_rings: bool = False


class Workshop:
    """What was worked out before, by hand, neck and weights. Whoever solves often keeps one."""

    def __init__(self) -> None:
        self._stores: dict[tuple[Reach, tuple[float, ...]], Store] = {}

    def store(self, reach: Reach, weights: tuple[float, ...]) -> Store:
        key = (reach, weights)
        if key not in self._stores:
            self._stores[key] = Store(tables(reach, weights))
        return self._stores[key]


class Solved(NamedTuple):
    """A passage with its cheapest way (one state an onset) and the spot of every tone."""

    task: Task
    terms: Terms
    reach: Reach
    lattice: Lattice
    way: ways.Way
    spots: tuple[Spot | None, ...]

    @property
    def cost(self) -> float:
        """The price of the way; a release counts 10,000, a note left out about ten million."""
        return ways.cost(self.lattice, self.way)


class Release(NamedTuple):
    """A note that must be let go early: it rings `quarters` instead of `written` ones."""

    note: int
    measure: int
    quarters: float
    written: float


class Suggested(NamedTuple):
    """Labels by note id, notes that no hand can play here, notes that must be let go early, and
    the barres; `window`: the measures that were asked for (all: None)."""

    places: dict[int, Label[Place]]
    fingers: dict[int, Label[Finger]]
    unplaced: tuple[int, ...]
    released: tuple[Release, ...]
    barres: tuple[LaidBarre, ...] = ()
    window: frozenset[int] | None = None


def solve(
    arrangement: Arrangement, terms: Terms | None = None, workshop: Workshop | None = None
) -> Solved | None:
    """The exact optimum for these terms; None where there is nothing to finger.

    Firm labels, position numerals and barre marks are kept. Pinned places may lie beyond the
    contract: the teacher knows.
    """
    terms = terms or Terms()
    pinned = music.pins(arrangement)
    reach = _reach(arrangement, terms, pinned)
    highest = min(terms.contract.highest_fret, reach.last_fret)
    high = reach.last_fret if reach.usual else 0
    limits = Limits(arrangement.instrument, highest, reach.spans_mm[2], high)
    sounds = heard(arrangement, _with_neighbours(arrangement, terms.window))
    task = music.task(
        sounds,
        music.Terms(
            limits, terms.contract.fingers, terms.keep, terms.window, terms.contract.most_notes
        ),
        pinned,
    )
    if not task.passage.onsets:
        return None
    return solve_task(task, terms, reach, workshop)


def solve_task(task: Task, terms: Terms, reach: Reach, workshop: Workshop | None = None) -> Solved:
    """The optimum of a passage that was put together before."""
    store = (workshop or Workshop()).store(reach, terms.weights)
    firm = bass(task) if terms.bass_rings else frozenset()
    lattice = search(task.passage, store.tables, store, firm)
    way = ways.easiest_worst(lattice) if terms.hardest_first else lattice.path()
    spots = tuple(lattice.tables.layout.spot(code) for code in lattice.codes(way))
    return Solved(task, terms, reach, lattice, way, spots)


def bass(task: Task) -> frozenset[int]:
    """The tones that are the lowest of their onset and ring on."""
    rows = task.passage.struck()
    lowest = (min(row, key=lambda i: task.strokes[i].midi) for row in rows if row)
    tones = task.passage.tones
    return frozenset(i for i in lowest if tones[i].last > tones[i].first)


def _reach(arrangement: Arrangement, terms: Terms, pinned: music.Pins) -> Reach:
    """The hand within the contract, widened by what is pinned beyond it."""
    firm = [
        note.place.value.fret
        for sound in heard(arrangement)
        for note in sound.notes
        if note.place is not None and (note.place.firm or terms.keep or terms.window is not None)
    ]
    contract = terms.contract
    highest = max([contract.highest_fret, *firm])
    positions = [contract.highest_position, *pinned.positions.values()]
    loose = bool(terms.keep) or terms.window is not None
    positions += [barre.fret for barre in pinned.barres if loose or not barre.suggested]
    positions += [fret - 3 for fret in firm if fret > contract.highest_fret]
    wider = structs.replace(
        contract, highest_fret=max(highest, *positions), highest_position=max(positions)
    )
    return anatomy.reach(arrangement.instrument, wider, terms.hand, terms.age)


def _with_neighbours(
    arrangement: Arrangement, window: Collection[int] | None
) -> frozenset[int] | None:
    """The measures of a window and those beside it, whose fingers it has to meet."""
    if window is None:
        return None
    order = [m.id for section in arrangement.sections for m in section.measures]
    inside = [n for n, measure in enumerate(order) if measure in window]
    near = {n + d for n in inside for d in (-1, 0, 1)}
    return frozenset(order[n] for n in near if 0 <= n < len(order))


def suggested(solved: Solved) -> Suggested:
    """What a solution says about the notes that were asked for."""
    found = Suggested({}, {}, (), ())
    unplaced: list[int] = []
    for stroke, spot, free in zip(solved.task.strokes, solved.spots, solved.task.free, strict=True):
        for sound in stroke.sounds if free else ():
            for note, measure in zip(sound.notes, sound.measures, strict=True):
                if solved.terms.window is not None and measure not in solved.terms.window:
                    continue
                if spot is None:
                    unplaced.append(note.id)
                    continue
                if note.place is None or not note.place.firm:
                    place = Place(spot.string, spot.fret)
                    found.places[note.id] = Label(place, Origin.SUGGESTED)
                asks = note is sound.first and note.harmonic is None
                if asks and (note.finger is None or not note.finger.firm):
                    found.fingers[note.id] = Label(finger(spot), Origin.SUGGESTED)
    return found._replace(
        unplaced=tuple(unplaced), released=tuple(releases(solved)),
        barres=tuple(barres(solved)), window=solved.terms.window,
    )  # fmt: skip


def barres(solved: Solved) -> Iterator[LaidBarre]:
    """The barres of a solution that nobody has marked, within what was asked for."""
    lattice, task = solved.lattice, solved.task
    layout = lattice.tables.layout
    thin, thick, fret = layout.columns(1)
    holds = []
    for number, (state, row) in enumerate(zip(solved.way, task.passage.struck(), strict=True)):
        here = lattice.states(number)
        place = here.fingers[state, 0]
        barre = (int(fret[place]), int(thin[place]), int(thick[place]))
        own = task.pinned.barre_at(task.moments[number][0])
        marked = (
            own is not None
            and own.fret == barre[0]
            and (own.thin <= barre[1] and barre[2] <= own.thick)
        )
        spots = (layout.spot(int(code)) for code in here.codes[state])
        holds.append(
            Hold(
                barre if barre[1] < barre[2] and not marked else None,
                tuple(spot for spot in spots if spot is not None),
                task.strokes[row[0]].sounds[0].event,
                any(task.free[i] for i in row),
            )
        )
    return laid(holds)


def finger(spot: Spot) -> Finger:
    """The figure printed for a spot."""
    return Finger.THUMB if spot.finger == THUMB else Finger(str(spot.finger))


def releases(solved: Solved) -> list[Release]:
    """The notes that a solution lets go before their written end; where voices share a stroke,
    those that would ring longer."""
    found: list[Release] = []
    lattice, task = solved.lattice, solved.task
    for index, tone in enumerate(task.passage.tones):
        for number in range(tone.first + 1, tone.last + 1):
            column = lattice.present[number].index(index)
            code = lattice.states(number).codes[solved.way[number], column]
            if solved.spots[index] is not None and code == lattice.tables.layout.dropped:
                found += _cut(task.strokes[index], task.moments[number][0])
                break
    return found


def _cut(stroke: Stroke, moment: int) -> Iterator[Release]:
    start = stroke.start[0]
    for sound in stroke.sounds:
        end = min(sound.end, stroke.end)
        if end > moment:
            quarters = (moment - start) / TICKS_PER_QUARTER
            written = (end - start) / TICKS_PER_QUARTER
            yield Release(sound.first.id, sound.measures[0], quarters, written)


def by_feature(solved: Solved) -> dict[str, float]:
    """What the way costs, by feature: sums to the cost but for releases and notes left out."""
    counts = ways.features(solved.lattice, solved.way).sum(axis=0)
    costs = counts * np.array(solved.terms.weights)
    return {name: float(cost) for name, cost in zip(NAMES, costs, strict=True) if abs(cost) > 1e-12}


class Price(NamedTuple):
    """A way to play one note, and how much dearer the whole passage is at best with it."""

    spot: Spot
    more: float


def prices(solved: Solved, note: int) -> list[Price]:
    """Every other string and finger of a note with its exact price, cheapest first.

    Raises KeyError when the note is not struck in the passage.
    """
    tone = tone_of(solved, note)
    found = solved.lattice.prices(tone)
    least = min(found.values())
    spots = ((solved.lattice.tables.layout.spot(code), cost) for code, cost in found.items())
    rows = [Price(spot, cost - least) for spot, cost in spots if spot is not None]
    return sorted(rows, key=lambda row: (row.more, row.spot))


def tone_of(solved: Solved, note: int) -> int:
    """The tone a written note belongs to."""
    for index, stroke in enumerate(solved.task.strokes):
        if any(n.id == note for sound in stroke.sounds for n in sound.notes):
            return index
    raise KeyError(f"note {note} is not in the passage")


def narrowed(passage: Passage, wanted: Mapping[int, Collection[Spot]]) -> Passage:
    """The passage with some tones held to some spots."""
    tones = tuple(
        structs.replace(tone, menu=tuple(s for s in tone.menu if s in wanted[index]))
        if index in wanted
        else tone
        for index, tone in enumerate(passage.tones)
    )
    return Passage(passage.onsets, tones)


def otherwise(
    solved: Solved, wanted: Mapping[int, Collection[Spot]], workshop: Workshop | None = None
) -> Solved:
    """The optimum of the same passage with some tones, by index, held to some spots."""
    task = structs.replace(solved.task, passage=narrowed(solved.task.passage, wanted))
    return solve_task(task, solved.terms, solved.reach, workshop)
