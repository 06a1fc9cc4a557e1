"""Look-up tables: everything a fingering costs, by coded spots and coded places of a finger.

A spot (string, fret, finger) is one number; so is the place of a finger (0: in the air; finger 1
may cover several strings). Every table exists as features (last axis: the columns of `names`) and,
multiplied by the weights, as prices.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from core.hand.anatomy import ACROSS, COMFORT_MM, PAIRS, Reach
from core.hand.features import (
    HABIT_FRETS,
    HIGHEST_NAMED,
    INDEX,
    MOST_FOLLOWING,
    NAMES,
    OFFSETS,
    PARTS,
    TIMED,
)
from core.hand.passage import THUMB, Spot

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
FINGER_CODES = THUMB + 1
FAR_STRING = 99
LOWEST_OFFSET = (0, -1, -1, -2, -2)
"""How far below its place in the frame finger 1, 2, 3, 4 may press; above it is one fret."""


class Layout:
    """The codes of spots and finger places for one neck, and the shape of every table."""

    def __init__(self, reach: Reach) -> None:
        self.reach = reach
        self.frets = reach.last_fret
        self.positions = reach.highest_position
        spots = reach.strings * (self.frets + 1) * FINGER_CODES
        self.dropped = spots
        code = np.arange(spots)
        self.string: Ints = np.append(code // ((self.frets + 1) * FINGER_CODES) + 1, 0)
        self.fret: Ints = np.append(code // FINGER_CODES % (self.frets + 1), 0)
        finger = code % FINGER_CODES
        self.finger: Ints = np.append(finger, 0)
        pressed = (self.finger >= 1) & (self.finger < THUMB) & (self.fret >= 1)
        self.pressed: Bools = pressed
        single = 1 + (self.string - 1) * self.frets + self.fret - 1
        self.place: Ints = np.where(pressed, single, 0)
        self.places = 1 + reach.strings * self.frets
        self.bars = _bars(reach.strings)
        self.bar_index = np.zeros((reach.strings + 1, reach.strings + 1), np.int64)
        for number, (thin, thick) in enumerate(self.bars):
            self.bar_index[thin, thick] = number
        self.index_places = 1 + len(self.bars) * self.frets
        after_index = self.index_places + self.places * np.arange(3)
        self.starts: Ints = np.append(0, after_index)  # of the four fingers' places, side by side

        self.told = self._told()
        above = reach.last_fret if reach.usual is None else reach.usual[0]
        self.high: Bools = pressed & (self.fret > above)

    def _told(self) -> Ints:
        """[code, 7]: what a spot says of the hand: the place of finger 2, 3, 4; of finger 1 the
        fret, the string, and the string as a negative number; an open string as a negative number.
        What it does not say is far below 0, so that the maximum over spots tells the hand."""
        first, far = self.pressed & (self.finger == 1), -FAR_STRING
        rows = [np.where(self.finger == k, self.place, far) for k in (2, 3, 4)]
        rows += [np.where(first, value, far) for value in (self.fret, self.string, -self.string)]
        rows.append(np.where((self.string > 0) & (self.fret == 0), -self.string, far))
        return np.stack(rows, axis=1)

    def code(self, spot: Spot) -> int:
        """The number of a spot."""
        return ((spot.string - 1) * (self.frets + 1) + spot.fret) * FINGER_CODES + spot.finger

    def spot(self, code: int) -> Spot | None:
        """The spot of a number; None where the note is let go."""
        if code == self.dropped:
            return None
        return Spot(int(self.string[code]), int(self.fret[code]), int(self.finger[code]))

    def index_place(self, thin: Ints, thick: Ints, fret: Ints) -> Ints:
        """The place number of finger 1 over strings `thin` to `thick`; 0 where fret is 0."""
        found: Ints = np.where(fret > 0, 1 + self.bar_index[thin, thick] * self.frets + fret - 1, 0)
        return found

    def columns(self, finger: int) -> tuple[Ints, Ints, Ints]:
        """(thinnest string, thickest string, fret) of every place number of a finger; 0: air."""
        if finger == 1:
            thin = np.repeat([bar[0] for bar in self.bars], self.frets)
            thick = np.repeat([bar[1] for bar in self.bars], self.frets)
        else:
            thin = thick = np.repeat(np.arange(1, self.reach.strings + 1), self.frets)
        fret = np.tile(np.arange(1, self.frets + 1), len(thin) // self.frets)
        return np.append(0, thin), np.append(0, thick), np.append(0, fret)


def _bars(strings: int) -> list[tuple[int, int]]:
    return [(a, b) for a in range(1, strings + 1) for b in range(a, strings + 1)]


class Table:
    """Prices by code, made of named features."""

    def __init__(self, features: Mapping[str, Floats], weights: Floats) -> None:
        self.names = tuple(features)
        self.features: Floats = np.stack([np.asarray(f, float) for f in features.values()], -1)
        self.columns: Ints = np.array([INDEX[name] for name in self.names])
        own = weights[self.columns]
        timed = np.array(TIMED)[self.columns]
        self.timed: Bools = timed
        self.prices: Floats = self.features @ np.where(timed, 0.0, own)
        self.timed_prices: Floats = self.features @ np.where(timed, own, 0.0)

    def at(self, pressure: float) -> Floats:
        """The prices under a pressure of time."""
        priced: Floats = self.prices + pressure * self.timed_prices
        return priced

    def row(self, entry: tuple[int, ...], pressure: float = 1.0) -> Floats:
        """The features of one entry, in the order of `columns`."""
        found: Floats = self.features[entry] * np.where(self.timed, pressure, 1.0)
        return found


class Tables:
    """All tables of one hand on one neck with one set of weights."""

    def __init__(self, reach: Reach, weights: Floats) -> None:
        self.layout = layout = Layout(reach)
        self.together = _together(layout)
        self.frame, self.own = _frame(layout)
        self.stroke = Table(_stroke(layout, self.frame), weights)
        self.chord = Table(_chord(layout), weights)
        self.barre = Table(_barre(layout), weights)
        self.pairs = {pair: Table(_pair(layout, pair), weights) for pair in PAIRS}
        self.shift = Table(_shift(layout.positions), weights)
        self.steps = {
            (a, b): Table(_step(layout, a) if a == b else _follow(layout, a, b), weights)
            for a in range(1, 5)
            for b in range(1, 5)
        }
        self._under: dict[float, tuple[dict[int, Floats], Floats]] = {}

    def under(self, pressure: float) -> tuple[dict[int, Floats], Floats]:
        """Prices under a pressure of time: by finger, of what its place before means for the
        places of all fingers after (side by side, see `Layout.starts`); and of the hand's shift."""
        if pressure not in self._under:
            steps = {
                a: np.concatenate([self.steps[a, b].at(pressure) for b in range(1, 5)], axis=1)
                for a in range(1, 5)
            }
            self._under[pressure] = steps, self.shift.at(pressure)
        return self._under[pressure]


