"""A system while it is being drawn: items so far, outlines, and where notes and events stand."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from zlib import crc32

import msgspec
from msgspec import Struct

from core.display.items import Block, Item
from core.page.measure_box import MeasureBox
from core.page.metrics import Metrics
from core.page.pen import Rect, moved
from core.page.skyline import Skyline
from core.page.staff import STAFF_HEIGHT, tab_height
from core.page.style import PageStyle


class PlacedMeasure(Struct, frozen=True, gc=False):
    """A measure in its system: edges, and (onset, x of the column's left head edge)."""

    measure: int
    left: float
    right: float
    columns: tuple[tuple[int, float], ...]
    end_ticks: int


class NoteAt(Struct, frozen=True, gc=False):
    """Where a head stands: its edges and y, which way its stem goes, its event's id."""

    left: float
    right: float
    y: float
    up: bool
    measure: int
    event: int


class EventAt(Struct, frozen=True, gc=False):
    """Where an event stands: middle x, edges, its highest and lowest y with the stem, the tip.

    `fixed` where another voice shares the staff, `solo` where it has one head.
    """

    x: float
    left: float
    right: float
    top: float
    bottom: float
    up: bool
    tip: float
    fixed: bool = False
    solo: bool = True


class Moved(Struct, frozen=True, gc=False):
    """Items that stand elsewhere; they are moved there when somebody looks at them."""

    items: tuple[Item, ...]
    dx: float
    dy: float


class SystemBody(Struct, frozen=True, eq=False, dict=True):
    """A set system. `tab_top` is the y of the top tab line, `tab_need` the y it needs.

    All measures are known at once; the items are made of `parts` when they are first asked for.
    `numbers` are (index in `parts`, place) of the measure numbers.
    """

    parts: tuple[Item | Moved, ...]
    width: float
    top: float
    bottom: float
    tab_top: float
    tab_need: float
    strings: int
    measures: tuple[PlacedMeasure, ...]
    force: float
    numbers: tuple[tuple[int, int], ...] = ()

    @cached_property
    def items(self) -> tuple[Item, ...]:
        made: list[Item] = []
        for part in self.parts:
            if type(part) is Moved:
                dx, dy = part.dx, part.dy
                made += [moved(item, dx, dy) for item in part.items]
            else:
                made.append(part)  # type: ignore[arg-type]
        return tuple(made)

    @cached_property
    def key(self) -> int:
        """Depends on the items alone."""
        return crc32(msgspec.msgpack.encode(self.items))

    @cached_property
    def _stood(self) -> dict[str, Block]:
        return {}

    def block(self, x: float, y: float) -> Block:
        """The system at a place: the very same block as before where it has not moved."""
        kept = self._stood.get("last")
        if kept is None or kept.x != x or kept.y != y:
            kept = self._stood["last"] = Block(x, y, self.items, self.key)
        return kept


class Draft:
    """A system being drawn. The outlines are those of the staff until the tab is placed; then
    `below` goes on from the tab's bottom."""

    def __init__(
        self,
        row: Sequence[MeasureBox],
        style: PageStyle,
        metrics: Metrics,
        width: float,
        *,
        opens: bool = True,
        closes: bool = True,
    ) -> None:
        self.row = row
        self.style = style
        self.m = metrics
        self.width = width
        self.opens = opens
        self.closes = closes
        self.strings = row[0].context.strings
        self.items: list[Item | Moved] = []
        self.numbers: list[tuple[int, int]] = []
        self.notes: dict[int, NoteAt] = {}
        self.tab_notes: dict[int, NoteAt] = {}  # where a tab stands alone
        self.events: dict[int, EventAt] = {}
        self.xs: list[list[float]] = []
        self.lefts: list[float] = []
        self.rights: list[float] = []
        self.header_width = 0.0
        self.tab_top = 0.0
        self.tab_need = 0.0
        self.force = 1.0
        self.margin_bottom = 0.0
        self.letters: list[tuple[float, float]] = []  # edges of plucking letters under the staff
        self.outline()

    def outline(self) -> None:
        """Start the outlines for the present width."""
        top = 0.0
        if not self.style.staff:  # figures stand on the top line of a tab, the unplaced above it
            top = -2.1 if self.any_unplaced else -0.75
        self.above = Skyline(self.width, top, up=True)
        bottom = STAFF_HEIGHT if self.style.staff else tab_height(self.strings) + 0.75
        self.below = Skyline(self.width, bottom, up=False)

    @cached_property
    def any_unplaced(self) -> bool:
        """Whether notes without a place are counted above the tab."""
        return any(
            head.note.place is None
            for box in self.row
            for cluster in box.clusters
            for head in cluster.heads
        )

    def put(self, items: Sequence[Item], *rects: Rect) -> None:
        """Draw items and let both outlines pass around the rectangles."""
        self.items += items
        for rect in rects:
            self.above.add(rect)
            self.below.add(rect)

    def find(self, source: int) -> EventAt | None:
        """Where the event with this id, or the event of the note with this id, stands."""
        note = self.notes.get(source) or self.tab_notes.get(source)
        return self.events.get(source if note is None else note.event)

    def measure_left(self, place: int) -> float:
        """Where the music of a measure begins: after the header in a system's first measure."""
        return self.header_width if place == 0 else self.lefts[place]

    def leads(self, place: int) -> bool:
        """Whether a measure follows a header."""
        return place == 0 and self.opens

    def ends(self, place: int) -> bool:
        """Whether a measure stands at the end of its line."""
        return place + 1 == len(self.row) and self.closes

    def x_at(self, place: int, ticks: int) -> float:
        """The x of a moment of the measure at `place`: its column or in proportion between."""
        columns = self.row[place].columns
        xs = self.xs[place]
        last = 0
        for index, column in enumerate(columns):
            if column.onset <= ticks:
                last = index
        start = columns[last].onset
        if last + 1 < len(columns):
            end, end_x = columns[last + 1].onset, xs[last + 1]
        else:
            end = max(self.row[place].end_ticks, start + 1)
            end_x = self.rights[place] - 0.6
        share = min(max((ticks - start) / (end - start), 0.0), 1.0)
        return xs[last] + share * (end_x - xs[last])
