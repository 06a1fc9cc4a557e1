"""The guitar: strings, tuning, capo, scale; places on the neck; distances in millimetres."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal, Self

from msgspec import Struct

from core.model.pitch import Pitch
from core.model.text import TextValue

HIGHEST_FRET = 24


class Place(TextValue):
    """Where a note is played: string 1 (thinnest) and up, fret 0 (open) and up: ``s2f3``.

    Frets are counted from the capo where one is on, so that 0 is always the open string.
    """

    __slots__ = ("string", "fret")
    string: int
    fret: int

    def __init__(self, string: int, fret: int) -> None:
        if not 1 <= string <= 13:
            raise ValueError(f"there is no string {string}; strings are numbered from 1")
        if not 0 <= fret <= HIGHEST_FRET:
            raise ValueError(f"fret {fret} is not on a guitar (0 to {HIGHEST_FRET})")
        self._fill(string, fret)

    @classmethod
    @lru_cache(maxsize=1024)
    def parse(cls, text: str) -> Self:
        found = re.fullmatch(r"s(\d{1,2})f(\d{1,2})", text)
        if found is None:
            raise ValueError(f"{text!r} is not a place such as 's2f3'")
        return cls(int(found[1]), int(found[2]))

    def __str__(self) -> str:
        return f"s{self.string}f{self.fret}"


STANDARD = ("E4", "B3", "G3", "D3", "A2", "E2")
LOWERED_SIXTH = ("E4", "B3", "G3", "D3", "A2", "D2")


class Instrument(Struct, frozen=True, omit_defaults=True):
    """The student's guitar. `strings` are sounding pitches without capo, string 1 first.

    `scale_mm` is nut to saddle, `nut_mm` the distance of the outer strings at the nut.
    """

    strings: tuple[Pitch, ...] = tuple(Pitch.parse(text) for text in STANDARD)
    capo: int = 0
    scale_mm: float = 650.0
    nut_mm: float = 43.0
    highest_fret: int = 19
    hand: Literal["right", "left"] = "right"

    def __post_init__(self) -> None:
        if not 4 <= len(self.strings) <= 13:
            raise ValueError(f"an instrument has 4 to 13 strings, not {len(self.strings)}")
        if not 0 <= self.capo <= 12:
            raise ValueError(f"a capo stands at fret 0 (none) to 12, not {self.capo}")
        if not 200 <= self.scale_mm <= 900:
            raise ValueError(f"a scale of {self.scale_mm} mm is no guitar's")
        if not 0 < self.nut_mm <= 200:
            raise ValueError(f"a nut of {self.nut_mm} mm is no guitar's")

    @property
    def standard(self) -> bool:
        """Whether the six strings are in the usual tuning E A D G B E."""
        return tuple(map(str, self.strings)) == STANDARD

    def open_midi(self, string: int) -> int:
        """MIDI number of the open string as it sounds, capo included."""
        return self.strings[string - 1].midi + self.capo

    def midi_at(self, place: Place) -> int:
        """MIDI number that sounds at a place."""
        return self.open_midi(place.string) + place.fret

    def places(self, midi: int, highest_fret: int | None = None) -> tuple[Place, ...]:
        """Every place where the pitch sounds, thinnest string first."""
        limit = self.highest_fret - self.capo if highest_fret is None else highest_fret
        frets = ((s, midi - self.open_midi(s)) for s in range(1, len(self.strings) + 1))
        return tuple(Place(string, fret) for string, fret in frets if 0 <= fret <= limit)

    def place_on(self, string: int, midi: int) -> Place | None:
        """Where the pitch sounds on one string; None where it has no such fret."""
        if not 1 <= string <= len(self.strings):
            return None
        fret = midi - self.open_midi(string)
        return Place(string, fret) if 0 <= fret <= self.highest_fret - self.capo else None

    def fret_mm(self, fret: int) -> float:
        """Millimetres from the nut (or the capo) to a fret: L (1 - 2^(-n/12))."""
        speaking_mm = self.scale_mm * 2.0 ** (-self.capo / 12)
        return float(speaking_mm * (1 - 2.0 ** (-fret / 12)))
