"""The prices of a fingering: every feature has a name and a plain sentence, the cost is linear."""

from __future__ import annotations

from types import MappingProxyType

from core.hand.anatomy import PAIRS

FINGER_WORDS = ("open", "first", "second", "third", "fourth")
HABIT_FRETS = 5
PARTS = ("treble", "middle", "bass")
"""Strings 1 and 2, 3 and 4, 5 and lower."""
HIGHEST_NAMED = 9
"""Positions from this one on are priced alike, but for `position`."""
MOST_FOLLOWING = 3
"""Frets beyond this number weigh no more when one finger follows another."""
OFFSETS = (-2, -1, 1)


def _of_a_finger(k: int) -> dict[str, str]:
    word = FINGER_WORDS[k]
    table = {
        f"finger {k}": f"the {word} finger presses a note",
        f"chord {k}": f"the {word} finger presses a note of a chord",
        f"bass {k}": f"the {word} finger goes toward the bass strings (0 to 1)",
        f"place {k}": f"the {word} finger is put down",
        f"hop {k}": f"the {word} finger leaps to another string and fret",
        f"side {k}": f"the {word} finger leaps to another string at the same fret",
        f"stay {k}": f"the {word} finger stays where it is",
        f"slide {k}": f"the {word} finger goes along its string",
    }
    for d in OFFSETS:
        way = f"{-d} below" if d < 0 else f"{d} above"
        table[f"frame {k} {d:+d}"] = f"the {word} finger presses {way} its fret of the frame"
    for part in PARTS:
        for fret in range(1, HABIT_FRETS + 1):
            table[f"habit {k} {part} {fret}"] = (
                f"habit: the {word} finger at fret {fret} of the {part} strings"
            )
    for other in range(1, 5):
        if other != k:
            after = f"the {word} finger follows finger {other}"
            table[f"near {other}{k}"] = f"{after}: each fret closer than their places"
            table[f"far {other}{k}"] = f"{after}: each fret wider than their places"
    return table


def _of_two_fingers(low: int, high: int) -> dict[str, str]:
    words = f"fingers {low} and {high}"
    return {
        f"wide {low}{high}": f"each millimetre {words} are stretched beyond ease",
        f"close {low}{high}": f"each fret {words} stand closer than their places",
        f"inverted {low}{high}": f"{words} at one fret, the lower finger on the treble side",
        f"spread {low}{high}": f"each string beyond one that {words} are apart",
    }


def _sentences() -> dict[str, str]:
    table = {
        "open": "an open string is used",
        "height": "each fret up the neck where a note is pressed",
        "position": "each fret the hand stands above first position, for each note struck",
        "open treble": "the open string is a treble one",
        "open middle": "the open string is a middle one",
        "open bass": "the open string is a bass one",
        "open away": "an open string is used while the hand is in third position or above",
    }
    for p in range(2, HIGHEST_NAMED + 1):
        more = " or above" if p == HIGHEST_NAMED else ""
        table[f"at {p}"] = f"a note is struck with the hand in position {p}{more}"
    for k in range(1, 5):
        table |= _of_a_finger(k)
    for low, high in PAIRS:
        table |= _of_two_fingers(low, high)
    table |= {
        "barre held": "a barre is held, at each onset",
        "barre": "a barre is laid",
        "barre string": "each string of a barre beyond two",
        "roll": "the first finger rolls from one string into a barre, or out of it",
        "slide": "any finger goes along its string (guide finger)",
        "slide fret": "each fret it goes along",
        "shift": "the hand changes its position",
        "shift fret": "each fret the hand moves",
        "free shift": "the hand moves while no finger is down",
        "downward": "each fret the hand moves back toward the nut",
        "exchange": "another finger takes over the very place a finger pressed",
    }
    return table


SENTENCES = MappingProxyType(_sentences())
NAMES = tuple(SENTENCES)
INDEX = MappingProxyType({name: number for number, name in enumerate(NAMES)})

TIMED = tuple(
    name.split()[0] in ("hop", "side", "slide", "roll", "shift", "free", "downward", "near", "far")
    for name in NAMES
)
"""Which features count more the less time there is: they are multiplied by the pressure of time."""


def _house() -> dict[str, float]:
    """Weights set by hand, before anything was learned: what a teacher would call hard."""
    table = dict.fromkeys(NAMES, 0.0)
    table |= {"open": 0.1, "height": 0.05, "position": 0.1, "finger 4": 0.3, "finger 3": 0.1}
    for k in range(1, 5):
        table |= {f"place {k}": 0.5, f"hop {k}": 1.6, f"side {k}": 1.3}
        table |= {f"frame {k} -2": 2.5, f"frame {k} -1": 1.0, f"frame {k} +1": 1.2}
    for low, high in PAIRS:
        table |= {f"wide {low}{high}": 0.06, f"close {low}{high}": 0.3}
        table |= {f"inverted {low}{high}": 1.5, f"spread {low}{high}": 0.05}
    table |= {
        "bass 4": 0.4,
        "barre": 1.5,
        "barre held": 1.5,
        "barre string": 0.4,
        "roll": 0.8,
        "slide": 0.6,
    }
    table |= {"slide fret": 0.1, "shift": 1.2, "shift fret": 0.4, "free shift": -0.5}
    return table | {"exchange": 1.0}


HOUSE = tuple(_house().values())
"""The weights in the order of `NAMES`."""
