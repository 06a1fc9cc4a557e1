"""What follows from a lattice beside the cheapest way: the next cheapest ones, and why it costs
what it costs."""

from __future__ import annotations

import numpy as np

from core.hand.anatomy import PAIRS
from core.hand.features import NAMES
from core.hand.lattice import FAR, Lattice
from core.hand.passage import pressure
from core.hand.tables import Floats, Ints

Way = tuple[int, ...]


def cheapest(lattice: Lattice, count: int) -> list[tuple[float, Way]]:
    """The `count` cheapest ways with their costs, cheapest first (fewer where there are no more).

    Every state keeps its `count` cheapest ways to come, by the cost, the state before and the
    rank of the way into that: exact, because the continuation does not depend on the way here.
    """
    costs = lattice.states(0).price[:, None]
    befores: list[Ints] = []
    for number in range(1, len(lattice.passage.onsets)):
        costs, before = _ranked(costs, lattice.step(number), count)
        costs = costs + lattice.states(number).price[:, None]
        befores.append(before)
    flat = costs.ravel()
    order = np.argsort(flat, kind="stable")[:count]
    return [
        (float(flat[at]), _traced(befores, int(at), costs.shape[1]))
        for at in order
        if np.isfinite(flat[at])
    ]


def _ranked(costs: Floats, step: Floats, count: int) -> tuple[Floats, Ints]:
    """[state after, rank] costs, and the flat index (state before * ranks + rank) each came by."""
    flat = (costs[:, :, None] + step[:, None, :]).reshape(-1, step.shape[1])
    most = min(count, len(flat))
    if most == 0:
        return np.full((step.shape[1], 1), FAR), np.zeros((step.shape[1], 1), np.int64)
    chosen = np.argpartition(flat, most - 1, axis=0)[:most]
    order = np.take_along_axis(flat, chosen, axis=0).argsort(axis=0, kind="stable")
    chosen = np.take_along_axis(chosen, order, axis=0)
    found: Floats = np.take_along_axis(flat, chosen, axis=0).T
    return found, chosen.T


def _traced(befores: list[Ints], at: int, ranks: int) -> Way:
    way = []
    for number in range(len(befores), 0, -1):
        state, rank = divmod(at, ranks)
        way.append(state)
        before = befores[number - 1]
        at = int(before[state, rank])
        ranks = befores[number - 2].shape[1] if number > 1 else 1
    way.append(at)
    return tuple(way[::-1])


def cost(lattice: Lattice, way: Way) -> float:
    """The price of a way."""
    total = float(lattice.states(0).price[way[0]])
    for number in range(1, len(way)):
        step = lattice.step(number)[way[number - 1], way[number]]
        total += float(step + lattice.states(number).price[way[number]])
    return total


def easiest_worst(lattice: Lattice) -> Way:
    """The way whose dearest single move is as cheap as can be; among those, the cheapest.

    A move is a step together with the state it comes to; the first state counts as one.
    """
    onsets = range(1, len(lattice.passage.onsets))
    worst = lattice.states(0).price
    for number in onsets:
        move = lattice.step(number) + lattice.states(number).price[None, :]
        worst = np.maximum(worst[:, None], move).min(axis=0, initial=FAR)
    limit = float(worst.min()) + 1e-9
    start = lattice.states(0).price
    rows: list[Floats] = [np.where(start <= limit, start, FAR)]
    befores: list[Ints] = []
    for number in onsets:
        move = lattice.step(number) + lattice.states(number).price[None, :]
        total = rows[-1][:, None] + np.where(move <= limit, move, FAR)
        befores.append(total.argmin(axis=0)[:, None])
        rows.append(total.min(axis=0))
    return _traced(befores, int(rows[-1].argmin()), 1)


def features(lattice: Lattice, way: Way) -> Floats:
    """The features of a way by onset: [onset, feature in the order of `NAMES`].

    Their sum times the weights is the cost (but for notes released early or left out).
    """
    table = np.zeros((len(way), len(NAMES)))
    for number, state in enumerate(way):
        _own(lattice, number, state, table[number])
        if number:
            _moved(lattice, number, (way[number - 1], state), table[number])
    return table


def _own(lattice: Lattice, number: int, state: int, total: Floats) -> None:
    tables, states = lattice.tables, lattice.states(number)
    for column, tone in enumerate(lattice.asked[number].tones):
        if tone.struck:
            entry = (int(states.codes[state, column]), int(states.position[state]) - 1)
            total[tables.stroke.columns] += tables.stroke.row(entry)
            if lattice.asked[number].chord:
                total[tables.chord.columns] += tables.chord.row(entry[:1])
    held = (int(states.fingers[state, 0]),)
    total[tables.barre.columns] += tables.barre.row(held)
    for low, high in PAIRS:
        entry = (int(states.fingers[state, low - 1]), int(states.fingers[state, high - 1]))
        total[tables.pairs[low, high].columns] += tables.pairs[low, high].row(entry)


def _moved(lattice: Lattice, number: int, pair: tuple[int, int], total: Floats) -> None:
    tables, (before, after) = lattice.tables, pair
    a, b = lattice.states(number - 1), lattice.states(number)
    gap = pressure(lattice.passage.onsets[number].gap)
    for (one, other), table in tables.steps.items():
        entry = (int(a.fingers[before, one - 1]), int(b.fingers[after, other - 1]))
        total[table.columns] += table.row(entry, gap)
    free = 0 if a.pressed[before] else tables.layout.positions
    entry = (int(a.position[before]) - 1 + free, int(b.position[after]) - 1)
    total[tables.shift.columns] += tables.shift.row(entry, gap)
