"""The search: the cheapest playable fingering, or the one that lets go of least where none is."""

from __future__ import annotations

from core.hand.lattice import Lattice, Store
from core.hand.passage import Passage
from core.hand.tables import Tables


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
    helps. Raises ValueError for a passage without onsets.
    """
    if not passage.onsets:
        raise ValueError("there is nothing to finger")
    store = store or Store(tables)
    soft = [False] * len(passage.onsets)
    cuts = passage.cuts()
    lattice = Lattice(passage, tables, (), store, lasting)
    while lattice.failed_at is not None:
        failed = lattice.failed_at
        start = max(cut for cut in cuts if cut <= failed)
        end = min(cut for cut in cuts if cut > failed)
        if soft[failed]:
            lasting = frozenset()  # even so: then the lasting ones give way too
        soft[start:end] = [True] * (end - start)
        lattice = Lattice(passage, tables, tuple(soft), store, lasting)
    return lattice