@lru_cache(maxsize=8)
def tables(reach: Reach, weights: tuple[float, ...]) -> Tables:
    """The tables, made once for a hand, a neck and weights (in the order of `NAMES`)."""
    if len(weights) != len(NAMES):
        raise ValueError(f"{len(NAMES)} weights are needed, not {len(weights)}")
    return Tables(reach, np.array(weights))


def _together(layout: Layout) -> Bools:
    """Whether two spots can be held at once: [code, code], `dropped` goes with all.

    One note a string; a finger at one fret (several strings: a barre of finger 1); higher fingers
    at higher frets or the same; no wider than the hand spans.
    """
    string, fret, finger = layout.string, layout.fret, layout.finger
    ok = string[:, None] != string[None, :]
    pressed = layout.pressed
    both = pressed[:, None] & pressed[None, :]
    same = finger[:, None] == finger[None, :]
    bar = (finger[:, None] == 1) & (fret[:, None] == fret[None, :])
    ok &= ~(both & same & ~bar)
    thumbs = finger == THUMB
    ok &= ~(thumbs[:, None] & thumbs[None, :])
    ok &= ~(both & (finger[:, None] < finger[None, :]) & (fret[:, None] > fret[None, :]))
    mm = np.array(layout.reach.frets_mm)[fret]
    along = mm[None, :] - mm[:, None]
    across = (string[None, :] - string[:, None]) * layout.reach.string_mm
    for (low, high), limit in zip(PAIRS, layout.reach.spans_mm, strict=True):
        pair = both & (finger[:, None] == low) & (finger[None, :] == high)
        too_wide = (along > limit) | (np.hypot(along, across) > ACROSS * limit)
        ok &= ~(pair & too_wide)
    both_ways: Bools = np.logical_and(ok, ok.T)
    both_ways[layout.dropped, :] = both_ways[:, layout.dropped] = True
    return both_ways


