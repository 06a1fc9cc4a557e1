"""The lattice of a passage: states of every onset, prices of every step, and what follows from
them: the cheapest way, exact prices of every other choice, and the next cheapest ways.

One state at each onset makes a way. Every price belongs to one state or to two neighbouring ones,
so dynamic programming is exact: the cost of the best way is the least there is.
"""

from __future__ import annotations

from copy import copy
from functools import cached_property
from typing import NamedTuple

import numpy as np

from core.hand.passage import THUMB, Menu, Onset, Passage, pressure
from core.hand.states import RELEASED, Asked, Sounding, States, may_reach, states
from core.hand.tables import Floats, Tables

FAR = float("inf")


class _Link(NamedTuple):
    """A tone that two neighbouring onsets share: its columns, and how it may change.

    `kept` in the later onset: the finger may have been lifted (free of charge); in soft mode a
    ringing one may be released at a price.
    """

    before: int
    after: int
    kept: bool


class Lattice:
    """States and step prices of a passage, computed as they are asked for."""

    def __init__(
        self,
        passage: Passage,
        tables: Tables,
        soft: tuple[bool, ...] = (),
        store: Store | None = None,
        lasting: frozenset[int] = frozenset(),
    ) -> None:
        self.passage, self.tables = passage, tables
        self.soft = soft or (False,) * len(passage.onsets)
        self.lasting = lasting
        self.present = passage.present()
        self.store = store or Store(tables)
        self.asked = [self._ask(n, onset) for n, onset in enumerate(passage.onsets)]
        self._states: list[States | None] = [None] * len(passage.onsets)
        self._steps: list[Floats | None] = [None] * (len(passage.onsets) + 1)
        self._known: list[Floats] = []

    def softened(self, start: int, end: int, lasting: frozenset[int]) -> Lattice:
        """This lattice with the onsets from `start` to before `end` softened; what is known of
        the onsets before them is kept."""
        other = copy(self)
        other.__dict__.pop("forward", None)
        other.__dict__.pop("backward", None)
        other.soft = (*self.soft[:start], *[True] * (end - start), *self.soft[end:])
        other.lasting = lasting
        other.asked = list(self.asked)
        other._states, other._steps = list(self._states), list(self._steps)
        other._steps[end] = None
        for number in range(start, end):
            other.asked[number] = other._ask(number, self.passage.onsets[number])
            other._states[number] = other._steps[number] = None
        other._known = self.forward[:start]
        return other

    def _ask(self, number: int, onset: Onset) -> Asked:
        tones = []
        for index in self.present[number]:
            tone = self.passage.tones[index]
            kept = number > tone.last
            menu = self.store.menu(tone.menu, kept)
            loose = kept or (self.soft[number] and index not in self.lasting)
            tones.append(Sounding(menu, tone.first == number, loose, kept))
        return Asked(tuple(tones), onset.position, onset.barre, onset.most)

    def states(self, number: int) -> States:
        """The states of an onset."""
        found = self._states[number]
        if found is None:
            found = self._states[number] = self.store.states(self.asked[number])
        return found

    def links(self, number: int) -> tuple[_Link, ...]:
        """The tones that onset `number` shares with the one before."""
        before = {index: column for column, index in enumerate(self.present[number - 1])}
        return tuple(
            _Link(before[index], column, number > self.passage.tones[index].last)
            for column, index in enumerate(self.present[number])
            if index in before
        )

    def step(self, number: int) -> Floats:
        """Prices [state before, state after] of coming to onset `number`; infinite: impossible."""
        found = self._steps[number]
        if found is None:
            gap = pressure(self.passage.onsets[number].gap)
            before, after = self.states(number - 1), self.states(number)
            rest = self.passage.onsets[number].rest
            found = self.store.step(before, after, self.links(number), (gap, rest))
            self._steps[number] = found
        return found

    @cached_property
    def forward(self) -> list[Floats]:
        """For every onset, the least cost of coming to each of its states, its own price included.

        Stops at the first onset that cannot be reached: its row is the last, all infinite.
        """
        rows = list(self._known) or [self.states(0).price]
        for number in range(len(rows), len(self.passage.onsets)):
            if not (len(rows[-1]) and np.isfinite(rows[-1]).any()):
                break
            reached = (rows[-1][:, None] + self.step(number)).min(axis=0, initial=FAR)
            rows.append(reached + self.states(number).price)
        return rows

    @cached_property
    def backward(self) -> list[Floats]:
        """For every onset, the least cost of going on from each of its states to the end."""
        last = len(self.passage.onsets) - 1
        rows: list[Floats] = [np.zeros(len(self.states(last)))]
        for number in range(last, 0, -1):
            onward = self.step(number) + (self.states(number).price + rows[-1])[None, :]
            rows.append(onward.min(axis=1, initial=FAR))
        return rows[::-1]

    @property
    def failed_at(self) -> int | None:
        """The first onset that no way comes to; None where there is a way to the end."""
        end = self.forward[-1]
        return None if len(end) and np.isfinite(end).any() else len(self.forward) - 1

    @property
    def cost(self) -> float:
        """The least cost; infinite where nothing is playable."""
        return FAR if self.failed_at is not None else float(self.forward[-1].min())

    def path(self) -> tuple[int, ...]:
        """The cheapest way: one state number an onset."""
        state = int(self.forward[-1].argmin())
        way = [state]
        for number in range(len(self.forward) - 1, 0, -1):
            state = int((self.forward[number - 1] + self.step(number)[:, state]).argmin())
            way.append(state)
        return tuple(way[::-1])

    def codes(self, way: tuple[int, ...]) -> list[int]:
        """The spot code of every tone in a way, where it is struck."""
        found = [self.tables.layout.dropped] * len(self.passage.tones)
        for number, state in enumerate(way):
            row = self.states(number).codes[state]
            for column, index in enumerate(self.present[number]):
                if self.passage.tones[index].first == number:
                    found[index] = int(row[column])
        return found

    def prices(self, tone: int) -> dict[int, float]:
        """For a tone, the least cost of the whole passage with each of its spots (by code)."""
        number = self.passage.tones[tone].first
        column = self.present[number].index(tone)
        total = self.forward[number] + self.backward[number]
        codes = self.states(number).codes[:, column]
        best = np.full(self.tables.layout.dropped + 1, FAR)
        np.minimum.at(best, codes, total)
        return {int(code): float(best[code]) for code in np.flatnonzero(np.isfinite(best))}


