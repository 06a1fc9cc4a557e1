"""The states of one onset: every way the hand can hold what sounds there."""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np

from core.hand.anatomy import PAIRS
from core.hand.tables import FAR_STRING, Bools, Floats, Ints, Layout, Tables

UNPLACED = 1e7
"""What leaving out a note costs: more than any fingering, so that as few as possible are."""

UNPLACED_HIGH = 9e6
"""The same of a note that lies above the usual frets: such a note is left out before another."""

RELEASED = 1e4
"""What letting a ringing note go early costs: more than any fingering can differ."""


class Sounding(NamedTuple):
    """One tone at an onset: the codes it may have, and what kind of presence it is.

    `struck` here; `loose` notes may also be let go: kept fingers always, others in soft mode.
    What is `kept` does not sound.
    """

    codes: tuple[int, ...]
    struck: bool
    loose: bool
    kept: bool = False


class Asked(NamedTuple):
    """What an onset asks: equal questions have equal states."""

    tones: tuple[Sounding, ...]
    position: int | None
    barre: bool
    most: int | None = None

    @property
    def chord(self) -> bool:
        """Whether several notes are struck together."""
        return sum(tone.struck for tone in self.tones) > 1


class States:
    """The states of an onset: shapes (what every finger holds) and positions of the hand.

    `shape_codes` [shape, tone] and `shape_fingers` [shape, 4] places; `shape`, `position` (fret of
    finger 1) and `price` for every state.
    """

    def __init__(self, codes: Ints, fingers: Ints, shape: Ints, position: Ints) -> None:
        self.shape_codes, self.shape_fingers = codes, fingers
        self.shape, self.position = shape, position
        self.codes, self.fingers = codes[shape], fingers[shape]
        self.pressed: Bools = np.any(self.fingers, axis=1)
        self.price: Floats = np.zeros(len(shape))
        self.reaching: Ints = np.zeros(len(codes), np.int64)  # finger on a note above the usual
        self.number = 0  # a store counts its states
        self._columns: tuple[Ints, Ints] | None = None

    @cached_property
    def used(self) -> tuple[int, ...]:
        """The fingers that press something in some shape."""
        return tuple(int(k) + 1 for k in np.flatnonzero(self.shape_fingers.any(axis=0)))

    def columns(self, layout: Layout) -> tuple[Ints, Ints]:
        """Where in the tables of steps what the fingers do here is found: the different columns,
        and for [shape, finger - 1] which of them."""
        if self._columns is None:
            wide = self.shape_fingers + layout.starts
            used, which = np.unique(wide, return_inverse=True)
            self._columns = used, which.reshape(wide.shape)
        return self._columns

    def __len__(self) -> int:
        return len(self.shape)


def states(asked: Asked, tables: Tables) -> States:
    """Every state of an onset, in a fixed order."""
    combos = _join(asked, tables)
    fingers, sound = _fingers(combos, tables)
    sound &= _rules(combos, fingers, asked, tables)
    combos, fingers = combos[sound], fingers[sound]
    rows, position = _positions(combos, asked, tables)
    used = np.zeros(len(combos), bool)
    used[rows] = True
    shape: Ints = (np.cumsum(used) - 1)[rows]
    combos, fingers = combos[used], fingers[used]
    found = States(combos, fingers, shape, position)
    struck = combos[:, [column for column, tone in enumerate(asked.tones) if tone.struck]]
    up = tables.layout.high[struck]
    found.reaching = np.where(up, tables.layout.finger[struck], 0).max(axis=1, initial=0)
    found.price = _shape_prices(combos, fingers, asked, tables)[shape]
    chord = asked.chord
    for column, tone in enumerate(asked.tones):
        if tone.struck:
            if chord:
                found.price += tables.chord.prices[found.codes[:, column]]
            found.price += tables.stroke.prices[found.codes[:, column], position - 1]
    return found


