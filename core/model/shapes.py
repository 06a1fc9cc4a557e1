"""The sheet of chord shapes: every shape the lesson shows, in the order of first use."""

from __future__ import annotations

from msgspec import Struct

from core.model import walk
from core.model.form import Arrangement
from core.model.measure import ChordMark, ChordShape


class ShapeUse(Struct, frozen=True):
    """A chord shape and the ids of the measures that show it, in written order."""

    shape: ChordShape
    measures: tuple[int, ...]


def shape_sheet(arrangement: Arrangement) -> tuple[ShapeUse, ...]:
    """The shapes attached to beats, equal ones together: shapes shown = shapes used."""
    found: dict[ChordShape, list[int]] = {}
    for measure in walk.measures(arrangement):
        for mark in measure.marks:
            if isinstance(mark, ChordMark):
                row = found.setdefault(mark.shape, [])
                if measure.id not in row:
                    row.append(measure.id)
    return tuple(ShapeUse(shape, tuple(ids)) for shape, ids in found.items())
