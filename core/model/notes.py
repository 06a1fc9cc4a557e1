"""Notes and the events of a voice, with every sign that belongs to one of them."""

from __future__ import annotations

from enum import StrEnum
from typing import Generic, Literal, TypeVar

from msgspec import Struct

from core.model.instrument import Place
from core.model.pitch import Pitch
from core.model.time import Value

T = TypeVar("T")


class Origin(StrEnum):
    """Who decided a label: the source had it, the teacher set it, or the program worked it out."""

    SOURCE = "source"
    PINNED = "pinned"
    SUGGESTED = "suggested"


class Label(Struct, Generic[T], frozen=True, array_like=True):
    """A decided value and who decided it: ``["s2f3", "pinned"]``, ``[4, "suggested"]``."""

    value: T
    origin: Origin = Origin.PINNED

    @property
    def firm(self) -> bool:
        """True unless the program merely suggests it."""
        return self.origin is not Origin.SUGGESTED


class Finger(StrEnum):
    """A left-hand finger as printed; `OPEN` is the figure 0, `THUMB` the letter T."""

    OPEN = "0"
    INDEX = "1"
    MIDDLE = "2"
    RING = "3"
    LITTLE = "4"
    THUMB = "T"


class Pluck(StrEnum):
    """A right-hand finger: pulgar, indice, medio, anular, and the little finger (chico)."""

    P = "p"
    I = "i"  # noqa: E741 (the trade's own letter)
    M = "m"
    A = "a"
    C = "c"


class Fingering(Struct, frozen=True, omit_defaults=True):
    """A second way kept beside the first: place, finger, and why."""

    place: Place | None = None
    finger: Finger | None = None
    reason: str = ""


class Harmonic(Struct, frozen=True, omit_defaults=True):
    """A harmonic. The note's pitch is what sounds, never open string plus fret.

    The note's place says what is stopped: the open string (fret 0) for a natural harmonic, the
    stopped note for an artificial one; `touched_fret` is the node that is touched.
    """

    kind: Literal["natural", "artificial"] = "natural"
    touched_fret: int = 12


HARMONIC_SEMITONES = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28}
"""Fret of a node above the stopped note -> semitones it sounds above that note (the k-th harmonic
of a string touched at 1/k of its length: check values of the nodes 2 to 5)."""


class Note(Struct, frozen=True, omit_defaults=True):
    """One notehead. `pitch` sounds; without a `place` it is a pitch in waiting.

    `tied` ties it to the note of the same pitch in the next event of its voice. `circled` shows
    its string in a circle. `guide`: its finger comes along the string (the short dash before the
    figure). `substitute` is the finger put down silently in place of the first. `bend` is in
    semitones. `alternative` is a second fingering kept beside the first.
    """

    id: int
    pitch: Pitch
    place: Label[Place] | None = None
    finger: Label[Finger] | None = None
    plucking: Label[Pluck] | None = None
    tied: bool = False
    accidental: Literal["auto", "courtesy", "editorial", "hidden"] = "auto"
    let_ring: bool = False
    harmonic: Harmonic | None = None
    circled: bool = False
    guide: bool = False
    substitute: Finger | None = None
    bend: float | None = None
    small: bool = False
    alternative: Fingering | None = None


class Articulation(Struct, frozen=True, omit_defaults=True, tag_field="sign", tag="articulation"):
    """A sign that changes how an event is played."""

    kind: Literal[
        "staccato", "staccatissimo", "accent", "strong accent", "tenuto", "vibrato", "damp"
    ]


class Fermata(Struct, frozen=True, omit_defaults=True, tag_field="sign", tag="fermata"):
    """A pause. It never changes the written sum; `hold_percent` is how long playback makes it."""

    shape: Literal["normal", "angled", "square"] = "normal"
    inverted: bool = False
    hold_percent: int = 200
    last_time_only: bool = False


class Arpeggio(Struct, frozen=True, omit_defaults=True, tag_field="sign", tag="arpeggio"):
    """Break the chord: upwards unless said, `roll` quickly with the fingers as in rasgueado."""

    direction: Literal["", "up", "down"] = ""
    roll: bool = False


class Breath(Struct, frozen=True, omit_defaults=True, tag_field="sign", tag="breath"):
    """A breath after the event."""

    kind: Literal["comma", "caesura"] = "comma"


class Dynamic(Struct, frozen=True, omit_defaults=True, tag_field="sign", tag="dynamic"):
    """A dynamic at the event: ``pp`` to ``ff``, ``sf``, ``fp``."""

    text: str


EventMark = Articulation | Fermata | Arpeggio | Breath | Dynamic


class Grace(Struct, frozen=True, omit_defaults=True):
    """Makes an event a grace note before the next one: it takes no measure time."""

    slashed: bool = True


class Event(Struct, frozen=True, omit_defaults=True):
    """Notes struck together in one voice, or a rest where there are none.

    `rest_line` places a rest: steps above the middle line. `hidden` keeps its time unseen.
    """

    id: int
    value: Value
    notes: tuple[Note, ...] = ()
    marks: tuple[EventMark, ...] = ()
    grace: Grace | None = None
    hidden: bool = False
    rest_line: int | None = None

    @property
    def is_rest(self) -> bool:
        return not self.notes

    @property
    def ticks(self) -> int:
        """Measure time it takes: 0 for a grace note."""
        return 0 if self.grace is not None else self.value.ticks
