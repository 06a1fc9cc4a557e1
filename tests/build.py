"""Short ways to write music in tests.

One measure is a text of voices parted by ``|``; an event is ``pitches:value`` with ``+`` between
the pitches of a chord and ``r`` for a rest: ``"C5:quarter E5+G5:half. | A2:whole"``.
A pitch may carry a place and a finger: ``C5s2f1!1``; ``~`` after the value ties to the next event.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import count

from core.model import (
    Arrangement,
    Event,
    Finger,
    Instrument,
    Key,
    Label,
    Lesson,
    Measure,
    Metre,
    Note,
    Pitch,
    Place,
    Section,
    Value,
)

_NOTE = re.compile(r"([A-G][#b]*-?\d+)(s\d+f\d+)?(?:!([0-4T]))?")


def note(text: str, number: int, tied: bool = False) -> Note:
    found = _NOTE.fullmatch(text)
    assert found is not None, text
    pitch, place, finger = found.groups()
    return Note(
        number,
        Pitch.parse(pitch),
        place=Label(Place.parse(place)) if place else None,
        finger=Label(Finger(finger)) if finger else None,
        tied=tied,
    )


def event(text: str, ids: Iterator[int]) -> Event:
    what, value = text.split(":", 1)
    tied = value.endswith("~")
    number = next(ids)
    parts = () if what == "r" else tuple(note(p, next(ids), tied) for p in what.split("+"))
    return Event(number, Value.parse(value.rstrip("~")), parts)


def measure(text: str, ids: Iterator[int], metre: str = "4/4", key: str = "C major") -> Measure:
    number = next(ids)
    voices = tuple(tuple(event(e, ids) for e in row.split()) for row in text.split("|"))
    return Measure(number, Metre.parse(metre), Key.parse(key), voices)


def lesson(
    *sections: Sequence[str],
    metre: str = "4/4",
    key: str = "C major",
    title: str = "A test",
    instrument: Instrument | None = None,
) -> Lesson:
    """A lesson with one section for each sequence of measure texts, lettered A, B, ..."""
    ids = count(1)
    built = tuple(
        Section(next(ids), tuple(measure(t, ids, metre, key) for t in texts), letter=chr(65 + n))
        for n, texts in enumerate(sections)
    )
    arrangement = Arrangement(built, instrument or Instrument(), Key.parse(key))
    return Lesson(title, arrangement, next(ids))
