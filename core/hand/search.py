"""The search: the cheapest playable fingering, or the one that lets go of least where none is."""

from __future__ import annotations

from bisect import bisect_right

from core.hand.lattice import Lattice, Store
from core.hand.passage import Passage
from core.hand.tables import Tables
from core.model.errors import FootstoolError


class NoWay(FootstoolError):
    """Nothing is playable even with every note left out: a mark asks for what the hand, as it is
    restricted, cannot do at all."""


def search(
    passage: Passage,
    tables: Tables,
    store: Store | None = None,
    lasting: frozenset[int] = frozenset(),
) -> Lattice:
    """The lattice of a passage, every onset reachable.

    Where nothing is playable, notes may be released early or left out in the whole stretch
    between two onsets at which nothing rings on: what cannot be played is local to it, so as few
    notes as possible are let go, and those of `lasting` (tones by index) only if nothing else
    helps. Raises ValueError for a passage without onsets, and NoWay.
    """
    if not passage.onsets:
        raise ValueError("there is nothing to finger")
    store = store or Store(tables)
    cuts = passage.cuts()
    lattice = Lattice(passage, tables, (), store, lasting)
    while lattice.failed_at is not None:
        at = bisect_right(cuts, lattice.failed_at)
        start, end = cuts[at - 1], cuts[at]
        if lattice.soft[start]:
            if not lasting:
                raise NoWay(
                    "A position numeral or a barre mark asks for what this hand cannot do within "
                    "the level; take it off, or raise the level."
                )
            lasting = frozenset()  # even so: then the lasting ones give way too
        lattice = lattice.softened(start, end, lasting)
    return lattice
