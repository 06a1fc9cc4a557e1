"""Quick places on open scores that human editors fingered (Sor, Carcassi, Aguado and others).

The pieces lie beside the repository and are not part of it; each names its edition and encoder.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from msgspec import Struct

from core.hand.places import search
from core.hand.reach import HAND_SPAN_MM
from core.hand.sounding import Heard
from core.hand.strokes import Limits, strokes
from core.model import TICKS_PER_QUARTER, Instrument, Note, Pitch, Place

FOLDER = Path(__file__).parents[4] / "shared" / "data" / "fingered"
PIECES = sorted(FOLDER.glob("*.json"))[::4]
WHOLE_NECK = 19

pytestmark = pytest.mark.skipif(not PIECES, reason="the fingered editions are not here")


class Found(Struct):
    """An editor's finger mark (None where there is none) and the suggested place."""

    finger: int | None
    place: Place | None


def sound(number: int, event: dict[str, Any]) -> Heard:
    start = int(Fraction(event["onset"]) * TICKS_PER_QUARTER)
    end = start + int(Fraction(event["duration"]) * TICKS_PER_QUARTER)
    note = Note(number, Pitch.from_midi(event["midi"]))
    moment, end = ((start, -1), start) if event.get("grace") else ((start, 0), end)
    return Heard((note,), (1,), number, moment, end)


def places(piece: dict[str, Any]) -> list[Found]:
    """Every note of a piece but harmonics, which the data does not place."""
    tuning = tuple(Pitch.from_midi(midi) for midi in reversed(piece["tuning_midi"]))
    limits = Limits(Instrument(tuning), WHOLE_NECK, HAND_SPAN_MM)
    events = {n: e for n, e in enumerate(piece["events"], start=1) if not e.get("harmonic")}
    sounds = sorted((sound(n, e) for n, e in events.items()), key=lambda s: s.start)
    rows = strokes(sounds, limits)
    return [
        Found(events[heard.first.id]["finger"], place)
        for row, placing in zip(rows, search(rows, limits), strict=True)
        for stroke, place in zip(row, placing, strict=True)
        for heard in stroke.sounds
    ]


@pytest.fixture(scope="module")
def found() -> list[Found]:
    return [row for path in PIECES for row in places(json.loads(path.read_text()))]


def test_nearly_every_note_of_the_editions_can_be_placed(found: list[Found]) -> None:
    """14 of all 20,055 notes are left: held longer, on paper, than a hand can."""
    left = sum(row.place is None for row in found)
    assert len(found) > 3000
    assert left <= 0.002 * len(found)


def test_what_editors_mark_open_is_open(found: list[Found]) -> None:
    """Finger 0 is the open string: 258 of 261 over all pieces."""
    marked = [row for row in found if row.finger == 0 and row.place is not None]
    assert len(marked) > 30
    assert sum(row.place == Place(row.place.string, 0) for row in marked) >= 0.95 * len(marked)


def test_what_editors_give_a_finger_is_mostly_pressed(found: list[Found]) -> None:
    """2,443 of 2,623 over all pieces; the rest an editor chose against an open string."""
    marked = [row for row in found if row.finger not in (None, 0) and row.place is not None]
    assert len(marked) > 300
    assert sum(row.place.fret > 0 for row in marked) >= 0.9 * len(marked)
