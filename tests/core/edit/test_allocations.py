"""What an edit makes anew in a lesson of a thousand measures: one measure and the way to it."""

from __future__ import annotations

import gc
import tracemalloc
from collections import Counter
from collections.abc import Iterator

import pytest
from msgspec import Struct

from core import edit
from core.edit import (
    AddMeasureMark,
    AddPitch,
    Command,
    SetFinger,
    SetMark,
    SetOwnLength,
    SetValue,
)
from core.model import Articulation, Finger, Length, Lesson, Pitch, TextMark, Value
from core.model.text import TextValue
from tests.core.edit.kit import Q, event, ids, lesson, note

MEASURES = 1000
TEXT = "C4:quarter D4:quarter E4:half | A2:whole"
WAY = Counter({"Lesson": 1, "Arrangement": 1, "Section": 1, "Measure": 1})


def _commands(one: Lesson) -> tuple[Command, ...]:
    measure, first = ids(one)[500], event(one, 0, 500)
    return (
        SetFinger(measure, note(one, 0, 500).id, Finger.INDEX),
        SetMark(measure, first.id, Articulation("accent")),
        AddMeasureMark(measure, TextMark("dolce")),
        SetOwnLength(measure, Length(3 * Q)),
        AddPitch(measure, 0, 0, Pitch.parse("G4")),
        SetValue(measure, first.id, Value.parse("eighth")),
    )


LONG = lesson(*[TEXT] * MEASURES)
COMMANDS = _commands(LONG)


def _structs(value: object) -> Iterator[Struct]:
    """Every struct of a lesson, the lesson first."""
    if isinstance(value, Struct):
        yield value
        for name in value.__struct_fields__:
            yield from _structs(getattr(value, name))
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _structs(item)
    elif isinstance(value, dict):
        yield from _structs(tuple(value.values()))
    else:
        assert value is None or isinstance(value, TextValue | str | int | float)


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: type(c).__name__)
def test_an_edit_in_a_thousand_measures_makes_one_measure_anew(command: Command) -> None:
    known = {id(value) for value in _structs(LONG)}
    after = edit.apply(command, LONG).lesson
    fresh = Counter(type(v).__name__ for v in _structs(after) if id(v) not in known)
    assert {name: fresh[name] for name in WAY} == WAY
    inside = sum(fresh.values()) - sum(WAY.values())
    assert inside <= 4 * len(list(_structs(after.arrangement.sections[0].measures[500])))
    assert inside < 20


def _kept_bytes(command: Command, one: Lesson) -> int:
    """Bytes that stay allocated while the lesson after a command is kept."""
    edit.apply(command, one)  # fills the caches of text values
    gc.collect()
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        done = edit.apply(command, one)
        gc.collect()
        used = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    assert not done.change.empty
    return used


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: type(c).__name__)
def test_an_edit_keeps_the_memory_of_one_measure(command: Command) -> None:
    """The row of a section is one pointer a measure; all else is the size of one measure."""
    row = 8 * MEASURES
    assert _kept_bytes(command, LONG) < row + 6_000
