"""A passage as the search sees it: onsets, and tones that ring from one onset to another."""

from __future__ import annotations

from typing import NamedTuple

from msgspec import Struct

THUMB = 5
"""The left thumb, where a source asks for it: it holds a string and hinders no finger."""


class Spot(NamedTuple):
    """A way to play a note: string (1 = thinnest), fret, finger (0 = open string)."""

    string: int
    fret: int
    finger: int


Menu = tuple[Spot, ...]


class Tone(Struct, frozen=True):
    """A note from its stroke to its end, with every way it may be played.

    Onsets are counted from 0. It is struck at `first` and rings through `last`; after that its
    finger may stay down through `keep`, because the same pitch comes back.
    """

    menu: Menu
    first: int
    last: int
    keep: int = -1


class Onset(Struct, frozen=True):
    """A moment at which notes are struck.

    `gap` is the time since the onset before, in quarters. `position` pins the fret of finger 1;
    `barre` allows one whatever the level says, because somebody wrote it there; `most` is how many
    notes may sound at once (struck or ringing; None: as many as there are). `rest`: nothing sounds
    before it. `reached`: it is not free what it is reached from.
    """

    gap: float = 1.0
    position: int | None = None
    barre: bool = False
    most: int | None = None
    rest: bool = False
    reached: bool = False


class Passage(Struct, frozen=True):
    """Onsets in order and the tones that sound in them."""

    onsets: tuple[Onset, ...]
    tones: tuple[Tone, ...]

    def struck(self) -> list[list[int]]:
        """Indices of the tones struck at each onset."""
        rows: list[list[int]] = [[] for _ in self.onsets]
        for index, tone in enumerate(self.tones):
            rows[tone.first].append(index)
        return rows

    def present(self) -> list[list[int]]:
        """Indices of the tones struck, ringing or kept at each onset."""
        rows: list[list[int]] = [[] for _ in self.onsets]
        for index, tone in enumerate(self.tones):
            for onset in range(tone.first, max(tone.last, tone.keep) + 1):
                rows[onset].append(index)
        return rows

    def cuts(self) -> list[int]:
        """Onsets at which nothing rings on from before and that are reached from anywhere: what
        cannot be played is local to the stretch between two of them. Starts with 0 and ends with
        the number of onsets."""
        crossed = [*(onset.reached for onset in self.onsets), False]
        for tone in self.tones:
            for onset in range(tone.first + 1, tone.last + 1):
                crossed[onset] = True
        inner = [n for n in range(1, len(self.onsets)) if not crossed[n]]
        return [0, *inner, len(self.onsets)]


def pressure(gap: float) -> float:
    """How much time presses a movement made within `gap` quarters: 0.75 (ample) to 2."""
    if gap >= 1.5:
        return 0.75
    if gap >= 0.75:
        return 1.0
    return 1.5 if gap >= 0.375 else 2.0
