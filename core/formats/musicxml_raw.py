"""What one part of a MusicXML file says, before it becomes music of ours.

Times are in ticks of core.model.time, exact (a Fraction where the file's divisions do not fit
them). Pitches are the file's own until the octave is decided. These are the reader's working
values: they are filled while the file is walked and forgotten when the lesson is built.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from core.formats.musicxml_values import Ticks
from core.model import EventMark, Fingering, Grace, Key, Metre, Value
from core.model.measure import ChordShape

SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(slots=True, eq=False)
class RawNote:
    """One ``<note>`` with a pitch."""

    staff: int
    step: str
    alter: int
    octave: int
    tie: bool = False
    let_ring: bool = False
    accidental: str = ""
    accidental_kind: str = "auto"
    fingers: list[tuple[str, bool, bool]] = field(default_factory=list)
    pluck: str = ""
    string: int | None = None
    fret: int | None = None
    harmonic: str = ""
    harmonic_pitch: str = ""
    touched_fret: int | None = None
    bend: float | None = None
    small: bool = False
    guide: bool = False
    circled: bool | None = None
    alternative: Fingering | None = None
    suggested: frozenset[str] = frozenset()
    semitones: int = 0
    steps: int = 0
    note_id: int = 0
    event_id: int = 0
    first: bool = True
    partner: RawNote | None = None

    @property
    def midi(self) -> int:
        """What sounds if the octave of the file is right."""
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter + self.semitones


@dataclass(slots=True, eq=False)
class RawEvent:
    """Notes struck together (or a rest) as the file groups them."""

    voice: str
    staff: int
    measure: int
    onset: Ticks
    values: tuple[Value, ...]
    notes: list[RawNote] = field(default_factory=list)
    marks: list[EventMark] = field(default_factory=list)
    grace: Grace | None = None
    hidden: bool = False
    rest_at: tuple[str, int] | None = None
    event_id: int = 0
    last_id: int = 0

    @property
    def ticks(self) -> int:
        return 0 if self.grace is not None else sum(value.ticks for value in self.values)


@dataclass(slots=True, eq=False)
class EndPoint:
    """A start or a stop of something that spans. Bound to an event, or to a moment."""

    kind: str
    number: str
    starts: bool
    measure: int
    tick: Ticks
    event: RawEvent | None = None
    note: RawNote | None = None
    text: str = ""
    optional: bool = False
    hidden: bool = False
    ours: dict[str, object] = field(default_factory=dict)


@dataclass(slots=True, eq=False)
class RawDynamic:
    """A dynamic that still looks for its event."""

    text: str
    measure: int
    tick: Ticks
    staff: int
    event: RawEvent | None = None


@dataclass(slots=True, eq=False)
class RawChord:
    """A chord diagram at a moment."""

    shape: ChordShape
    tick: Ticks


@dataclass(slots=True, eq=False)
class RawBar:
    """A barline: where it stands and what it does."""

    location: str
    tick: Ticks
    style: str = ""
    repeat: str = ""
    times: int = 2
    ending: str = ""
    passes: tuple[int, ...] = ()


@dataclass(slots=True, eq=False)
class Clef:
    """A clef as the file gives it."""

    sign: str
    line: int
    octave: int


@dataclass(slots=True, eq=False)
class RawMeasure:
    """One measure of one part."""

    index: int
    number: str
    implicit: bool
    metre: Metre | None
    key: Key
    events: list[RawEvent] = field(default_factory=list)
    length: Ticks = 0
    rounded: Ticks = 0
    bars: list[RawBar] = field(default_factory=list)
    marks: list[tuple[str, Ticks, object]] = field(default_factory=list)
    new_system: bool = False
    split: bool = False
    ours: dict[str, object] = field(default_factory=dict)


@dataclass(slots=True, eq=False)
class Tuning:
    """What ``staff-details`` say of a staff: lines, strings by line, capo."""

    lines: int | None = None
    strings: dict[int, tuple[str, int, int]] = field(default_factory=dict)
    capo: int | None = None


@dataclass(slots=True, eq=False)
class RawPart:
    """One part of the file."""

    index: int
    id: str
    name: str
    program: int | None
    sound: str
    staves: int = 1
    measures: list[RawMeasure] = field(default_factory=list)
    clefs: dict[int, Clef] = field(default_factory=dict)
    tunings: dict[int, Tuning] = field(default_factory=dict)
    transpose: dict[int, tuple[int, int]] = field(default_factory=dict)
    ends: list[EndPoint] = field(default_factory=list)
    dynamics: list[RawDynamic] = field(default_factory=list)

    def notes(self, staff: int) -> Iterator[tuple[RawMeasure, RawEvent, RawNote]]:
        """Every note of one staff."""
        for measure in self.measures:
            for event in measure.events:
                for note in event.notes:
                    if note.staff == staff:
                        yield measure, event, note
