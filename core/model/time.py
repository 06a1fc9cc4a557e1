"""Written time: note values, lengths and metres, counted in exact integer ticks.

A tick is 1/98017920 of a quarter note (2^7*3^2*5*7*11*13*17 of them make one quarter),
so that every usual tuplet down to the 128th note is a whole number of ticks.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate
from typing import Self

from core.model.text import TextValue

TICKS_PER_QUARTER = 2**7 * 3**2 * 5 * 7 * 11 * 13 * 17
TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
MOST_IN_TUPLET = 64


class Base(StrEnum):
    """The undotted note values, named as MusicXML 4.0 names them (``note-type-value``)."""

    BREVE = "breve"
    WHOLE = "whole"
    HALF = "half"
    QUARTER = "quarter"
    EIGHTH = "eighth"
    SIXTEENTH = "16th"
    THIRTY_SECOND = "32nd"
    SIXTY_FOURTH = "64th"
    HUNDRED_TWENTY_EIGHTH = "128th"

    @property
    def ticks(self) -> int:
        return _BASE_TICKS[self]

    @property
    def flags(self) -> int:
        """How many flags or beams the value carries: 0 for a quarter or longer."""
        return max(0, tuple(Base).index(self) - tuple(Base).index(Base.QUARTER))


_BASE_TICKS = {base: 2 * TICKS_PER_WHOLE >> index for index, base in enumerate(Base)}

_VALUE = re.compile(r"(?P<base>[a-z0-9]+)(?P<dots>\.*)(?P<tuplets>(?:@\d+:\d+)*)")


class Value(TextValue):
    """A written note value: ``quarter``, ``eighth.``, ``eighth@3:2``, ``16th@3:2@5:4``.

    `tuplets` is a stack of (actual, normal), outermost first: ``@3:2`` is three in the time of two.
    """

    __slots__ = ("base", "dots", "tuplets", "ticks")
    base: Base
    dots: int
    tuplets: tuple[tuple[int, int], ...]
    ticks: int

    def __init__(self, base: Base, dots: int = 0, tuplets: Sequence[tuple[int, int]] = ()) -> None:
        stack = tuple((int(actual), int(normal)) for actual, normal in tuplets)
        if not 0 <= dots <= 4:
            raise ValueError(f"a note value takes 0 to 4 dots, not {dots}")
        ticks = Fraction(base.ticks) * (2 - Fraction(1, 2**dots))
        for actual, normal in stack:
            if not (1 <= actual <= MOST_IN_TUPLET and 1 <= normal <= MOST_IN_TUPLET):
                raise ValueError(f"a tuplet of {actual}:{normal} cannot be counted")
            ticks = ticks * normal / actual
        if ticks.denominator != 1:
            raise ValueError(f"{_value_text(base, dots, stack)} is not a whole number of ticks")
        self._fill(base, dots, stack, int(ticks))

    @classmethod
    @lru_cache(maxsize=4096)
    def parse(cls, text: str) -> Self:
        found = _VALUE.fullmatch(text)
        if found is None or found["base"] not in set(Base):
            raise ValueError(f"{text!r} is not a note value such as 'eighth.' or 'quarter@3:2'")
        pairs = [pair.split(":") for pair in found["tuplets"].split("@")[1:]]
        return cls(Base(found["base"]), len(found["dots"]), [(int(a), int(n)) for a, n in pairs])

    def __str__(self) -> str:
        return _value_text(self.base, self.dots, self.tuplets)


def _value_text(base: Base, dots: int, tuplets: tuple[tuple[int, int], ...]) -> str:
    return base.value + "." * dots + "".join(f"@{actual}:{normal}" for actual, normal in tuplets)


_PLAIN_VALUES = tuple(Value(base) for base in Base)
_DOTTED_VALUES = tuple(Value(base, dots) for base in Base for dots in (1, 0))


def written_values(start: int, end: int, metre: Metre) -> tuple[Value, ...]:
    """Values without tuplets that fill the ticks from `start` to `end` of a measure.

    As rests are written (common practice, no source): off the beat a value stops at the next beat
    and begins on a multiple of itself; on a beat it covers one, two or four whole beats from a
    multiple of as many, or the whole measure. What is shorter than a 128th is left over.
    """
    row: list[Value] = []
    while start < end and (value := _fitting(start, end, metre)) is not None:
        row.append(value)
        start += value.ticks
    return tuple(row)


def _fitting(start: int, end: int, metre: Metre) -> Value | None:
    """The longest value that may stand at `start`."""
    beats = list(accumulate(metre.pulse_ticks, initial=0))
    if start in beats[:-1]:
        index = beats.index(start)
        counts = [4, 2, 1] if index else [len(beats) - 1, 4, 2, 1]
        for count in counts:
            last = index + count
            if index % count == 0 and last < len(beats) and beats[last] <= end:
                whole = [v for v in _DOTTED_VALUES if v.ticks == beats[last] - start]
                if whole:
                    return whole[0]
    beat = max(b for b in beats if b <= start)
    limit = min([end, *(b for b in beats if b > start)])
    short = [v for v in _PLAIN_VALUES if start + v.ticks <= limit]
    aligned = [v for v in short if (start - beat) % v.ticks == 0]
    return next(iter(aligned or short), None)


UNIT_WORDS = {
    1: ("whole", "wholes"), 2: ("half", "halves"), 4: ("quarter", "quarters"),
    8: ("eighth", "eighths"), 16: ("16th", "16ths"), 32: ("32nd", "32nds"), 64: ("64th", "64ths"),
    128: ("128th", "128ths"),
}  # fmt: skip


TUPLET_WORDS = {3: "triplet", 5: "quintuplet", 7: "septuplet", 9: "nonuplet"}
"""How many stand in the time of the next lower power of two -> the name, common practice."""


def length_words(ticks: int) -> str:
    """A length as a musician says it: ``a quarter``, ``3 eighths``, ``a half and a triplet
    eighth``; ``a little over a 16th`` where no simple tuplet measures what is left over."""
    length = Fraction(ticks, TICKS_PER_WHOLE)
    if length.denominator in UNIT_WORDS:
        return _so_many(length.numerator, "", UNIT_WORDS[length.denominator])
    quarters = length // Fraction(1, 4)
    words = _tuplet_words(length) if length < Fraction(1, 2) else None
    if words is not None or not quarters:
        return words or _about(length)
    left = length - Fraction(quarters, 4)
    plain = length_words(quarters * TICKS_PER_QUARTER)
    return f"{plain} and {_tuplet_words(left) or _about(left)}"


def _so_many(number: int, kind: str, names: tuple[str, str]) -> str:
    name = f"{kind} {names[number > 1]}".strip()
    if number > 1:
        return f"{number} {name}"
    return f"{'an' if name.startswith('eigh') else 'a'} {name}"


def _tuplet_words(length: Fraction) -> str | None:
    """``2 triplet eighths``; None where no tuplet of one kind of plain values measures it."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd not in TUPLET_WORDS:
        return None
    # n/(p*odd) of a whole are n notes of 1/(p*normal), `odd` of them in the time of `normal`.
    normal = 1 << (odd.bit_length() - 1)
    names = UNIT_WORDS.get(length.denominator // odd * normal)
    return None if names is None else _so_many(length.numerator, TUPLET_WORDS[odd], names)


def _about(length: Fraction) -> str:
    """The plain value that lies just below a length."""
    below = next((unit for unit in UNIT_WORDS if Fraction(1, unit) < length), None)
    if below is None:
        return "less than a 128th"
    return f"a little over {_so_many(1, '', UNIT_WORDS[below])}"


class Length(TextValue):
    """A length or moment as a fraction of a whole note, in lowest terms: ``3/8``, ``0``, ``1``."""

    __slots__ = ("ticks",)
    ticks: int

    def __init__(self, ticks: int) -> None:
        if ticks < 0:
            raise ValueError("a length cannot be negative")
        self._fill(ticks)

    @classmethod
    @lru_cache(maxsize=4096)
    def parse(cls, text: str) -> Self:
        if not re.fullmatch(r"\d{1,9}(/[1-9]\d{0,9})?", text):
            raise ValueError(f"{text!r} is not a length such as '3/8'")
        ticks = Fraction(text) * TICKS_PER_WHOLE
        if ticks.denominator != 1:
            raise ValueError(f"{text} of a whole note is not a whole number of ticks")
        return cls(int(ticks))

    @property
    def wholes(self) -> Fraction:
        """The length in whole notes."""
        return Fraction(self.ticks, TICKS_PER_WHOLE)

    def __str__(self) -> str:
        return str(self.wholes)


class Metre(TextValue):
    """A metre: ``6/8``, ``2+3/8`` with its grouping, ``4/4 common``, ``2/2 cut``."""

    __slots__ = ("groups", "unit", "symbol")
    groups: tuple[int, ...]
    unit: int
    symbol: str

    def __init__(self, groups: Sequence[int], unit: int, symbol: str = "") -> None:
        counted = tuple(int(group) for group in groups)
        if not counted or min(counted) < 1 or sum(counted) > 64:
            raise ValueError("a metre counts from 1 to 64 beats")
        if unit not in (1, 2, 4, 8, 16, 32, 64):
            raise ValueError(f"a metre cannot count in notes of 1/{unit}")
        if symbol not in ("", "common", "cut"):
            raise ValueError(f"{symbol!r} is no metre symbol; use 'common' or 'cut'")
        self._fill(counted, unit, symbol)

    @classmethod
    @lru_cache(maxsize=512)
    def parse(cls, text: str) -> Self:
        found = re.fullmatch(r"(\d{1,2}(?:\+\d{1,2})*)/(\d{1,2})(?: (common|cut))?", text)
        if found is None:
            raise ValueError(f"{text!r} is not a metre such as '6/8' or '2+3/8'")
        return cls([int(g) for g in found[1].split("+")], int(found[2]), found[3] or "")

    @property
    def beats(self) -> int:
        """The upper figure."""
        return sum(self.groups)

    @property
    def ticks(self) -> int:
        """The length of a full measure."""
        return self.beats * TICKS_PER_WHOLE // self.unit

    @property
    def compound(self) -> bool:
        """True where beats divide into three: 6/8, 9/8, 12/8, 6/4 and their kind."""
        return len(self.groups) == 1 and self.beats > 3 and self.beats % 3 == 0 and self.unit >= 4

    @property
    def pulse_ticks(self) -> tuple[int, ...]:
        """The lengths of the felt beats of a measure: two dotted quarters in 6/8.

        3/8 is felt in one; 3/4 in three. A grouped metre such as 2+3/8 is felt in its groups.
        """
        unit = TICKS_PER_WHOLE // self.unit
        if len(self.groups) > 1:
            return tuple(group * unit for group in self.groups)
        if self.compound:
            return (3 * unit,) * (self.beats // 3)
        if self.beats == 3 and self.unit >= 8:
            return (3 * unit,)
        return (unit,) * self.beats

    def __str__(self) -> str:
        figures = "+".join(map(str, self.groups)) + f"/{self.unit}"
        return f"{figures} {self.symbol}" if self.symbol else figures
