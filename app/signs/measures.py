"""Signs of measures: chord shapes, texts, positions, tempo, barlines, the road map; other music."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from msgspec import Struct, structs

from app.signs.here import Here
from core.edit.base import Command
from core.edit.form import SetSign
from core.edit.marks import AddMeasureMark, ChangeMeasureMark, RemoveMeasureMark
from core.edit.measures import EmptyMeasure
from core.edit.metre import SetBarline, SetLineBreak
from core.edit.versions import DropVersion, ExchangeVersion, KeepOtherVersion, Purpose
from core.model import (
    ChordMark,
    ChordShape,
    EditRefused,
    Length,
    MeasureMark,
    PositionMark,
    TempoMark,
    TextMark,
    Value,
    walk,
)

Kind = Literal["chord", "text", "position", "tempo"]
_TYPES: Mapping[Kind, type[MeasureMark]] = {
    "chord": ChordMark, "text": TextMark, "position": PositionMark, "tempo": TempoMark,
}  # fmt: skip


class MeasureMarkSign(Struct, frozen=True):
    """A mark above or below the moment; off where it stands already."""

    mark: MeasureMark

    def commands(self, here: Here) -> tuple[Command, ...]:
        measure = here.measures[0]
        mark: MeasureMark = structs.replace(self.mark, at=Length(here.ticks))
        if mark in measure.marks:
            return (RemoveMeasureMark(measure.id, mark),)
        return (AddMeasureMark(measure.id, mark),)


class MetronomeSign(Struct, frozen=True):
    """A tempo mark; without a beat it counts in the beat of the piece."""

    text: str
    beat: Value | None
    per_minute: float | None

    def commands(self, here: Here) -> tuple[Command, ...]:
        own = here.lesson.arrangement.tempo.beat
        beat = (self.beat or own) if self.per_minute is not None else None
        mark = TempoMark(text=self.text, beat=beat, per_minute=self.per_minute)
        return MeasureMarkSign(mark).commands(here)


class ChordSign(Struct, frozen=True):
    """A chord shape above the moment; with a name alone the shape of that name in the lesson."""

    name: str
    shape: ChordShape | None

    def commands(self, here: Here) -> tuple[Command, ...]:
        return MeasureMarkSign(ChordMark(self.shape or self._known(here))).commands(here)

    def _known(self, here: Here) -> ChordShape:
        for measure in walk.measures(here.lesson.arrangement):
            for mark in measure.marks:
                if isinstance(mark, ChordMark) and mark.shape.name == self.name:
                    return mark.shape
        raise EditRefused(
            f"No chord {self.name} has been shown yet; write its frets from the lowest string, "
            "as chord Am x02310."
        )


class RewordSign(Struct, frozen=True):
    """Other words for the text at the moment, or the only one in the measure."""

    text: str

    def commands(self, here: Here) -> tuple[Command, ...]:
        measure = here.measures[0]
        texts = [mark for mark in measure.marks if isinstance(mark, TextMark)]
        here_now = [mark for mark in texts if mark.at.ticks == here.ticks]
        found = here_now or texts
        if len(found) != 1:
            why = "several texts stand" if found else "no text stands"
            raise EditRefused(f"Here {why}; write a new one, as text dolce.")
        return (ChangeMeasureMark(measure.id, found[0], structs.replace(found[0], text=self.text)),)


class NoMeasureMark(Struct, frozen=True):
    """Take the marks of a kind off: those at the moment, else all in the measures."""

    kind: Kind

    def commands(self, here: Here) -> tuple[Command, ...]:
        found = list(self._found(here))
        at = [(m, mark) for m, mark in found if mark.at.ticks == here.ticks]
        if at and not here.selected:
            found = at
        if not found:
            raise EditRefused(f"There is no {self.kind} here to take off.")
        return tuple(RemoveMeasureMark(measure, mark) for measure, mark in found)

    def _found(self, here: Here) -> Iterator[tuple[int, MeasureMark]]:
        for measure in here.measures:
            for mark in measure.marks:
                if isinstance(mark, _TYPES[self.kind]):
                    yield measure.id, mark


class BarlineSign(Struct, frozen=True):
    """The barline after the measure, or after the last selected one; else the usual one again."""

    barline: Literal["", "single", "double", "final", "dashed", "none"]

    def commands(self, here: Here) -> tuple[Command, ...]:
        last = here.measures[-1]
        return (SetBarline(last.id, "" if last.barline == self.barline else self.barline),)


class LineBreakSign(Struct, frozen=True):
    """A new line after the measure, or after the last selected one; or none."""

    off: bool = False

    def commands(self, here: Here) -> tuple[Command, ...]:
        last = here.measures[-1]
        return (SetLineBreak(last.id, not last.line_break and not self.off),)


class RoadSign(Struct, frozen=True):
    """A sign of the road map: segno and coda at the first measure, others at the last."""

    kind: Literal[
        "segno", "coda", "fine", "to coda", "dc", "dc al fine", "dc al coda",
        "ds", "ds al fine", "ds al coda",
    ]  # fmt: skip
    off: bool = False

    def commands(self, here: Here) -> tuple[Command, ...]:
        measure = here.measures[0 if self.kind in ("segno", "coda") else -1]
        there = any(sign.kind == self.kind for sign in measure.signs)
        if self.off and not there:
            raise EditRefused("That sign does not stand here.")
        return (SetSign(measure.id, self.kind, on=not there),)


class EmptySign(Struct, frozen=True):
    """Take all notes and rests out of the measures."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        return tuple(EmptyMeasure(measure.id) for measure in here.measures)


class VersionSign(Struct, frozen=True):
    """Keep, exchange or drop other music of the measures."""

    doing: Literal["keep", "exchange", "drop"]
    purpose: Purpose

    def commands(self, here: Here) -> tuple[Command, ...]:
        if self.doing == "keep":
            return tuple(KeepOtherVersion(m.id, self.purpose) for m in here.measures)
        with_one = [m for m in here.measures if any(o.purpose == self.purpose for o in m.others)]
        if not with_one:
            raise EditRefused(
                f"Nothing is kept here as {self.purpose}; write keep as {self.purpose} first."
            )
        if self.doing == "exchange":
            return tuple(ExchangeVersion(measure.id, self.purpose) for measure in with_one)
        return tuple(DropVersion(measure.id, self.purpose) for measure in with_one)
