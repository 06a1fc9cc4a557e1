"""Spelled, sounding pitch and keys.

Middle C is C4 (scientific pitch notation). MIDI numbers: A4 = 69; frequency by equal temperament,
440 * 2^((n - 69) / 12) Hz, A = 440 Hz (ISO 16:1975).
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Self

from core.model.text import TextValue

STEPS = "CDEFGAB"
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARP_ORDER = "FCGDAEB"
_ALTERS = {"": 0, "#": 1, "##": 2, "###": 3, "b": -1, "bb": -2, "bbb": -3}
_ALTER_TEXT = {alter: text for text, alter in _ALTERS.items()}


class Pitch(TextValue):
    """A spelled sounding pitch: ``A3``, ``F#4``, ``Bb2``. `alter` counts semitones from -3 to 3."""

    __slots__ = ("step", "alter", "octave")
    step: str
    alter: int
    octave: int

    def __init__(self, step: str, alter: int, octave: int) -> None:
        if step not in _SEMITONES or len(step) != 1:
            raise ValueError(f"{step!r} is not a note name from A to G")
        if alter not in _ALTER_TEXT:
            raise ValueError(f"{step} altered by {alter} semitones cannot be written")
        if not -1 <= octave <= 10:
            raise ValueError(f"octave {octave} is out of range")
        self._fill(step, alter, octave)

    @classmethod
    @lru_cache(maxsize=1024)
    def parse(cls, text: str) -> Self:
        found = re.fullmatch(r"([A-G])(#{0,3}|b{0,3})(-1|\d{1,2})", text)
        if found is None:
            raise ValueError(f"{text!r} is not a pitch such as 'F#4'")
        return cls(found[1], _ALTERS[found[2]], int(found[3]))

    @classmethod
    def from_midi(cls, midi: int, key: Key | None = None) -> Self:
        """The usual spelling of a MIDI number in a key (in none: Bb F C G D A E B F# C# G# D#).

        On the line of fifths, the twelve names from five below to six above the key note:
        flat second to raised fourth, the raised sixth and seventh of minor among them; one lower
        in locrian, whose scale has the flat fifth.
        """
        tonic = 3 if key is None else key.fifths - MODES[key.mode]
        lowest = tonic - 5 if key is None else min(tonic - 5, key.fifths - 1)
        position = next(p for p in range(lowest, lowest + 12) if 7 * p % 12 == midi % 12)
        alter, index = divmod(position + 1, 7)
        step = SHARP_ORDER[index]
        return cls(step, alter, (midi - alter - _SEMITONES[step]) // 12 - 1)

    @property
    def midi(self) -> int:
        """MIDI number; 60 is middle C."""
        return 12 * (self.octave + 1) + _SEMITONES[self.step] + self.alter

    @property
    def diatonic(self) -> int:
        """Steps above C0, not counting alterations: staff positions are differences of this."""
        return 7 * self.octave + STEPS.index(self.step)

    @property
    def frequency(self) -> float:
        """Hertz in equal temperament at A4 = 440 Hz."""
        return frequency(self.midi)

    def __str__(self) -> str:
        return f"{self.step}{_ALTER_TEXT[self.alter]}{self.octave}"


def frequency(midi: float) -> float:
    """Hertz of a (possibly fractional) MIDI number in equal temperament at A4 = 440 Hz."""
    return float(440.0 * 2.0 ** ((midi - 69) / 12))


_MAJOR_FIFTHS = {step: index - 1 for index, step in enumerate(SHARP_ORDER)}
MODES = {
    "major": 0, "minor": -3, "ionian": 0, "dorian": -2, "phrygian": -4, "lydian": 1,
    "mixolydian": -1, "aeolian": -3, "locrian": -5,
}  # fmt: skip


class Key(TextValue):
    """A key: its signature in fifths (-7 flats to 7 sharps) and mode, written ``A minor``."""

    __slots__ = ("fifths", "mode")
    fifths: int
    mode: str

    def __init__(self, fifths: int, mode: str = "major") -> None:
        if not -7 <= fifths <= 7:
            raise ValueError(f"a key signature has at most seven accidentals, not {abs(fifths)}")
        if mode not in MODES:
            raise ValueError(f"{mode!r} is not a mode such as 'major' or 'minor'")
        self._fill(fifths, mode)

    @classmethod
    @lru_cache(maxsize=256)
    def parse(cls, text: str) -> Self:
        found = re.fullmatch(r"([A-G])([#b]{0,2}) ([a-z]+)", text)
        if found is None or found[3] not in MODES or found[2] not in _ALTERS:
            raise ValueError(f"{text!r} is not a key such as 'A minor'")
        fifths = _MAJOR_FIFTHS[found[1]] + 7 * _ALTERS[found[2]] + MODES[found[3]]
        return cls(fifths, found[3])

    @property
    def tonic(self) -> str:
        """The name of the key note: ``F#`` for F sharp minor."""
        alter, index = divmod(self.fifths - MODES[self.mode] + 1, 7)
        return SHARP_ORDER[index] + _ALTER_TEXT[alter]

    def alter_of(self, step: str) -> int:
        """The alteration the signature gives a step: 1 sharp, -1 flat, 0 natural."""
        if self.fifths > 0:
            return int(step in SHARP_ORDER[: self.fifths])
        return -int(step in SHARP_ORDER[::-1][: -self.fifths])

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"
