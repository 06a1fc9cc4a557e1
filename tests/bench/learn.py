"""Learn the weights of a fingering from editors' marks: ``python -m tests.bench.learn``.

A way has the probability exp(-cost) among all ways of its passage. The weights are those that make
the marks of the training pieces most probable (all ways that agree with the marks, against all
ways), with a pull toward the house weights: convex but for the unmarked notes, fitted by L-BFGS.
Needs scipy, and the fingered editions beside the repository. Writes the table for
``core/hand/weights.py`` to standard output.
"""

from __future__ import annotations

import sys
from collections.abc import Collection, Sequence

import numpy as np

from core.hand.features import HOUSE, INDEX, NAMES
from core.hand.lattice import Lattice
from core.hand.passage import pressure
from core.hand.search import search
from core.hand.tables import tables
from tests.bench.fingered import Edition, editions
from tests.core.hand.handbook import HAND, SHAPES, fingerings, progression

MARGIN = 9.0  # ways this much dearer than the best (house weights) are too improbable to matter
PULL = 3.0
SHRINK = 0.7  # of the way from the house weights to the fitted ones (chosen from 4 values)
WRONG = 2.0
SHARP = 1.0
HANDBOOK = "handbook "
HANDBOOK_TIMES = 30
UNLEARNED = "barre held"  # editors mark few barres: its price stays the house's
FAR_FROM_MARKS = 10


def state_features(lattice: Lattice, number: int, chosen: np.ndarray) -> np.ndarray:
    """[state, feature] of the chosen states of an onset."""
    t, s = lattice.tables, lattice.states(number)
    total = np.zeros((len(chosen), len(NAMES)), np.float32)
    for column, tone in enumerate(lattice.asked[number].tones):
        if tone.struck:
            rows = t.stroke.features[s.codes[chosen, column], s.position[chosen] - 1]
            total[:, t.stroke.columns] += rows
            if lattice.asked[number].chord:
                total[:, t.chord.columns] += t.chord.features[s.codes[chosen, column]]
    total[:, t.barre.columns] += t.barre.features[s.fingers[chosen, 0]]
    for (low, high), table in t.pairs.items():
        rows = table.features[s.fingers[chosen, low - 1], s.fingers[chosen, high - 1]]
        total[:, table.columns] += rows
    return total


def pair_features(lattice: Lattice, a, b, rows: Sequence[np.ndarray], gap: float) -> np.ndarray:
    """[pair, feature] of steps from states `rows[0]` of `a` to states `rows[1]` of `b`."""
    t = lattice.tables
    before, after = rows
    total = np.zeros((len(before), len(NAMES)), np.float32)
    for (one, other), table in t.steps.items():
        found = table.features[a.fingers[before, one - 1], b.fingers[after, other - 1]]
        total[:, table.columns] += found * np.where(table.timed, gap, 1.0)
    free = np.where(a.pressed[before], 0, t.layout.positions)
    found = t.shift.features[a.position[before] - 1 + free, b.position[after] - 1]
    total[:, t.shift.columns] += found * np.where(t.shift.timed, gap, 1.0)
    return total