def _frame(layout: Layout) -> tuple[Bools, Bools]:
    """[code, position - 1]: may the spot be pressed there, and is it the finger's own fret."""
    position = np.arange(1, layout.positions + 1)
    offset = layout.fret[:, None] - (position[None, :] + layout.finger[:, None] - 1)
    lowest = np.array([*LOWEST_OFFSET, 0])[layout.finger][:, None]
    may = (offset >= lowest) & (offset <= 1)
    anywhere: Bools = may | ~layout.pressed[:, None]
    own: Bools = (offset == 0) & layout.pressed[:, None]
    return anywhere, own


def _stroke(layout: Layout, frame: Bools) -> dict[str, Floats]:
    """Features of a struck note by [code, position - 1]."""
    shape = frame.shape
    position = np.broadcast_to(np.arange(1, layout.positions + 1), shape)
    string, fret, finger = (
        np.broadcast_to(a[:, None], shape) for a in (layout.string, layout.fret, layout.finger)
    )
    pressed = np.broadcast_to(layout.pressed[:, None], shape)
    offset = fret - (position + finger - 1)
    toward = (string - 1) / max(1, layout.reach.strings - 1)
    table = {
        "open": (string > 0) & (fret == 0),
        "height": np.where(pressed, fret - 1, 0),
        "position": np.where(string > 0, position - 1, 0),
        "open away": (string > 0) & (fret == 0) & (position >= 3),
    }
    for part, name in enumerate(PARTS):
        there = (string > 0) & (np.minimum(2, (string - 1) // 2) == part)
        table[f"open {name}"] = there & (fret == 0)
    for p in range(2, HIGHEST_NAMED + 1):
        table[f"at {p}"] = (string > 0) & (np.minimum(position, HIGHEST_NAMED) == p)
    for k in range(1, 5):
        mine = pressed & (finger == k)
        table[f"finger {k}"] = mine
        table[f"bass {k}"] = mine * toward
        table |= {f"frame {k} {d:+d}": mine & (offset == d) for d in OFFSETS}
        for part, name in enumerate(PARTS):
            there = mine & (np.minimum(2, (string - 1) // 2) == part)
            for n in range(1, HABIT_FRETS + 1):
                table[f"habit {k} {name} {n}"] = there & (fret == n)
    return {name: np.asarray(column, float) for name, column in table.items()}


def _chord(layout: Layout) -> dict[str, Floats]:
    """Features of a note struck together with others by [code]."""
    return {
        f"chord {k}": np.asarray(layout.pressed & (layout.finger == k), float) for k in range(1, 5)
    }


def _barre(layout: Layout) -> dict[str, Floats]:
    """Features of what finger 1 holds by [place]."""
    thin, thick, _ = layout.columns(1)
    return {"barre held": (thick > thin).astype(float)}


def _pair(layout: Layout, pair: tuple[int, int]) -> dict[str, Floats]:
    """Features of two fingers that press together, by [place of the lower, of the higher]."""
    low, high = pair
    thin_a, thick_a, fret_a = (a[:, None] for a in layout.columns(low))
    thin_b, thick_b, fret_b = (a[None, :] for a in layout.columns(high))
    both = (fret_a > 0) & (fret_b > 0)
    mm = np.array(layout.reach.frets_mm)
    wide = np.maximum(0.0, mm[fret_b] - mm[fret_a] - COMFORT_MM[PAIRS.index(pair)])
    close = np.maximum(0, high - low - (fret_b - fret_a))
    inverted = (fret_a == fret_b) & (thick_a < thin_b)
    apart = np.maximum(0, np.maximum(thin_b - thick_a, thin_a - thick_b) - 1)
    name = f"{low}{high}"
    return {
        f"wide {name}": both * wide,
        f"close {name}": both * close.astype(float),
        f"inverted {name}": (both & inverted).astype(float),
        f"spread {name}": both * apart.astype(float),
    }


def _step(layout: Layout, finger: int) -> dict[str, Floats]:
    """Features of one finger's movement by [place before, place after].

    Those of leaps and slides are multiplied by the pressure of time when they are used.
    """
    thin_a, thick_a, fret_a = (a[:, None] for a in layout.columns(finger))
    thin_b, thick_b, fret_b = (a[None, :] for a in layout.columns(finger))
    both = (fret_a > 0) & (fret_b > 0)
    equal = both & (thin_a == thin_b) & (thick_a == thick_b) & (fret_a == fret_b)
    moved = both & ~equal
    same_fret = moved & (fret_a == fret_b)
    meets = (thin_a <= thick_b) & (thin_b <= thick_a)
    roll = same_fret & meets
    along = moved & (fret_a != fret_b) & meets
    table = {
        f"place {finger}": (fret_a == 0) & (fret_b > 0),
        f"stay {finger}": equal,
        f"hop {finger}": moved & (fret_a != fret_b) & ~meets,
        f"side {finger}": same_fret & ~meets,
        "slide": along,
        f"slide {finger}": along,
        "slide fret": along * np.abs(fret_b - fret_a),
    }
    if finger == 1:
        grown = (fret_b > 0) & (thick_b > thin_b) & ~equal
        table["roll"] = roll
        table["barre"] = grown
        table["barre string"] = grown * np.maximum(0, thick_b - thin_b - 1)
    return {name: np.asarray(column, float) for name, column in table.items()}


def _follow(layout: Layout, before: int, after: int) -> dict[str, Floats]:
    """Features of one finger pressing after another pressed, by [place before, place after]."""
    thin_a, thick_a, fret_a = (a[:, None] for a in layout.columns(before))
    thin_b, thick_b, fret_b = (a[None, :] for a in layout.columns(after))
    both = (fret_a > 0) & (fret_b > 0)
    wider = (fret_b - fret_a - (after - before)) * (1 if after > before else -1)
    same = (thin_a == thick_b) & (thick_a == thin_b) & (fret_a == fret_b)
    table = {
        f"near {before}{after}": both * np.clip(-wider, 0, MOST_FOLLOWING),
        f"far {before}{after}": both * np.clip(wider, 0, MOST_FOLLOWING),
        "exchange": both & same,
    }
    return {name: np.asarray(column, float) for name, column in table.items()}


def _shift(positions: int) -> dict[str, Floats]:
    """Features of the hand's movement by [position before - 1, + positions where no finger was
    down; position after - 1], multiplied by the pressure of time when they are used."""
    before = np.arange(2 * positions)[:, None]
    after = np.arange(positions)[None, :]
    moved = after - before % positions
    free = before >= positions
    table = {
        "shift": moved != 0,
        "shift fret": np.abs(moved),
        "free shift": (moved != 0) & free,
        "downward": np.maximum(0, -moved),
    }
    return {name: np.asarray(column, float) for name, column in table.items()}
