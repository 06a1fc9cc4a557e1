"""A plain dynamic program over the same states and prices: no tables of steps shared between
equal onsets, no shapes shared between positions, one loop a state. What the search is measured
against."""

from __future__ import annotations

from core.hand.lattice import FAR, Lattice
from core.hand.passage import pressure
from core.hand.states import RELEASED


def plain_cost(lattice: Lattice) -> float:
    """The least cost, by loops over pairs of states."""
    row = list(lattice.states(0).price)
    for number in range(1, len(lattice.passage.onsets)):
        a, b = lattice.states(number - 1), lattice.states(number)
        gap = pressure(lattice.passage.onsets[number].gap)
        links = lattice.links(number)
        row = [
            float(b.price[j])
            + min(
                (cost + _step(lattice, (a, i), (b, j), links, gap) for i, cost in enumerate(row)),
                default=FAR,
            )
            for j in range(len(b))
        ]
    return min(row, default=FAR)


def _step(lattice: Lattice, before, after, links, gap: float) -> float:
    (a, i), (b, j) = before, after
    tables = lattice.tables
    assert tables.layout.reach.usual is None
    dropped, released = tables.layout.dropped, 0.0
    for link in links:
        mine, theirs = a.codes[i, link.before], b.codes[j, link.after]
        if mine != theirs:
            if theirs != dropped:
                return FAR
            released += 0.0 if link.kept else RELEASED
    shift = tables.shift.at(gap)
    free = 0 if a.pressed[i] else tables.layout.positions
    price = released + shift[a.position[i] - 1 + free, b.position[j] - 1]
    for (one, other), table in tables.steps.items():
        entry = a.fingers[i, one - 1], b.fingers[j, other - 1]
        price += table.prices[entry] + gap * table.timed_prices[entry]
    return float(price)
