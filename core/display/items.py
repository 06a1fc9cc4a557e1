"""The values of a display list.

Lengths are in staff spaces, x to the right, y DOWN; a list is placed by its owner.
`source` is the model id an item was drawn from (0: none), `role` says what it is, so that the
replayer may choose colour and weight. Layout decides, drawing obeys.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct


class Role(StrEnum):
    """What an item stands for; a replayer maps each role to one colour."""

    INK = "ink"  # notes, stems, beams, signs
    STAFF = "staff"  # staff and tab lines, bar lines
    FIGURE = "figure"  # tab figures
    PINNED = "pinned"  # decided finger figures, plucking letters, circled strings
    SUGGESTED = "suggested"  # what the program proposes
    HOLLOW = "hollow"  # notes without a place
    WORDS = "words"  # titles, tempo, section letters
    PENCIL = "pencil"  # talking points, measure numbers
    WARNING = "warning"  # over- or under-full measures
    BLANK = "blank"  # paper behind a tab figure


class Face(StrEnum):
    """The fonts a text may ask for."""

    MUSIC = "music"
    SERIF = "serif"
    SERIF_BOLD = "serif bold"
    SERIF_ITALIC = "serif italic"
    SANS = "sans"
    SANS_BOLD = "sans bold"


class Box(Struct, frozen=True):
    """A rectangle: left, top, right, bottom; top < bottom."""

    left: float
    top: float
    right: float
    bottom: float


class Glyph(Struct, frozen=True, gc=False):
    """One glyph of the music font: origin on its baseline. `size` 1.0 = full staff size."""

    x: float
    y: float
    code: int
    role: Role = Role.INK
    source: int = 0
    size: float = 1.0


class Line(Struct, frozen=True, gc=False):
    """A straight stroke with butt ends."""

    x0: float
    y0: float
    x1: float
    y1: float
    width: float
    role: Role = Role.INK
    source: int = 0
    dash: tuple[float, ...] = ()


class Fill(Struct, frozen=True, gc=False):
    """A filled closed polygon (beams, brackets, thick bar lines)."""

    points: tuple[tuple[float, float], ...]
    role: Role = Role.INK
    source: int = 0


class Curve(Struct, frozen=True, gc=False):
    """A filled lens between two cubic curves with common ends: slurs and ties.

    `outer` and `inner` are the two control points of each curve, from start to end.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    outer: tuple[tuple[float, float], tuple[float, float]]
    inner: tuple[tuple[float, float], tuple[float, float]]
    role: Role = Role.INK
    source: int = 0


class Text(Struct, frozen=True, gc=False):
    """Words on a baseline. `size` is the em in spaces; `anchor` 0 left, 0.5 middle, 1 right.

    `width` is the advance in spaces as the metrics gave it, so that replayers need not measure.
    """

    x: float
    y: float
    text: str
    face: Face
    size: float
    width: float
    anchor: float = 0.0
    role: Role = Role.WORDS
    source: int = 0


Item = Glyph | Line | Fill | Curve | Text


class Block(Struct, frozen=True):
    """Items with a place of their own: a system, a measure. `key` lets replayers cache it."""

    x: float
    y: float
    items: tuple[Item, ...]
    key: int = 0


class Sheet(Struct, frozen=True):
    """One page (or one long strip): size in spaces and its blocks, in drawing order."""

    width: float
    height: float
    blocks: tuple[Block, ...]
