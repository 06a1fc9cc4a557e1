"""What a system is told about itself beyond its measure boxes: numbers, letters, spans, endings."""

from __future__ import annotations

from msgspec import Struct

from core.model import Span, Tempo


class Letter(Struct, frozen=True, gc=False):
    """A section that begins in a system: its letter and title over the measure at `place`."""

    place: int
    letter: str
    title: str
    source: int


class Volta(Struct, frozen=True, gc=False):
    """An ending, or the part of it in this system: measures first to last by place."""

    first: int
    last: int
    passes: tuple[int, ...]
    begins: bool
    ends: bool
    closed: bool


class SpanPart(Struct, frozen=True, gc=False):
    """A span that touches the system; whether it begins and ends here."""

    span: Span
    begins: bool
    ends: bool


class Setting(Struct, frozen=True, gc=False):
    """Everything a system depends on that is not in its measures.

    `width` is 0 in one long line. There, a system is a piece of the line: only the first `opens`
    with clefs, and all have their tab at `tab_top` or lower.
    """

    width: float
    justified: bool
    opens: bool
    metre_shown: bool
    octave: bool
    numbers: tuple[int, ...]
    tempo: Tempo | None = None
    letters: tuple[Letter, ...] = ()
    voltas: tuple[Volta, ...] = ()
    times: tuple[tuple[int, int], ...] = ()
    spans: tuple[SpanPart, ...] = ()
    talk: float = 0.0
    left_handed: bool = False
    tab_top: float = 0.0
    final: bool = False

    @property
    def courtesy(self) -> bool:
        """Whether a change after the system's end is warned of."""
        return self.width > 0 and not self.final