def _join(asked: Asked, tables: Tables) -> Ints:
    """Combinations of spots, one column a tone, in which every two go together."""
    dropped = tables.layout.dropped
    combos = np.zeros((1, 0), np.int64)
    for tone in asked.tones:
        menu = np.array([*tone.codes, *([dropped] if tone.loose else [])], np.int64)
        ok = np.ones((len(combos), len(menu)), bool)
        for column in range(combos.shape[1]):
            ok &= tables.together[combos[:, column][:, None], menu[None, :]]
        before, spot = np.nonzero(ok)
        combos = np.concatenate([combos[before], menu[spot][:, None]], axis=1)
    return combos


def _fingers(combos: Ints, tables: Tables) -> tuple[Ints, Bools]:
    """Places of the four fingers, and which combinations have no string open on the treble side
    of a barre."""
    layout = tables.layout
    told = layout.told[combos].max(axis=1, initial=-FAR_STRING)
    fret, thick, thin, opened = np.maximum(0, told[:, 3]), told[:, 4], -told[:, 5], -told[:, 6]
    fingers = np.empty((len(combos), 4), np.int64)
    np.maximum(0, told[:, :3], out=fingers[:, 1:])
    thick = np.maximum(0, thick)
    thin = np.minimum(thin, thick)
    fingers[:, 0] = layout.index_place(thin, thick, fret)
    return fingers, (thin == thick) | (opened > thick)


def _rules(combos: Ints, fingers: Ints, asked: Asked, tables: Tables) -> Bools:
    """Barres only where they are allowed; no more notes at once than are."""
    ok = np.ones(len(combos), bool)
    sounding = [column for column, tone in enumerate(asked.tones) if not tone.kept]
    if asked.most is not None and len(sounding) > asked.most:
        ok &= (combos[:, sounding] != tables.layout.dropped).sum(axis=1) <= asked.most
    if not (tables.layout.reach.barre or asked.barre):
        thin, thick, _ = tables.layout.columns(1)
        ok &= (thin == thick)[fingers[:, 0]]
    return ok


def _positions(combos: Ints, asked: Asked, tables: Tables) -> tuple[Ints, Ints]:
    """Pairs of a combination and a position of the hand in which it can be held.

    Every finger lies within its reach of the frame and one is in its own place, unless the hand
    is in first position or presses nothing.
    """
    may: Bools = np.all(tables.frame[combos], axis=1)
    usual = tables.layout.reach.usual
    if usual is not None:
        may[~tables.layout.high[combos].any(axis=1), usual[1] :] = False
    own: Bools = np.any(tables.own[combos], axis=1)
    idle: Bools = ~np.any(tables.layout.pressed[combos], axis=1)
    own |= idle[:, None]
    own[:, 0] = True
    may &= own
    if asked.position is not None:
        may &= np.arange(1, tables.layout.positions + 1)[None, :] == asked.position
    rows, position = np.nonzero(may)
    return rows, position + 1


def _shape_prices(combos: Ints, fingers: Ints, asked: Asked, tables: Tables) -> Floats:
    price: Floats = tables.barre.prices[fingers[:, 0]].copy()
    for low, high in PAIRS:
        price += tables.pairs[low, high].prices[fingers[:, low - 1], fingers[:, high - 1]]
    for column, tone in enumerate(asked.tones):
        if tone.struck and tone.loose:
            high = len(tone.codes) > 0 and bool(tables.layout.high[list(tone.codes)].all())
            left_out = UNPLACED_HIGH if high else UNPLACED
            price += left_out * (combos[:, column] == tables.layout.dropped)
    return price


def may_reach(a: States, b: States, tables: Tables) -> Bools:
    """[shape of a, shape of b]: whether what is struck above the usual frets is reached as it
    should be: from open strings, or by a finger that lies on string 1."""
    layout = tables.layout
    idle = ~a.shape_fingers.any(axis=1)
    allowed = np.ones((len(a.shape_codes), len(b.shape_codes)), bool)
    for finger in range(1, 5):
        thin, _, fret = layout.columns(finger)
        lies = ((thin == 1) & (fret > 0))[a.shape_fingers[:, finger - 1]]
        allowed &= (b.reaching != finger)[None, :] | (lies | idle)[:, None]
    return allowed
