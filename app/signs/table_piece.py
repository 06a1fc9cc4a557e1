"""The sign words for the form and for the whole piece."""

from __future__ import annotations

import re
from collections.abc import Iterator

from app.signs import reading
from app.signs.here import Sign
from app.signs.piece import (
    CapoSign,
    ClefSign,
    CreditSign,
    EndingSign,
    GoalTempoSign,
    GuitarSign,
    MainKeySign,
    MoveSign,
    NoEnding,
    TuningSign,
    UsualTuning,
)
from app.signs.word import Word, alone, needed
from core.model import Base, Tempo, Value


def piece_rows() -> Iterator[Word]:
    """Endings and the order of sections; tempo, guitar, clef, credit, key."""
    yield Word("ending", "over the selected measures, for these times", ending, "ending 1,2",
               NoEnding())  # fmt: skip
    yield Word("open ending", "its bracket does not close", open_ending, "open ending 2",
               NoEnding())  # fmt: skip
    yield alone("move section before", MoveSign(-1), "before the one before it")
    yield alone("move section after", MoveSign(1), "after the one after it")
    yield Word("goal tempo", "of the piece", goal_tempo, "goal tempo quarter 54")
    yield Word("capo", "at a fret; the places stay", capo, "capo 2", CapoSign(0))
    yield Word("tuning", "every string from the lowest; the pitches stay", tuning,
               "tuning D A D G B E")  # fmt: skip
    yield alone("usual tuning", UsualTuning(), "E A D G B E")
    yield Word("scale", "of the guitar, in millimetres", scale, "scale 630")
    yield alone("left-handed guitar", GuitarSign(hand="left"), "strung the other way round")
    yield alone("right-handed guitar", GuitarSign(hand="right"), "as most are")
    yield alone("clef with 8", ClefSign(True), "it sounds an octave lower, and says so")
    yield alone("plain clef", ClefSign(False), "without the 8")
    yield Word("credit", "the line under the title", credit, "credit Trad.", CreditSign(""))
    yield Word("main key", "the key of the piece; no measure changes", main_key, "main key A minor")


def ending(rest: str) -> Sign:
    """``1``, ``1,2``, ``1-3``."""
    return EndingSign(_passes(rest))


def open_ending(rest: str) -> Sign:
    """As `ending`."""
    return EndingSign(_passes(rest), closed=False)


def _passes(rest: str) -> tuple[int, ...]:
    found: set[int] = set()
    for part in needed(re.sub(r"[,.]", " ", rest)).replace(" and ", " ").split():
        low, _, high = part.partition("-")
        first, last = reading.whole(low), reading.whole(high or low)
        if first > last:
            raise ValueError(rest)
        found.update(range(first, last + 1))
    if not found:
        raise ValueError(rest)
    return tuple(sorted(found))


def goal_tempo(rest: str) -> Sign:
    """A beat and a figure."""
    words, beat, figure = reading.tempo(rest)
    if words or figure is None:
        raise ValueError(rest)
    Tempo(Value(Base.QUARTER), figure)  # its limits
    return GoalTempoSign(beat, figure)


def capo(rest: str) -> Sign:
    """A fret."""
    return CapoSign(reading.fret(rest))


def tuning(rest: str) -> Sign:
    """Names from the lowest string, parted by spaces or not."""
    found = re.findall(r"[A-Ga-g][#b]?(?:-1|[0-9])?", rest)
    if not found or "".join(found) != re.sub(r"[\s,]", "", rest):
        raise ValueError(rest)
    return TuningSign(tuple(found))


def scale(rest: str) -> Sign:
    """Millimetres."""
    millimetres = reading.whole(rest.removesuffix("mm").strip())
    if not 200 <= millimetres <= 900:
        raise ValueError(rest)
    return GuitarSign(scale_mm=float(millimetres))


def credit(rest: str) -> Sign:
    """Words."""
    return CreditSign(needed(rest))


def main_key(rest: str) -> Sign:
    """A key."""
    return MainKeySign(reading.key(needed(rest)))
