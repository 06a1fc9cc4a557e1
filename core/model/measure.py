"""Measures, what stands in and above them, and chord shapes."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from core.model.notes import Event, Finger
from core.model.pitch import Key
from core.model.time import Length, Metre, Value

MOST_VOICES = 4
VOICE_NAMES = ("the melody", "the bass", "the third voice", "the fourth voice")
"""What people call the voices, by index."""


class ShapeBarre(Struct, frozen=True):
    """A barre in a chord shape: the fret and the strings it covers, `from_string` the lowest."""

    fret: int
    from_string: int
    to_string: int


class ChordShape(Struct, frozen=True, omit_defaults=True):
    """A left-hand shape. `frets` and `fingers` run from string 1; None is not played, 0 is open.

    Frets count from the nut (or capo); `first_fret` is the topmost fret the drawing shows.
    """

    name: str
    frets: tuple[int | None, ...]
    fingers: tuple[Finger | None, ...] = ()
    barre: ShapeBarre | None = None
    first_fret: int = 1


class TempoMark(Struct, frozen=True, omit_defaults=True, tag_field="mark", tag="tempo"):
    """Tempo words, a metronome mark, or both. `effect` is what words alone do to playback."""

    at: Length = Length(0)
    text: str = ""
    beat: Value | None = None
    per_minute: float | None = None
    effect: Literal["", "slower", "faster", "a tempo"] = ""


class TextMark(Struct, frozen=True, omit_defaults=True, tag_field="mark", tag="text"):
    """Free text at a moment of the measure."""

    text: str
    at: Length = Length(0)
    below: bool = False


class ChordMark(Struct, frozen=True, omit_defaults=True, tag_field="mark", tag="chord"):
    """A chord shape shown above a beat."""

    shape: ChordShape
    at: Length = Length(0)


class PositionMark(Struct, frozen=True, omit_defaults=True, tag_field="mark", tag="position"):
    """A position numeral: finger 1 stands at `fret`."""

    fret: int
    at: Length = Length(0)


MeasureMark = TempoMark | TextMark | ChordMark | PositionMark

SIGN_WORDS = {
    "segno": "segno",
    "coda": "coda",
    "fine": "Fine",
    "to coda": "To Coda",
    "dc": "D.C.",
    "dc al fine": "D.C. al Fine",
    "dc al coda": "D.C. al Coda",
    "ds": "D.S.",
    "ds al fine": "D.S. al Fine",
    "ds al coda": "D.S. al Coda",
}


class Sign(Struct, frozen=True, omit_defaults=True):
    """A sign of the road map. Segno and coda stand at the start, others at the end."""

    kind: Literal[
        "segno", "coda", "fine", "to coda", "dc", "dc al fine", "dc al coda",
        "ds", "ds al fine", "ds al coda",
    ]  # fmt: skip
    text: str = ""


class OtherVersion(Struct, frozen=True, omit_defaults=True):
    """Other music for the same measure: easier, harder, or for the second time."""

    purpose: Literal["easier", "harder", "second time"]
    voices: tuple[tuple[Event, ...], ...]


class Measure(Struct, frozen=True, omit_defaults=True):
    """One measure. `voices[0]` is the melody (stems up), `voices[1]` the bass; at most four.

    Events of a voice follow each other from the measure's start. `own_length` is set where the
    measure is meant to be longer or shorter than its metre (pickup, last measure of a repeat).
    An uncounted measure (pickup, second half of a split one) takes no measure number.
    """

    id: int
    metre: Metre
    key: Key
    voices: tuple[tuple[Event, ...], ...] = ((),)
    marks: tuple[MeasureMark, ...] = ()
    signs: tuple[Sign, ...] = ()
    own_length: Length | None = None
    counted: bool = True
    barline: Literal["", "single", "double", "final", "dashed", "none"] = ""
    line_break: bool = False
    others: tuple[OtherVersion, ...] = ()
    same_as: int | None = None

    @property
    def ticks(self) -> int:
        """How long the measure is meant to be."""
        return self.metre.ticks if self.own_length is None else self.own_length.ticks

    def filled_ticks(self, voice: int) -> int:
        """How much time the events of a voice (0 to 3) really take."""
        return sum(event.ticks for event in self.voices[voice])

    @property
    def length_ticks(self) -> int:
        """The time the measure takes when played: its longest voice, or its meant length."""
        return max([self.ticks, *(self.filled_ticks(v) for v in range(len(self.voices)))])
