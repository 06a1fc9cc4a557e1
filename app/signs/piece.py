"""Signs of the form and of the whole piece: endings, order of sections, tempo, capo, tuning."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from app.signs import reading
from app.signs.here import Here
from core.edit.base import Command
from core.edit.form import MoveSection, RemoveEnding, SetEnding
from core.edit.instrument import SetInstrument
from core.edit.lesson_fields import SetClef, SetCredit, SetMainKey, SetTempo
from core.model import STANDARD, EditRefused, Ending, Instrument, Key, Pitch, Tempo, Value


class EndingSign(Struct, frozen=True):
    """An ending over the measures; off where it stands already."""

    passes: tuple[int, ...]
    closed: bool = True

    def commands(self, here: Here) -> tuple[Command, ...]:
        _, section = here.section
        first, last = here.measures[0].id, here.measures[-1].id
        if Ending(self.passes, first, last, self.closed) in section.endings:
            return (RemoveEnding(section.id, first),)
        return (SetEnding(section.id, first, last, self.passes, self.closed),)


class NoEnding(Struct, frozen=True):
    """Take the endings off that the measures are in."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        _, section = here.section
        order = {measure.id: index for index, measure in enumerate(section.measures)}
        here_now = {order[m.id] for m in here.measures if m.id in order}
        found = [
            ending
            for ending in section.endings
            if here_now & set(range(order[ending.first], order[ending.last] + 1))
        ]
        if not found:
            raise EditRefused("There is no ending here to take off.")
        return tuple(RemoveEnding(section.id, ending.first) for ending in found)


class MoveSign(Struct, frozen=True):
    """The section before the one before it, or after the one after it."""

    by: Literal[-1, 1]

    def commands(self, here: Here) -> tuple[Command, ...]:
        index, section = here.section
        to = index + self.by
        if not 0 <= to < len(here.lesson.arrangement.sections):
            where = "first" if self.by < 0 else "last"
            raise EditRefused(f"This section is the {where} already.")
        return (MoveSection(section.id, to),)


class GoalTempoSign(Struct, frozen=True):
    """The goal tempo; without a beat it counts in the present one."""

    beat: Value | None
    per_minute: float

    def commands(self, here: Here) -> tuple[Command, ...]:
        own = here.lesson.arrangement.tempo.beat
        return (SetTempo(Tempo(self.beat or own, self.per_minute)),)


class CapoSign(Struct, frozen=True):
    """The capo at a fret, 0 for none; the places stay, and the piece sounds higher."""

    fret: int

    def commands(self, here: Here) -> tuple[Command, ...]:
        if not 0 <= self.fret <= 12:
            raise EditRefused(f"A capo stands at fret 0 (none) to 12, not {self.fret}.")
        former = here.lesson.arrangement.instrument
        return (SetInstrument(structs.replace(former, capo=self.fret), "places"),)


class TuningSign(Struct, frozen=True):
    """The open strings, lowest first, as typed; a name without octave is the nearest to what the
    string has now. The notes keep their pitch."""

    names: tuple[str, ...]

    def commands(self, here: Here) -> tuple[Command, ...]:
        former = here.lesson.arrangement.instrument
        count = len(former.strings)
        if len(self.names) != count:
            raise EditRefused(
                f"This guitar has {count} strings; name them all from the lowest, "
                "as tuning D A D G B E."
            )
        present = reversed(former.strings)
        pitches = [_near(name, now) for name, now in zip(self.names, present, strict=True)]
        return _tuned(former, tuple(reversed(pitches)))


class UsualTuning(Struct, frozen=True):
    """E A D G B E."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        former = here.lesson.arrangement.instrument
        return _tuned(former, tuple(map(Pitch.parse, STANDARD)))


def _tuned(former: Instrument, strings: tuple[Pitch, ...]) -> tuple[Command, ...]:
    return (SetInstrument(structs.replace(former, strings=strings), "pitches"),)


def _near(name: str, now: Pitch) -> Pitch:
    """The pitch of a string's name nearest to another one; the lower of two as near."""
    if name[-1:].isdigit():
        return reading.pitch(name)
    octaves = (max(-1, now.octave - 1), now.octave, min(10, now.octave + 1))
    return min(
        (reading.pitch(name, octave) for octave in octaves),
        key=lambda pitch: (abs(pitch.midi - now.midi), pitch.midi),
    )


class GuitarSign(Struct, frozen=True):
    """The scale in millimetres, or for which hand the guitar is strung."""

    scale_mm: float | None = None
    hand: Literal["right", "left"] | None = None

    def commands(self, here: Here) -> tuple[Command, ...]:
        guitar = here.lesson.arrangement.instrument
        if self.scale_mm is not None:
            guitar = structs.replace(guitar, scale_mm=self.scale_mm)
        if self.hand is not None:
            guitar = structs.replace(guitar, hand=self.hand)
        return (SetInstrument(guitar),)


class ClefSign(Struct, frozen=True):
    """The clef with the 8 below it, or the plain one."""

    shows_octave: bool

    def commands(self, here: Here) -> tuple[Command, ...]:
        return (SetClef(self.shows_octave),)


class CreditSign(Struct, frozen=True):
    """The line printed under the title."""

    credit: str

    def commands(self, here: Here) -> tuple[Command, ...]:
        return (SetCredit(self.credit),)


class MainKeySign(Struct, frozen=True):
    """The key the piece is said to be in; no measure changes."""

    key: Key

    def commands(self, here: Here) -> tuple[Command, ...]:
        return (SetMainKey(self.key),)
