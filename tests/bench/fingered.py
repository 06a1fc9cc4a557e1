"""The fingered editions beside the repository, as passages with their editors' marks."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from msgspec import Struct

from core.hand.anatomy import SPAN_MOST_MM, Reach
from core.hand.music import Terms, task
from core.hand.passage import Passage
from core.hand.sounding import Heard
from core.hand.strokes import Limits
from core.model import TICKS_PER_QUARTER, Instrument, Note, Pitch

FOLDER = Path(__file__).parents[3] / "shared" / "data" / "fingered"
BARRE_NECK = (12, 9)


class Edition(Struct, frozen=True):
    """A piece: its passage, its hand, and for each tone the editor's finger and string."""

    name: str
    passage: Passage
    reach: Reach
    fingers: tuple[int | None, ...]
    strings: tuple[int | None, ...]


def editions(beginner: bool = False) -> list[Edition]:
    return [edition(path, beginner) for path in sorted(FOLDER.glob("*.json"))]


def edition(path: Path, beginner: bool = False) -> Edition:
    piece = json.loads(path.read_text("utf-8"))
    tuning = tuple(Pitch.from_midi(midi) for midi in reversed(piece["tuning_midi"]))
    events = [e for e in piece["events"] if not e.get("harmonic")]
    highest = max(e["midi"] for e in events)
    last = max(12, highest - tuning[0].midi)
    position = max(9, last - 3)
    if beginner:
        last, position = 5, 2
    instrument = Instrument(tuning)
    reach = Reach(
        len(tuning), tuple(instrument.fret_mm(n) for n in range(last + 1)),
        instrument.nut_mm / (len(tuning) - 1), SPAN_MOST_MM, position, barre=not beginner,
    )  # fmt: skip
    sounds = [_sound(number, event) for number, event in enumerate(events)]
    sounds.sort(key=lambda s: (s.start, -s.first.pitch.midi))
    found = task(sounds, Terms(Limits(instrument, last, 0.0)))
    marks = [
        next(((e["finger"], e["string"]) for e in (events[s.event] for s in stroke.sounds)
              if e["finger"] is not None), (None, events[stroke.sounds[0].event]["string"]))
        for stroke in found.strokes
    ]  # fmt: skip
    return Edition(
        path.stem, found.passage, reach, tuple(m[0] for m in marks), tuple(m[1] for m in marks)
    )


def _sound(number: int, event: dict) -> Heard:
    start = int(Fraction(event["onset"]) * TICKS_PER_QUARTER)
    end = start + int(Fraction(event["duration"]) * TICKS_PER_QUARTER)
    moment, end = ((start, -1), start) if event.get("grace") else ((start, 0), end)
    note = Note(number, Pitch.from_midi(event["midi"]))
    return Heard((note,), (1,), number, moment, end)
