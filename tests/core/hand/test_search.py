"""The search equals an independent brute force on small random passages."""

from __future__ import annotations

from collections import Counter
from math import prod
from random import Random

import numpy as np
import pytest

from core.hand import ways
from core.hand.features import NAMES
from core.hand.lattice import Lattice
from core.hand.tables import tables
from tests.core.hand import brute, puzzles

MOST_WAYS = 60_000
KNOWN = 30
TOLERANCE = 1e-6


def puzzle(seed: int):
    random = Random(seed)
    hand = puzzles.reach(random)
    passage = puzzles.passage(random, hand)
    weights = puzzles.weights(random)
    soft = (True,) * len(passage.onsets) if seed % 4 == 3 else ()
    return hand, passage, weights, soft


def contents(hand, passage, costs) -> set[str]:
    """What there was in a puzzle; `costs` of all its ways, cheapest first."""
    tones, onsets = passage.tones, passage.onsets
    told = {
        "holds": any(t.last > t.first for t in tones),
        "kept fingers": any(t.keep > t.last for t in tones),
        "pinned notes": any(len(t.menu) == 1 and t.menu[0].finger for t in tones),
        "pinned positions": any(o.position for o in onsets),
        "written barres": any(o.barre for o in onsets),
        "three fingers": hand.fingers == 3,
        "no barre": not hand.barre,
        "few notes at once": any(o.most for o in onsets),
        "high on string 1": bool(hand.usual) and any(s.fret > 4 for t in tones for s in t.menu),
        "early release": bool(costs) and brute.RELEASED / 2 < costs[0] < brute.UNPLACED / 2,
        "notes left out": bool(costs) and costs[0] > brute.UNPLACED / 2,
    }
    return {name for name, there in told.items() if there}


def check(seed: int) -> set[str]:
    """Compares everything; says whether the passage was feasible, infeasible or too large, and
    what there was in it."""
    hand, passage, weights, soft = puzzle(seed)
    lattice = Lattice(passage, tables(hand, weights), soft)
    if prod(max(1, len(lattice.states(n))) for n in range(len(passage.onsets))) > MOST_WAYS:
        return {"large"}
    found = brute.ways(passage, hand, dict(zip(NAMES, weights, strict=True)), soft)
    if not found:
        assert lattice.failed_at is not None
        return {"infeasible", *contents(hand, passage, [])}
    costs = sorted(cost for cost, _, _, _ in found)
    assert lattice.failed_at is None
    assert lattice.cost == pytest.approx(costs[0], abs=TOLERANCE)
    check_cheapest(lattice, found, costs, weights)
    check_prices(lattice, passage, found)
    check_worst(lattice, found)
    told = {"feasible", *contents(hand, passage, costs)}
    best = lattice.codes(lattice.path())
    ones = [s for s in map(lattice.tables.layout.spot, best) if s and s.finger == 1]
    return told | ({"finger 1 on two notes"} if len(ones) > 1 else set())


def check_cheapest(lattice, found, costs, weights) -> None:
    ranked = ways.cheapest(lattice, KNOWN)
    assert [cost for cost, _ in ranked] == pytest.approx(costs[:KNOWN], abs=TOLERANCE)
    assert len({way for _, way in ranked}) == len(ranked)
    for cost, way in ranked[:3]:
        assert ways.cost(lattice, way) == pytest.approx(cost, abs=TOLERANCE)
        total = ways.features(lattice, way).sum(axis=0)
        penalty = cost - total @ np.array(weights)
        assert penalty == pytest.approx(brute.RELEASED * round(penalty / brute.RELEASED), abs=1e-5)
        counts = dict(zip(NAMES, total, strict=True))
        assert any(
            abs(c - cost) < TOLERANCE and all(abs(counts[n] - f[n]) < 1e-9 for n in NAMES)
            for c, _, f, _ in found
        )


def check_prices(lattice, passage, found) -> None:
    for index in range(len(passage.tones)):
        wanted: dict = {}
        for cost, struck, _, _ in found:
            wanted[struck[index]] = min(cost, wanted.get(struck[index], np.inf))
        prices = {lattice.tables.layout.spot(c): p for c, p in lattice.prices(index).items()}
        assert prices == pytest.approx(wanted, abs=TOLERANCE)


def check_worst(lattice, found) -> None:
    """The dearest move as cheap as can be; among those ways the cheapest."""
    least = min(worst for _, _, _, worst in found)
    wanted = min(cost for cost, _, _, worst in found if worst <= least + TOLERANCE)
    way = ways.easiest_worst(lattice)
    assert ways.cost(lattice, way) == pytest.approx(wanted, abs=1e-5)


def test_small_passages_equal_brute_force() -> None:
    kinds = Counter(kind for seed in range(60) for kind in check(seed))
    assert kinds["feasible"] >= 15
    assert kinds["infeasible"] >= 15


@pytest.mark.long
def test_more_than_five_hundred_passages_equal_brute_force() -> None:
    """Optimum, 30 cheapest, every price, easiest worst move, features; infeasible found so."""
    kinds = Counter(kind for seed in range(1000, 2600) for kind in check(seed))
    print(dict(sorted(kinds.items())))
    assert kinds["feasible"] >= 500
    assert kinds["infeasible"] >= 250
    rest = {kind: n for kind, n in kinds.items() if kind not in ("feasible", "infeasible", "large")}
    assert len(rest) == 12
    assert min(rest.values()) >= 30, kinds
