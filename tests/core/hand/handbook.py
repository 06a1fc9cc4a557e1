"""Open shapes of the handbooks: frets and fingers from string 6 to string 1.

D and Dm after two beginner lesson pages, the rest common handbook fingerings (from memory); the
pitch content is arithmetic. Several fingerings of one chord where handbooks give several.
"""

from __future__ import annotations

from core.hand.anatomy import SPAN_MOST_MM, Reach
from core.hand.passage import Onset, Passage, Spot, Tone

OPEN = (40, 45, 50, 55, 59, 64)
LOWERED = (38, 45, 50, 55, 59, 64)

SHAPES: dict[str, tuple[str, tuple[str, ...]]] = {
    "E": ("022100", ("023100",)),
    "Em": ("022000", ("023000",)),
    "E7": ("020100", ("020100",)),
    "A": ("x02220", ("x01230",)),
    "Am": ("x02210", ("x02310",)),
    "A7": ("x02020", ("x02030",)),
    "D": ("xx0232", ("xx0132",)),
    "Dm": ("xx0231", ("xx0231",)),
    "D7": ("xx0212", ("xx0213",)),
    "G": ("320003", ("210003", "320004")),
    "G7": ("320001", ("320001",)),
    "C": ("x32010", ("x32010",)),
    "C7": ("x32310", ("x32410",)),
    "F small": ("xx3211", ("xx3211",)),
    "Fmaj7": ("xx3210", ("xx3210",)),
    "F full": ("133211", ("134211",)),
    "Bm": ("x24432", ("x13421",)),
    "Bm top": ("xx4432", ("xx3421",)),
    "B7": ("x21202", ("x21304",)),
}

LOWERED_SHAPES: dict[str, tuple[str, tuple[str, ...]]] = {
    "D with D bass": ("000232", ("000132",)),
    "G in position II": ("520003", ("410002",)),
    "G for beginners": ("5x0003", ("3x0001",)),
}
"""With the sixth string lowered to D; the fingers are common practice, no source."""

HAND = Reach(
    6, tuple(650 * (1 - 2 ** (-n / 12)) for n in range(6)), 43 / 5, SPAN_MOST_MM, 3
)  # fmt: skip


def known(shape: str) -> tuple[str, tuple[str, ...]]:
    """The frets and the fingerings of a shape."""
    return (SHAPES | LOWERED_SHAPES)[shape]


def opens(shape: str) -> tuple[int, ...]:
    return LOWERED if shape in LOWERED_SHAPES else OPEN


def midi(shape: str) -> list[int]:
    return [opens(shape)[n] + int(f) for n, f in enumerate(known(shape)[0]) if f != "x"]


def fingerings(shape: str) -> list[set[Spot]]:
    frets, all_fingers = known(shape)
    return [
        {
            Spot(6 - n, int(fret), int(finger))
            for n, (fret, finger) in enumerate(zip(frets, fingers, strict=True))
            if fret != "x"
        }
        for fingers in all_fingers
    ]


def menu(pitch: int, shape: str, hand: Reach = HAND) -> tuple[Spot, ...]:
    """Every finger for a pitch, where the shape has it."""
    found = []
    for number, base in enumerate(opens(shape)):
        fret = pitch - base
        if 0 <= fret <= hand.last_fret and known(shape)[0][number] == str(fret):
            fingers = range(1, 5) if fret else (0,)
            found += [Spot(6 - number, fret, finger) for finger in fingers]
    return tuple(found)


def progression(*shapes: str) -> Passage:
    """Shapes one after the other, a quarter each, on the strings of the handbook."""
    tones = [
        Tone(menu(pitch, shape), number, number)
        for number, shape in enumerate(shapes)
        for pitch in sorted(midi(shape))
    ]
    return Passage(tuple(Onset() for _ in shapes), tuple(tones))