class Store:
    """States and step prices by content: music repeats, and so do its questions.

    Belongs to one set of tables. Kept between searches by whoever owns it.
    """

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._menus: dict[tuple[Menu, bool], tuple[int, ...]] = {}
        self._states: dict[Asked, States] = {}
        self._steps: dict[tuple[object, ...], Floats] = {}

    def menu(self, spots: Menu, kept: bool) -> tuple[int, ...]:
        """The codes of a menu within the hand's limits; only pressed ones can be kept."""
        key = (spots, kept)
        if key not in self._menus:
            self._menus[key] = _codes(spots, kept, self.tables)
        return self._menus[key]

    def states(self, asked: Asked) -> States:
        found = self._states.get(asked)
        if found is None:
            found = self._states[asked] = states(asked, self.tables)
            found.number = len(self._states)
        return found

    def step(
        self, a: States, b: States, links: tuple[_Link, ...], when: tuple[float, bool]
    ) -> Floats:
        key = (a.number, b.number, links, when)
        found = self._steps.get(key)
        if found is None:
            found = self._steps[key] = step_prices(a, b, links, when, self.tables)
        return found


def _codes(spots: Menu, kept: bool, tables: Tables) -> tuple[int, ...]:
    layout, reach = tables.layout, tables.layout.reach
    found = []
    for spot in spots:
        within = spot.string <= reach.strings and spot.fret <= layout.frets
        allowed = spot.finger <= reach.fingers or spot.finger == THUMB
        if within and allowed and not (kept and spot.finger in (0, THUMB)):
            found.append(layout.code(spot))
    return tuple(found)


def step_prices(
    a: States, b: States, links: tuple[_Link, ...], when: tuple[float, bool], tables: Tables
) -> Floats:
    """Prices of every step between two sets of states; infinite where a ringing note would move.

    `when`: the pressure of time, and whether there is a rest before.
    """
    fingers, shift = tables.under(when[0])
    columns, places = b.columns(tables.layout)
    onward = np.zeros((len(a.shape_codes), len(columns)))
    for finger, table in fingers.items():
        mine = a.shape_fingers[:, finger - 1]
        onward += table[mine[:, None], columns] if finger in a.used else table[0, columns]
    shapes = np.zeros((len(a.shape_codes), len(b.shape_codes)))
    for finger in b.used:
        shapes += onward.take(places[:, finger - 1], axis=1)
    dropped = tables.layout.dropped
    for link in links:
        one = a.shape_codes[:, link.before][:, None]
        other = b.shape_codes[:, link.after][None, :]
        moved = one != other
        gone = moved & (other == dropped)
        shapes[moved ^ gone] = FAR
        if not link.kept:
            shapes += RELEASED * gone
    if tables.layout.reach.usual is not None and not when[1]:
        shapes[~may_reach(a, b, tables)] = FAR
    free = np.where(a.pressed, 0, tables.layout.positions)
    price: Floats = shapes.take(a.shape, axis=0).take(b.shape, axis=1)
    price += shift.take(a.position - 1 + free, axis=0).take(b.position - 1, axis=1)
    return price
