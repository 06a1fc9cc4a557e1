"""Carrying out commands in tests, and music as short text to compare with."""

from __future__ import annotations

import pytest

from core import edit
from core.edit import Command
from core.model import EditRefused, Event, Lesson, Measure, Note, Value, walk
from core.model.validate import problems
from tests import build

Q = Value.parse("quarter").ticks


def lesson(*texts: str, metre: str = "4/4", key: str = "C major") -> Lesson:
    """A lesson of one section."""
    built = build.lesson(list(texts), metre=metre, key=key)
    assert problems(built) == []
    return built


def measure(of: Lesson, index: int = 0) -> Measure:
    return list(walk.measures(of.arrangement))[index]


def ids(of: Lesson) -> list[int]:
    return [m.id for m in walk.measures(of.arrangement)]


def event(of: Lesson, index: int = 0, measure_index: int = 0, voice: int = 0) -> Event:
    return measure(of, measure_index).voices[voice][index]


def note(of: Lesson, index: int = 0, measure_index: int = 0, voice: int = 0) -> Note:
    """The lowest note of an event."""
    return event(of, index, measure_index, voice).notes[0]


def do(command: Command, of: Lesson) -> Lesson:
    """The lesson after a command; it must be sound, and undo must bring the former one back."""
    done = edit.apply(command, of)
    assert problems(done.lesson) == []
    _, undone = edit.History().record(command.label, of).undo(done.lesson)
    assert undone.lesson == of
    return done.lesson


def refused(command: Command, of: Lesson) -> str:
    """The sentence a command is refused with."""
    with pytest.raises(EditRefused) as caught:
        edit.apply(command, of)
    return str(caught.value)


def told(of: Lesson, measure_index: int = 0) -> str:
    """A measure as tests/build.py writes it; places in place of pitches where there are any."""
    return " | ".join(
        " ".join(_event_text(e) for e in row) for row in measure(of, measure_index).voices
    )


def _event_text(of: Event) -> str:
    what = "+".join(_note_text(n) for n in of.notes) or ("(r)" if of.hidden else "r")
    grace = "g" if of.grace else ""
    return f"{grace}{what}:{of.value}" + ("~" if any(n.tied for n in of.notes) else "")


def _note_text(of: Note) -> str:
    place = str(of.place.value) if of.place else str(of.pitch)
    return place + (f"!{of.finger.value.value}" if of.finger else "")