class Chain:
    """The likely states of a piece near its marks: features of states and of steps."""

    def __init__(self, edition: Edition, store: Pool) -> None:
        lattice = search(edition.passage, tables(edition.reach, HOUSE))
        marked, broken = self._masks(edition, lattice)
        n = len(edition.passage.onsets)
        near = np.zeros(n, bool)
        for tone, finger in zip(edition.passage.tones, edition.fingers, strict=True):
            if finger is not None:
                near[max(0, tone.first - FAR_FROM_MARKS) : tone.first + FAR_FROM_MARKS + 1] = True
        chosen = self._likely(lattice, marked, broken)
        self.runs = []
        start = None
        for number in range(n + 1):
            inside = number < n and near[number]
            if inside and start is None:
                start = number
            elif start is not None and (not inside or number in broken):
                self.runs.append(self._run(lattice, marked, chosen, range(start, number), store))
                start = number if inside else None

    @staticmethod
    def _masks(edition: Edition, lattice: Lattice) -> tuple[list[np.ndarray], set[int]]:
        """Which states agree with the marks, and the onsets where marks contradict each other."""
        broken: set[int] = set()
        masks = [np.ones(len(lattice.states(k)), bool) for k in range(len(lattice.asked))]
        for index, (tone, finger) in enumerate(
            zip(edition.passage.tones, edition.fingers, strict=True)
        ):
            if finger is not None:
                column = lattice.present[tone.first].index(index)
                codes = lattice.states(tone.first).codes[:, column]
                agree = (lattice.tables.layout.finger[codes] == finger) & (
                    codes != lattice.tables.layout.dropped
                )
                masks[tone.first] &= agree
        row = np.where(masks[0], lattice.states(0).price, np.inf)
        if not np.isfinite(row).any():
            masks[0][:] = True
            row = lattice.states(0).price
        for number in range(1, len(masks)):
            come = (row[:, None] + lattice.step(number)).min(axis=0) + lattice.states(number).price
            row = np.where(masks[number], come, np.inf)
            if not np.isfinite(row).any():
                masks[number][:] = True
                row = come
            if not np.isfinite(row).any():
                broken.add(number)
                row = lattice.states(number).price
        return masks, broken

    @staticmethod
    def _likely(lattice: Lattice, masks: list[np.ndarray], broken: set[int]) -> list[np.ndarray]:
        total = [f + b for f, b in zip(lattice.forward, lattice.backward, strict=True)]
        n = len(masks)
        fore = [np.where(masks[0], lattice.states(0).price, np.inf)]
        for k in range(1, n):
            step = 0.0 if k in broken else lattice.step(k)
            come = (fore[-1][:, None] + step).min(axis=0) + lattice.states(k).price
            fore.append(np.where(masks[k], come, np.inf))
        back = [np.zeros(len(masks[-1]))]
        for k in range(n - 1, 0, -1):
            onward = np.where(masks[k], lattice.states(k).price + back[-1], np.inf)
            step = np.zeros((len(lattice.states(k - 1)), 1)) if k in broken else lattice.step(k)
            back.append((step + onward[None, :]).min(axis=1))
        clamped = [f + b for f, b in zip(fore, back[::-1], strict=True)]
        return [
            np.flatnonzero((t <= t.min() + MARGIN) | (c <= c.min() + MARGIN / 2))
            for t, c in zip(total, clamped, strict=True)
        ]

    @staticmethod
    def _run(lattice, masks, chosen, numbers: range, store: Pool):
        rows = []
        for number in numbers:
            mine = chosen[number]
            own = store.add_states(state_features(lattice, number, mine))
            ids = None
            if number > numbers.start:
                before = chosen[number - 1]
                gap = pressure(lattice.passage.onsets[number].gap)
                possible = np.isfinite(lattice.step(number)[np.ix_(before, mine)])
                a, b = lattice.states(number - 1), lattice.states(number)
                ids = store.add_pairs(lattice, a, b, before, mine, gap, possible)
            rows.append((own, ids, masks[number][mine]))
        return rows


class Pool:
    """Features of states (a block an onset) and of steps (each kind once)."""

    def __init__(self) -> None:
        self.blocks: list[np.ndarray] = []
        self.states = 0
        self.known: dict[tuple, int] = {}
        self.steps: list[np.ndarray] = [np.zeros(len(NAMES), np.float32)]

    def add_states(self, rows: np.ndarray) -> slice:
        self.blocks.append(rows)
        self.states += len(rows)
        return slice(self.states - len(rows), self.states)

    def add_pairs(self, lattice, a, b, before, after, gap, possible) -> np.ndarray:
        """The number of every step's kind; 0 is impossible."""
        left, right = np.nonzero(possible)
        rows = pair_features(lattice, a, b, (before[left], after[right]), gap)
        found = np.zeros(possible.shape, np.int64)
        if len(rows):
            found[left, right] = [self._kind(row) for row in rows]
        return found

    def _kind(self, row: np.ndarray) -> int:
        key = row.tobytes()
        if key not in self.known:
            self.known[key] = len(self.steps)
            self.steps.append(row)
        return self.known[key]


def objective(weights, own, kinds, runs, margin: float = 0.0):
    """Minus the log probability of the marks, and its gradient."""
    state_weight = np.exp(-SHARP * np.clip(own @ weights, -30, 30))
    step_weight = np.exp(-SHARP * np.clip(kinds @ weights, -30, 30))
    step_weight[0] = 0.0
    state_push, loss = np.zeros(len(own)), 0.0
    numbers, pushes = [], []
    for run in runs:
        free = passes(run, state_weight, step_weight, False, margin)
        tied = passes(run, state_weight, step_weight, True)
        loss += (free[0] - tied[0]) / SHARP
        for k, (span, ids, _) in enumerate(run):
            state_push[span] += tied[1][k] - free[1][k]
            if ids is not None:
                numbers.append(ids.ravel())
                pushes.append((tied[2][k] - free[2][k]).ravel())
    step_push = np.bincount(np.concatenate(numbers), np.concatenate(pushes), len(kinds))
    return loss, state_push @ own + step_push @ kinds


