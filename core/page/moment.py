"""One moment of a measure, finished and while it is being filled.

Signs of the staff have y from its top line, signs of the tab y from its top line. The rectangles
(rods) say what must not touch the neighbouring columns.
"""

from __future__ import annotations

from msgspec import Struct

from core.display.items import Item, Role
from core.model import Note
from core.page import pen
from core.page.metrics import Metrics
from core.page.pen import Rect
from core.page.style import PageStyle


class Column(Struct, frozen=True, gc=False):
    """Signs of one onset. `over` are tab figures shown only where a system begins with a tie;
    `outside` are the ids of events whose fingers stand over or under them."""

    onset: int
    items: tuple[Item, ...]
    rods: tuple[Rect, ...]
    tab: tuple[Item, ...] = ()
    tab_rods: tuple[Rect, ...] = ()
    over: tuple[Item, ...] = ()
    left: float = 0.0
    right: float = 1.18
    graces: tuple[tuple[int, float], ...] = ()  # event id of a grace note -> its x
    outside: tuple[int, ...] = ()


class Draft:
    """A column while it is being filled: items and rods of one moment."""

    def __init__(self, style: PageStyle, metrics: Metrics) -> None:
        self.style = style
        self.m = metrics
        self.items: list[Item] = []
        self.rods: list[Rect] = []
        self.tab: list[Item] = []
        self.tab_rods: list[Rect] = []
        self.over: list[Item] = []
        self.graces: list[tuple[int, float]] = []
        self.outside: list[int] = []

    def glyph(
        self, name: str, x: float, y: float, role: Role = Role.INK, source: int = 0, size: float = 1
    ) -> Rect:
        """Put a glyph and its rod."""
        self.items.append(pen.glyph(self.m, name, x, y, role, source, size))
        rect = pen.glyph_rect(self.m, name, x, y, size)
        self.rods.append(rect)
        return rect

    def done(self, onset: int) -> Column:
        """The finished column."""
        rects = (*self.rods, *self.tab_rods)
        left = min((r[0] for r in rects), default=0.0)
        right = max((r[2] for r in rects), default=0.5)
        return Column(
            onset, tuple(self.items), tuple(self.rods), tuple(self.tab), tuple(self.tab_rods),
            tuple(self.over), left, right, tuple(self.graces), tuple(self.outside),
        )  # fmt: skip


def head_role(note: Note) -> Role:
    """Notes without a place look it."""
    return Role.INK if note.place is not None else Role.HOLLOW
