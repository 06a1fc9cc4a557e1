"""The hand and the neck a search works with: frets in mm, spans, and what a level allows."""

from __future__ import annotations

from msgspec import Struct

from core.model import HandProfile, Instrument, LevelContract

PAIRS = ((1, 2), (1, 3), (1, 4), (2, 3), (2, 4), (3, 4))
SPAN_MOST_MM = (60.0, 85.0, 110.0, 46.0, 73.0, 48.0)
"""How far two fingers reach along the strings, in the order of `PAIRS`. Measured on the finger
marks of 122 open scores (both fingers marked, sounding together): about the 97th percentile."""

COMFORT_MM = (36.0, 70.0, 99.0, 36.0, 68.0, 34.0)
"""What a hand spans without effort: one fret a finger in first position on 650 mm."""

ACROSS = 1.2
"""The distance across and along the strings together may be this much longer than along them."""

HIGH_FRET = 7

AGE_FACTORS = ((7, 0.75), (10, 0.83), (13, 0.92))
"""Up to this age (years), this part of a grown hand's spans. House default, no published spans."""


class Reach(Struct, frozen=True):
    """What one student's hand can do on one instrument, within a level.

    `frets_mm[n]` is the distance of fret n from the nut or capo; `string_mm` the distance of two
    neighbouring strings at the nut; `spans_mm` in the order of `PAIRS`. `usual` is the fret and
    the position that only string 1 may exceed, where it is reached from open strings, a rest or a
    finger that lies on it (None: no such exception).
    """

    strings: int
    frets_mm: tuple[float, ...]
    string_mm: float
    spans_mm: tuple[float, ...]
    highest_position: int
    fingers: int = 4
    barre: bool = True
    usual: tuple[int, int] | None = None

    @property
    def last_fret(self) -> int:
        return len(self.frets_mm) - 1


def spans(hand: HandProfile | None = None, age: int | None = None) -> tuple[float, ...]:
    """The student's own spans where they were measured, else those usual at that age, in mm."""
    factor = 1.0
    if age is not None:
        factor = next((part for limit, part in AGE_FACTORS if age <= limit), 1.0)
    own = (hand or HandProfile()).spans_mm
    measured: dict[str, float] = {str(pair): mm for pair, mm in own.items()}
    return tuple(
        measured.get(f"{low}{high}", usual * factor)
        for (low, high), usual in zip(PAIRS, SPAN_MOST_MM, strict=True)
    )


def reach(
    instrument: Instrument,
    contract: LevelContract,
    hand: HandProfile | None = None,
    age: int | None = None,
) -> Reach:
    """What this hand may do on this instrument within the contract."""
    there = instrument.highest_fret - instrument.capo
    last = max(1, min(contract.highest_fret, there))
    position = max(1, min(contract.highest_position, last))
    usual = None
    high = min(high_fret(contract), there)
    if high > last:
        usual, last, position = (last, position), high, high
    return Reach(
        strings=len(instrument.strings),
        frets_mm=tuple(instrument.fret_mm(fret) for fret in range(last + 1)),
        string_mm=instrument.nut_mm / (len(instrument.strings) - 1),
        spans_mm=spans(hand, age),
        highest_position=position,
        fingers=contract.fingers,
        barre=contract.barre,
        usual=usual,
    )


def high_fret(contract: LevelContract) -> int:
    """The highest fret of string 1 where it is reached from open strings, a rest or a guide finger:
    a house default of level 1 (0: no exception)."""
    return HIGH_FRET if contract.level == 1 else 0
