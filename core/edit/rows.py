"""The time of one voice: cutting, filling with rests, overwriting and inserting.

A row is the tuple of events of a voice; positions are ticks from the measure's start.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from msgspec import Struct, structs

from core.edit.base import Ids
from core.model import Base, Event, Metre, Value
from core.model.time import written_values

Mode = Literal["overwrite", "insert"]
Row = tuple[Event, ...]


class Uncuttable(Exception):
    """Ticks that no written value fills (a tuplet would have to be cut)."""


class Pen(Struct, frozen=True):
    """What new events are written with: the metre they follow and the ids they get."""

    metre: Metre
    ids: Ids


def row_ticks(row: Sequence[Event]) -> int:
    """The time the events take together."""
    return sum(event.ticks for event in row)


def fill(start: int, end: int, metre: Metre, models: Sequence[Value] = ()) -> tuple[Value, ...]:
    """Values that fill `start` to `end` exactly, if need be with the tuplets of `models`.

    Raises Uncuttable.
    """
    plain = _exactly(start, end, metre)
    if plain is not None:
        return plain
    for model in models:
        filled = _with_tuplets(start, end, metre, model)
        if filled is not None:
            return filled
    raise Uncuttable


def _exactly(start: int, end: int, metre: Metre) -> tuple[Value, ...] | None:
    plain = written_values(start, end, metre)
    return plain if sum(value.ticks for value in plain) == end - start else None


def _with_tuplets(start: int, end: int, metre: Metre, model: Value) -> tuple[Value, ...] | None:
    """Values of the model's tuplet, none longer than it, and plain ones as soon as they fit."""
    if not model.tuplets:
        return None
    parts = [value for base in Base if (value := _part(base, model)) is not None]
    row: list[Value] = []
    while start < end:
        plain = _exactly(start, end, metre)
        if plain is not None:
            return (*row, *plain)
        fitting = next((value for value in parts if value.ticks <= end - start), None)
        if fitting is None:
            return None
        row.append(fitting)
        start += fitting.ticks
    return tuple(row)


def _part(base: Base, model: Value) -> Value | None:
    if base.ticks > model.base.ticks:
        return None
    try:
        return Value(base, 0, model.tuplets)
    except ValueError:
        return None


def rests(start: int, end: int, pen: Pen, models: Sequence[Value] = ()) -> Row:
    """Rests that fill `start` to `end`; raises Uncuttable."""
    return tuple(Event(pen.ids.take(), value) for value in fill(start, end, pen.metre, models))


def _held(start: int, end: int, metre: Metre) -> tuple[Value, ...]:
    """The one value of a note that begins on a beat of a simple metre, where there is one.

    A note may hide a beat where a rest may not (common practice, no source).
    """
    beat = metre.pulse_ticks[0]
    if metre.compound or len(set(metre.pulse_ticks)) > 1 or start % beat:
        return ()
    plain = (Value(base, dots) for base in Base for dots in (0, 1))
    return tuple(value for value in plain if value.ticks == end - start)


def split(event: Event, start: int, end: int, pen: Pen) -> Row:
    """An event shortened to `start`..`end`: one value or several tied; raises Uncuttable.

    The first piece keeps the ids and the marks.
    """
    values = (event.notes and _held(start, end, pen.metre)) or (
        fill(start, end, pen.metre, [event.value])
    )
    pieces: list[Event] = []
    for index, value in enumerate(values):
        last = index == len(values) - 1
        notes = tuple(
            structs.replace(
                note, id=note.id if index == 0 else pen.ids.take(), tied=note.tied if last else True
            )
            for note in event.notes
        )
        if index == 0:
            pieces.append(structs.replace(event, value=value, notes=notes))
        else:
            pieces.append(
                structs.replace(event, id=pen.ids.take(), value=value, notes=notes, marks=())
            )
    return tuple(pieces)


def boundary(row: Sequence[Event], ticks: int) -> int | None:
    """The index of the first event that begins at `ticks` (the row's length at its end)."""
    onset = 0
    for index, event in enumerate(row):
        if onset == ticks:
            return index
        onset += event.ticks
    return len(row) if onset == ticks else None


def starting(row: Sequence[Event], ticks: int) -> int | None:
    """The index of the event (not a grace note) that begins at `ticks`."""
    onset = 0
    for index, event in enumerate(row):
        if onset == ticks and event.grace is None:
            return index
        onset += event.ticks
    return None


def overwrite(row: Row, start: int, middle: Row, pen: Pen) -> Row:
    """The row with `middle` from `start` on in place of what sounded there; raises Uncuttable.

    A note that began earlier is cut short; what is left of one that lasted longer becomes rests.
    A gap before `start` is filled with rests.
    """
    end = start + row_ticks(middle)
    before: list[Event] = []
    after: list[Event] = []
    onset = 0
    for event in row:
        off = onset + event.ticks
        if event.grace is not None:
            (before if onset <= start else after if onset >= end else []).append(event)
        elif off <= start:
            before.append(event)
        elif onset >= end:
            after.append(event)
        else:
            if onset < start:
                before += split(event, onset, start, pen)
            if off > end:
                after += rests(end, off, pen, [event.value])
        onset = off
    if onset < start:
        before += rests(onset, start, pen, [event.value for event in row[-1:]])
    return (*before, *middle, *after)


def insert(row: Row, start: int, middle: Row, pen: Pen) -> Row | None:
    """The row with `middle` pushed in at `start`, later events moved on; None inside an event.

    A gap before `start` is filled with rests; raises Uncuttable.
    """
    length = row_ticks(row)
    if start > length:
        padded = (*row, *rests(length, start, pen, [event.value for event in row[-1:]]))
        return (*padded, *middle)
    index = boundary(row, start)
    return None if index is None else (*row[:index], *middle, *row[index:])


def set_value(row: Row, index: int, value: Value, mode: Mode, pen: Pen) -> Row:
    """The row with the value of one event changed; raises Uncuttable.

    Overwriting keeps the other events at their time: a shorter note leaves rests, a longer one
    takes the time of what follows. Inserting moves them along.
    """
    event = structs.replace(row[index], value=value)
    if mode == "insert" or event.grace is not None:
        return (*row[:index], event, *row[index + 1 :])
    start = row_ticks(row[:index])
    old_end, end = start + row[index].ticks, start + value.ticks
    if end <= old_end:
        stacks = [row[index].value, value]
        gap = rests(end, old_end, pen, stacks) if end < old_end else ()
        return (*row[:index], event, *gap, *row[index + 1 :])
    return (*row[:index], event, *_from(row[index + 1 :], old_end, end, pen))


def _from(row: Row, onset: int, start: int, pen: Pen) -> Row:
    """What is left of events that begin at `onset` when time before `start` is taken."""
    left: list[Event] = []
    for event in row:
        off = onset + event.ticks
        if onset >= start:
            left.append(event)
        elif off > start:
            left += rests(start, off, pen, [event.value])
        onset = off
    return tuple(left)


def cut_to(row: Row, ticks: int, pen: Pen) -> Row:
    """The row without what lies after `ticks`; raises Uncuttable."""
    kept: list[Event] = []
    onset = 0
    for event in row:
        off = onset + event.ticks
        if onset < ticks < off:
            kept += split(event, onset, ticks, pen)
        elif off <= ticks and not (event.grace is not None and onset == ticks):
            kept.append(event)
        onset = off
    return tuple(kept)
