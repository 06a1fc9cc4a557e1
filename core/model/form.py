"""Sections, endings, spans and the arrangement they make."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from core.model.instrument import Instrument
from core.model.measure import Measure
from core.model.pitch import Key
from core.model.time import Base, Value


class Ending(Struct, frozen=True, omit_defaults=True):
    """The measures (by id, first to last) played only in these passes of their section."""

    passes: tuple[int, ...]
    first: int
    last: int
    closed: bool = True


class Section(Struct, frozen=True, omit_defaults=True):
    """A part of the piece, and the unit of repetition: its measures are played `times` times."""

    id: int
    measures: tuple[Measure, ...]
    letter: str = ""
    title: str = ""
    times: int = 1
    endings: tuple[Ending, ...] = ()


class Barre(Struct, frozen=True, omit_defaults=True):
    """A barre at `fret` over `strings` strings, counted from string 1 unless `lowest` is set.

    With `lowest` the barre covers the strings lowest, lowest - 1, ... down to lowest - strings + 1.
    """

    fret: int
    strings: int = 6
    lowest: int | None = None


SPAN_WORDS = {
    "slur": "slur",
    "phrase": "phrase",
    "hammer-on": "hammer-on",
    "pull-off": "pull-off",
    "slide": "slide",
    "crescendo": "crescendo",
    "diminuendo": "diminuendo",
    "tuplet": "tuplet bracket",
    "string": "string line",
    "barre": "barre",
    "let ring": "let ring",
    "vibrato": "vibrato",
    "tempo": "rit. or accel. line",
    "talk": "talking point",
}


NOTE_SPANS = frozenset({"hammer-on", "pull-off", "slide", "string"})


class Span(Struct, frozen=True, omit_defaults=True):
    """Something that reaches from one thing to another.

    `start` and `end` are ids: of notes for hammer-on, pull-off, slide and string line; of measures
    for talk; of events (or notes) otherwise. An `optional` slur is drawn dotted, an `optional`
    barre has a dotted line (hinge barre). A barre, and nothing else, has its `barre` figures.
    A `suggested` one was worked out by the program, and goes when the next suggestion comes.
    """

    id: int
    kind: Literal[
        "slur", "phrase", "hammer-on", "pull-off", "slide", "crescendo", "diminuendo", "tuplet",
        "string", "barre", "let ring", "vibrato", "tempo", "talk",
    ]  # fmt: skip
    start: int
    end: int
    text: str = ""
    barre: Barre | None = None
    optional: bool = False
    hidden: bool = False
    suggested: bool = False


class Tempo(Struct, frozen=True):
    """Beats a minute: ``quarter. = 54``."""

    beat: Value
    per_minute: float

    def __post_init__(self) -> None:
        if not 5 <= self.per_minute <= 600:
            raise ValueError(f"a tempo of {self.per_minute:g} is outside 5 to 600 a minute")

    @property
    def ticks_per_second(self) -> float:
        return self.beat.ticks * self.per_minute / 60


class Arrangement(Struct, frozen=True, omit_defaults=True):
    """The music for one guitar. Written pitch sounds an octave lower, as guitar clefs say."""

    sections: tuple[Section, ...]
    instrument: Instrument = Instrument()
    key: Key = Key(0)
    tempo: Tempo = Tempo(Value(Base.QUARTER), 60.0)
    spans: tuple[Span, ...] = ()
    clef_shows_octave: bool = True
