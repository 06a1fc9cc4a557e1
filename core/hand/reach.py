"""What a left hand can hold down at once, measured on this instrument."""

from __future__ import annotations

from collections.abc import Iterable

from core.model import HandProfile, Instrument, Place

HAND_SPAN_MM = 110.0
"""Index to little finger, pad to pad. House default: of the finger pairs that editors marked in
122 open scores, 99 % of index-little spans lie within 98 mm and the widest is 106 mm."""

FINGERS = 4


def span_limit_mm(hand: HandProfile) -> float:
    """How far apart the fretted notes of one moment may lie: the student's own span if known."""
    return hand.spans_mm.get("14", HAND_SPAN_MM)


def span_mm(instrument: Instrument, frets: Iterable[int]) -> float:
    """Millimetres from the lowest to the highest pressed fret; open strings are free."""
    pressed = [fret for fret in frets if fret > 0]
    if not pressed:
        return 0.0
    return instrument.fret_mm(max(pressed)) - instrument.fret_mm(min(pressed))


def barred_strings(places: Iterable[Place]) -> int:
    """How many strings finger 1 must cover because the four fingers do not suffice; 0 for none.

    The notes at the lowest pressed fret are the ones a barre can take.
    """
    pressed = [place for place in places if place.fret > 0]
    if len(pressed) <= FINGERS:
        return 0
    lowest = min(place.fret for place in pressed)
    strings = [place.string for place in pressed if place.fret == lowest]
    return max(strings) - min(strings) + 1 if len(strings) > 1 else 1


def holdable(places: Iterable[Place], instrument: Instrument, limit_mm: float) -> bool:
    """Whether one hand can hold all these places at once.

    One note a string; the pressed frets within the span; no more fingers than four, where a barre
    counts as one finger and leaves no string open on its treble side.
    """
    held = tuple(places)
    strings = {place.string for place in held}
    if len(strings) < len(held):
        return False
    if span_mm(instrument, (place.fret for place in held)) > limit_mm:
        return False
    if not barred_strings(held):
        return True
    lowest = min(place.fret for place in held if place.fret > 0)
    barred = [place.string for place in held if place.fret == lowest]
    fingers = 1 + sum(place.fret > lowest for place in held)
    opened = any(place.fret == 0 and place.string < max(barred) for place in held)
    return len(barred) > 1 and fingers <= FINGERS and not opened
