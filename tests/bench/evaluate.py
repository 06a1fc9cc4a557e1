"""How well the fingering agrees with editors: ``python -m tests.bench.evaluate``.

Five folds by piece: the marks of a piece are judged with weights that were learned from the
pieces of the other folds only. Intervals: 95 %, bootstrap over pieces.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from core.hand.features import HOUSE
from core.hand.fingering import narrowed
from core.hand.lattice import Lattice
from core.hand.search import search
from core.hand.tables import tables
from tests.bench.fingered import Edition, editions
from tests.bench.learn import fit, handbook, learned_from, prepare

FOLDS = 5
COLUMNS = ("marks", "finger", "two cheapest", "three cheapest", "string marks", "string")
PARTS = (0.0, 0.25, 0.5, 0.75)
Weights = tuple[float, ...]


def cross_validated(pieces: Sequence[Edition]) -> dict[str, Weights]:
    """For every piece the weights that know nothing of it."""
    own, kinds, chains = prepare([*pieces, *handbook()])
    order = np.random.default_rng(1).permutation(len(pieces))
    found = {}
    for fold in range(FOLDS):
        names = [pieces[i].name for i in order[fold::FOLDS]]
        weights = fit(own, kinds, learned_from(chains, names))
        found.update(dict.fromkeys(names, weights))
    return found


def agreement(piece: Edition, weights: Weights, pinned_part: float, seed: int = 7) -> np.ndarray:
    """Counts in the order of `COLUMNS`, over the marks that are not pinned."""
    random = np.random.default_rng([seed, len(piece.passage.tones)])
    marks = [i for i, f in enumerate(piece.fingers) if f is not None]
    pins = {i for i in marks if random.random() < pinned_part}
    wanted = {
        i: [s for s in piece.passage.tones[i].menu if s.finger == piece.fingers[i]] for i in pins
    }
    passage = narrowed(piece.passage, {i: spots for i, spots in wanted.items() if spots})
    lattice = search(passage, tables(piece.reach, weights))
    codes = lattice.codes(lattice.path())
    total = np.zeros(len(COLUMNS))
    for i in set(marks) - pins:
        spot = lattice.tables.layout.spot(codes[i])
        ranked = _ranked(lattice, i) if not pinned_part else []
        total += [
            1,
            spot is not None and spot.finger == piece.fingers[i],
            piece.fingers[i] in ranked[:2],
            piece.fingers[i] in ranked[:3],
            bool(piece.strings[i]),
            bool(piece.strings[i]) and spot is not None and spot.string == piece.strings[i],
        ]
    return total


def _ranked(lattice: Lattice, tone: int) -> list[int]:
    """The fingers of a note, cheapest first."""
    best: dict[int, float] = {}
    for code, price in lattice.prices(tone).items():
        spot = lattice.tables.layout.spot(code)
        if spot is not None:
            best[spot.finger] = min(price, best.get(spot.finger, np.inf))
    return sorted(best, key=lambda finger: best[finger])


def naive(piece: Edition) -> np.ndarray:
    """Every note at its lowest fret, finger = fret (4 beyond the fourth)."""
    total = np.zeros(len(COLUMNS))
    for tone, finger in zip(piece.passage.tones, piece.fingers, strict=True):
        if finger is not None:
            fret = min((spot.fret for spot in tone.menu), default=-1)
            total[:2] += [1, min(4, fret) == finger]
    return total


def share(rows: Sequence[np.ndarray], part: int, whole: int = 0) -> str:
    """A share with its interval."""
    table, random = np.array(rows), np.random.default_rng(5)
    drawn = [table[random.integers(0, len(table), len(table))].sum(axis=0) for _ in range(2000)]
    shares = [100 * row[part] / row[whole] for row in drawn if row[whole]]
    low, high = np.percentile(shares, [2.5, 97.5])
    total = table.sum(axis=0)
    return f"{100 * total[part] / total[whole]:.1f} % [{low:.1f}, {high:.1f}] of {total[whole]:.0f}"


def report(pieces: Sequence[Edition], weights: Mapping[str, Weights]) -> Iterator[str]:
    yield f"naive lowest fret            {share([naive(p) for p in pieces], 1)}"
    unfitted = {piece.name: HOUSE for piece in pieces}
    for name, table in (("unfitted", unfitted), ("cross-validated", weights)):
        for part in PARTS:
            rows = [agreement(p, table[p.name], part) for p in pieces]
            yield f"{name:16} pinned {part:4.0%}  {share(rows, 1)}"
            if not part:
                yield f"{'':16} two cheapest   {share(rows, 2)}"
                yield f"{'':16} three cheapest {share(rows, 3)}"
                yield f"{'':16} string         {share(rows, 5, 4)}"
    easy = [p for p in editions(beginner=True) if not any(search(p.passage, _house(p)).soft)]
    for name, table in (("unfitted", unfitted), ("cross-validated", weights)):
        rows = [agreement(p, table[p.name], 0.0) for p in easy]
        yield f"{name:16} beginner, {len(easy)} pieces playable  {share(rows, 1)}"


def _house(piece: Edition):
    return tables(piece.reach, HOUSE)


def main() -> int:
    pieces = editions()
    if not pieces:
        print("The fingered editions are not here.", file=sys.stderr)
        return 2
    for line in report(pieces, cross_validated(pieces)):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
