"""The signs of a plain-text tab that writing and reading share: value letters, voices, lengths."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import TypeVar

from msgspec import Struct

from core.model import Base, Value
from core.model.time import TICKS_PER_WHOLE

T = TypeVar("T")

# The bench's own value keys; the last three have no key.
LETTERS = {
    Base.WHOLE: "W", Base.HALF: "H", Base.QUARTER: "Q", Base.EIGHTH: "E", Base.SIXTEENTH: "S",
    Base.THIRTY_SECOND: "T", Base.BREVE: "B", Base.SIXTY_FOURTH: "X",
    Base.HUNDRED_TWENTY_EIGHTH: "Y",
}  # fmt: skip
BASES = {letter: base for base, letter in LETTERS.items()}

BEAT = re.compile(
    r"(?P<letter>[BWHQESTXYbwhqestxy])(?P<dots>\.{0,4})"
    r"(?P<tuplets>\d{1,2}(?::\d{1,2})?(?:,\d{1,2}:\d{1,2})*)?(?P<more>\+{0,9})"
)
LENGTH = re.compile(r"\d{1,3}(?:\+\d{1,3})*/\d{1,6}")
SILENT = "-"  # a line of values without any: this voice has nothing here
HAND = "LH"  # begins a line of left-hand fingers


class Beat(Struct, frozen=True):
    """One letter of a line of values: where it stands, its value, a rest or not, and how many
    figures beyond the first belong to it where voices begin together."""

    at: int
    value: Value
    rest: bool
    more: int = 0


def beat_text(value: Value, rest: bool, more: int) -> str:
    """``Q.``, ``E3`` in a triplet, ``s5:4`` for a rest, ``H+``."""
    letter = LETTERS[value.base]
    stack = ",".join(f"{actual}:{normal}" for actual, normal in value.tuplets)
    tuplet = "3" if stack == "3:2" else stack
    return (letter.lower() if rest else letter) + "." * value.dots + tuplet + "+" * more


def beats(line: str) -> tuple[Beat, ...] | None:
    """The letters of a line of values; None where the line is something else."""
    if line.strip() == SILENT:
        return ()
    found = list(BEAT.finditer(line))
    rest = list(line)
    for match in found:
        rest[match.start() : match.end()] = " " * (match.end() - match.start())
    if not found or "".join(rest).replace("|", "").strip():
        return None
    try:
        return tuple(_beat(match) for match in found)
    except ValueError:
        return None


def _beat(match: re.Match[str]) -> Beat:
    letter = match["letter"]
    tuplets = [_ratio(text) for text in (match["tuplets"] or "").split(",") if text]
    value = Value(BASES[letter.upper()], len(match["dots"]), tuplets)
    if value.ticks <= 0:
        raise ValueError("a value lasts some time")
    return Beat(match.start(), value, letter.islower(), len(match["more"]))


def _ratio(text: str) -> tuple[int, int]:
    """``5:4``; a lone figure is that many in the time of the next lower power of two."""
    actual, _, normal = text.partition(":")
    count = int(actual)
    return count, int(normal) if normal else 1 << max(0, (count - 1).bit_length() - 1)


def length_text(ticks: int) -> str:
    """How long a measure is: ``1/8``."""
    length = Fraction(ticks, TICKS_PER_WHOLE)
    return f"{length.numerator}/{length.denominator}"


def lengths(line: str) -> list[tuple[int, str]] | None:
    """The metres or lengths of a line with where they stand; None where it is something else."""
    if not line.strip() or LENGTH.sub("", line).strip():
        return None
    return [(match.start(), match[0]) for match in LENGTH.finditer(line)]


def length_ticks(text: str) -> int | None:
    """The ticks of ``2+3/8``; None where it is no length that can be written."""
    upper, _, lower = text.partition("/")
    beat_count = sum(int(group) for group in upper.split("+"))
    if not int(lower) or (ticks := Fraction(beat_count * TICKS_PER_WHOLE, int(lower))) <= 0:
        return None
    return int(ticks) if ticks.denominator == 1 else None


def shared_out(figures: Sequence[T], wanted: Sequence[int]) -> list[list[T]]:
    """Which figures of a column, from string 1 down, each voice has that begins there.

    `wanted` says of each voice, the upper first, how many; the lower ones take theirs from below
    and the first has the rest. A voice for which nothing is left shares with the others.
    """
    left = list(figures)
    parts: list[list[T]] = []
    for count in reversed(wanted[1:]):
        parts.append(left[-count:] or list(figures[-count:]))
        left = left[: max(0, len(left) - count)]
    parts.append(left or list(figures[:1]))
    return parts[::-1]
