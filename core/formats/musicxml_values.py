"""Durations of a MusicXML file as written values.

A note says its value twice: as a picture (``type``, ``dot``, ``time-modification``) and as a
count of divisions (``duration``). Where both agree within rounding the picture is believed, since
divisions often cannot hold a tuplet; where they differ the count is, since it moves the time.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from core.model.time import TICKS_PER_QUARTER, Base, Value

Ticks = int | Fraction

# Tuplets tried where a duration fits no plain value, commonest first.
USUAL_TUPLETS = (
    (3, 2), (6, 4), (5, 4), (7, 4), (7, 8), (2, 3), (4, 3), (9, 8), (10, 8), (11, 8), (13, 8),
    (15, 8), (5, 3), (5, 6), (8, 6), (7, 6),
)  # fmt: skip
LONG_TYPES = {"long": 2, "maxima": 4}
MOST_PIECES = 8


@lru_cache(maxsize=1)
def _plain() -> dict[int, Value]:
    """Every undotted to triple-dotted value by its ticks, the fewest dots winning."""
    table: dict[int, Value] = {}
    for dots in range(4):
        for base in Base:
            if TICKS_PER_QUARTER % 2**dots == 0:
                value = _made(base, dots, ())
                if value is not None:
                    table.setdefault(value.ticks, value)
    return table


def _made(base: Base, dots: int, tuplets: tuple[tuple[int, int], ...]) -> Value | None:
    try:
        return Value(base, dots, tuplets)
    except ValueError:  # not a whole number of ticks
        return None


@lru_cache(maxsize=4096)
def single(ticks: Ticks) -> Value | None:
    """The one value that lasts exactly so long, plain if possible, else of a usual tuplet."""
    if ticks <= 0 or ticks != int(ticks):
        return None
    plain = _plain()
    if int(ticks) in plain:
        return plain[int(ticks)]
    for actual, normal in USUAL_TUPLETS:
        scaled = Fraction(ticks) * actual / normal
        value = plain.get(int(scaled)) if scaled.denominator == 1 else None
        if value is not None and value.dots <= 1:
            return _made(value.base, value.dots, ((actual, normal),))
    return None


@lru_cache(maxsize=4096)
def several(ticks: Ticks) -> tuple[Value, ...] | None:
    """Few values that last so long together, longest first; None where it cannot be written."""
    row: list[Value] = []
    rest = ticks
    while rest > 0 and len(row) < MOST_PIECES:
        whole = single(rest)
        if whole is not None:
            return (*row, whole)
        fitting = [t for t, v in _plain().items() if t < rest and v.dots <= 1]
        if not fitting:
            return None
        longest = max(fitting)
        row.append(_plain()[longest])
        rest -= longest
    return None


@lru_cache(maxsize=4096)
def drawn(
    kind: str, dots: int, actual: int, normal: int, stack: tuple[tuple[int, int], ...] = ()
) -> Value | None:
    """The value a note's picture shows; None for what the model cannot write (256th, long)."""
    try:
        base = Base(kind)
    except ValueError:
        return None
    if not 0 <= dots <= 4 or actual < 1 or normal < 1:
        return None
    if stack and Fraction(*_product(stack)) == Fraction(actual, normal):
        return _made(base, dots, stack)
    return _made(base, dots, () if actual == normal else ((actual, normal),))


def _product(stack: tuple[tuple[int, int], ...]) -> tuple[int, int]:
    actual = normal = 1
    for a, n in stack:
        actual, normal = actual * a, normal * n
    return actual, normal


def tiny(ticks: Ticks) -> tuple[Value, ...] | None:
    """Values for what is shorter than a 128th: 128ths and longer, two (or four) in the time of one.

    A 256th lasts exactly a 128th of such a pair; None where not even that fits.
    """
    for scale in (2, 4):
        row = several(ticks * scale)
        if row is not None and not any(value.tuplets for value in row):
            made = [_made(value.base, value.dots, ((scale, 1),)) for value in row]
            if None not in made:
                return tuple(value for value in made if value is not None)
    return None


def reshaped(value: Value, ticks: Ticks) -> Value | None:
    """The picture kept, but with the tuplet that makes it last `ticks`, if it is a usual one."""
    ratio = Fraction(Value(value.base, value.dots).ticks) / Fraction(ticks)
    for actual, normal in USUAL_TUPLETS:
        if ratio == Fraction(actual, normal):
            return _made(value.base, value.dots, ((actual, normal),))
    return None