def passes(run, state_weight, step_weight, tied: bool, margin: float = 0.0):
    """(log of the sum over all ways, share of every state, share of every step)."""
    log, fore, steps = 0.0, [], []
    for span, ids, mask in run:
        push = mask if tied else np.where(mask, 1.0, np.exp(SHARP * margin))
        own = state_weight[span] * push
        step = None if ids is None else step_weight[ids]
        row = own if step is None else (fore[-1] @ step) * own
        size = row.sum()
        log += np.log(size)
        fore.append(row / size)
        steps.append((step, own, size))
    back = np.ones(len(fore[-1]))
    shares, pairs = [fore[-1]], []
    for k in range(len(run) - 1, 0, -1):
        step, own, size = steps[k]
        onward = own * back / size
        pairs.append(fore[k - 1][:, None] * step * onward[None, :])
        back = step @ onward
        shares.append(fore[k - 1] * back)
    return log, shares[::-1], [None, *pairs[::-1]]


def handbook() -> list[Edition]:
    """The open shapes of the handbooks, each finger a mark: they belong to what is learned."""
    found = []
    for name in SHAPES:
        passage, wanted = progression(name), fingerings(name)[0]
        by_string = {spot.string: spot for spot in wanted}
        spots = [by_string[tone.menu[0].string] for tone in passage.tones]
        fingers, strings = tuple(s.finger for s in spots), tuple(s.string for s in spots)
        found.append(Edition(HANDBOOK + name, passage, HAND, fingers, strings))
    return found


def prepare(pieces: Sequence[Edition]):
    """Per piece, its own runs and pool: so that folds can be put together."""
    pool = Pool()
    chains = {piece.name: Chain(piece, pool).runs for piece in pieces}
    return np.concatenate(pool.blocks), np.array(pool.steps), chains


def learned_from(chains, left_out: Collection[str] = ()) -> list:
    """The runs to learn from: all pieces but those left out, and the handbook several times."""
    found = []
    for name, runs in chains.items():
        if name not in left_out:
            found += runs * (HANDBOOK_TIMES if name.startswith(HANDBOOK) else 1)
    return found


def without_shapes(parts: int = 5) -> dict[str, tuple[float, ...]]:
    """For every open shape weights that know nothing of it: learned with a part of the shapes
    left out, all in turn."""
    own, kinds, chains = prepare([*marked(), *handbook()])
    names, found = list(SHAPES), {}
    for part in range(parts):
        left_out = names[part::parts]
        weights = fit(own, kinds, learned_from(chains, [HANDBOOK + name for name in left_out]))
        found.update(dict.fromkeys(left_out, weights))
    return found


def marked() -> list[Edition]:
    """The pieces with marks."""
    return [piece for piece in editions() if any(f is not None for f in piece.fingers)]


def fit(
    own, kinds, runs, pull: float = PULL, rounds: int = 25, margin: float = WRONG
) -> tuple[float, ...]:
    """The weights that fit the marks of some runs.

    `margin`: what disagrees with a mark is made cheaper by this much while learning, so that the
    right way comes to win by as much (softmax margin: Gimpel & Smith 2010, from memory).
    """
    from scipy.optimize import minimize

    house = np.array(HOUSE)
    scale = 1 / np.maximum(own.std(axis=0) + kinds.std(axis=0), 0.05)

    def asked(scaled):
        loss, gradient = objective(scaled * scale, own, kinds, runs, margin)
        away = scaled * scale - house
        return loss + pull / 2 * away @ away, (gradient + pull * away) * scale

    options = {"maxiter": rounds}
    found = minimize(asked, house / scale, jac=True, method="L-BFGS-B", options=options)
    fitted = house + SHRINK * (found.x * scale - house)
    fitted[INDEX[UNLEARNED]] = house[INDEX[UNLEARNED]]
    return tuple(float(w) for w in np.round(fitted, 4))


def main() -> int:
    pieces = marked()
    own, kinds, chains = prepare([*pieces, *handbook()])
    weights = fit(own, kinds, learned_from(chains))
    for name, weight in zip(NAMES, weights, strict=True):
        print(f'    "{name}": {weight},')
    return 0 if pieces else 2


if __name__ == "__main__":
    sys.exit(main())
