"""Figures, note names, values and keys as a teacher types them. A ValueError says: not that."""

from __future__ import annotations

import re
from fractions import Fraction

from core.model import BadInput, EditRefused, Finger, Key, Pitch, Value

_ROMAN = {"I": 1, "V": 5, "X": 10}


def whole(text: str) -> int:
    """``12``; at most three figures."""
    if not re.fullmatch(r"[0-9]{1,3}", text):
        raise ValueError(text)
    return int(text)


def fret(text: str) -> int:
    """A fret as a figure or a numeral: ``5``, ``V``."""
    if not re.fullmatch(r"[IVX]{1,5}", text.upper()):
        return whole(text)
    row = [_ROMAN[letter] for letter in text.upper()]
    following = [*row[1:], 0]
    return sum(n if n >= after else -n for n, after in zip(row, following, strict=True))


def part(text: str) -> float:
    """``1/2``, ``1``, ``1.5``, ``1 1/2``."""
    words = text.split()
    if not words or not all(re.fullmatch(r"[0-9]{1,2}([./][0-9]{1,2})?", w) for w in words):
        raise ValueError(text)
    try:
        return float(sum(Fraction(word) for word in words))
    except ZeroDivisionError:
        raise ValueError(text) from None


def finger(text: str) -> Finger:
    """``0`` to ``4``, ``T``."""
    return Finger(text.upper())


def pitch(text: str, octave: int | None = None) -> Pitch:
    """``D4``, ``f#4``, ``Bb3``; without figure in an octave that is given."""
    found = re.fullmatch(r"([A-Ga-g])([#b]{0,2})(-1|[0-9])?", text)
    if found is None or (found[3] is None and octave is None):
        raise ValueError(text)
    return Pitch.parse(f"{found[1].upper()}{found[2]}{found[3] or octave}")


def tempo(text: str) -> tuple[str, Value | None, float | None]:
    """Words, beat and figure of ``Andante dotted quarter = 54``; each may be missing."""
    words = text.replace("=", " ").split()
    figure = None
    if words and re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,3})?", words[-1]):
        figure = float(words.pop())
    beat = _beat(words) if figure is not None else None
    return " ".join(words), beat, figure


def _beat(words: list[str]) -> Value | None:
    """The value at the end of the words, which is taken from them."""
    try:
        value = Value.parse(words[-1].lower())
    except (ValueError, IndexError):
        return None
    words.pop()
    if words and words[-1].lower() == "dotted" and not value.dots:
        words.pop()
        value = Value(value.base, 1)
    return value


def key(text: str) -> Key:
    """``A minor``, ``Am``, ``A``, ``Bb``. Raises EditRefused."""
    tonic, _, mode = text.partition(" ")
    if not mode and tonic.endswith("m"):
        tonic, mode = tonic[:-1], "minor"
    named = f"{tonic[:1].upper()}{tonic[1:]} {mode or 'major'}"
    try:
        return Key.parse(named)
    except (ValueError, BadInput):
        raise EditRefused(f"{text} is not a key; write one such as A minor, Am or Bb.") from None
