"""A finished layout: sheets to paint, and where everything is. All lengths in staff spaces."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from typing import TypeVar, overload

from msgspec import Struct

from core.display.items import Block, Box, Curve, Glyph, Line, Role, Sheet, Text
from core.page.cover import from_stroke, rect_of, stroke_points
from core.page.draft import PlacedMeasure, SystemBody
from core.page.metrics import Metrics
from core.page.paging import Pages
from core.page.pen import bounds
from core.page.staff import STAFF_HEIGHT, TAB_GAP, tab_height, tab_y
from core.page.style import PageStyle
from core.page.systems import Systems

T = TypeVar("T")
TOUCH = 0.45  # spaces around an item that still hit it
STROKE = 0.2  # how much nearer a stroke must be than a sign


class SystemBox(Struct, frozen=True, eq=False):
    """A system on its page: the place of its origin and what was drawn."""

    page: int
    x: float
    y: float
    body: SystemBody

    @property
    def block(self) -> Block:
        return self.body.block(self.x, self.y)


class Hit(Struct, frozen=True):
    """What is under a point. `string` is set on the tab; `source` is 0 beside every item."""

    measure: int
    onset: int
    on: str
    string: int | None = None
    source: int = 0


class OnDemand(Sequence[T]):
    """A row whose members are made when they are first asked for, in any order, and then stay.

    Equal to any other sequence with equal members.
    """

    def __init__(self, count: int, make: Callable[[int], T]) -> None:
        self._made: list[T | None] = [None] * count
        self._make = make

    def __len__(self) -> int:
        return len(self._made)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        if isinstance(index, slice):
            return tuple(self[number] for number in range(*index.indices(len(self))))
        number = range(len(self))[index]
        found = self._made[number]
        if found is None:
            found = self._made[number] = self._make(number)
        return found

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    __hash__ = None  # type: ignore[assignment]


class Index(Mapping[int, tuple[int, int]]):
    """Measure id -> (system, place in it), looked up where it is asked for."""

    def __init__(self, systems: Systems) -> None:
        self._ends = systems.ends
        self._order = systems.score.order

    def __getitem__(self, measure_id: int) -> tuple[int, int]:
        place = self._order.place[measure_id]
        line = bisect_right(self._ends, place)
        return line, place - (self._ends[line - 1] if line else 0)

    def __iter__(self) -> Iterator[int]:
        return iter(self._order.ids)

    def __len__(self) -> int:
        return len(self._order.ids)


class Layout(Struct, frozen=True, eq=False, dict=True):
    """Systems in order on their pages, and how to find things.

    Sheets and the items of systems are made when they are first asked for; in whatever order that
    happens, they come out the same.
    """

    style: PageStyle
    metrics: Metrics
    made: Systems
    pages: Pages

    @property
    def space_mm(self) -> float:
        """One staff space on paper."""
        return self.style.space_mm

    @property
    def index(self) -> Mapping[int, tuple[int, int]]:
        """Measure id -> (system, place in it)."""
        return Index(self.made)

    @cached_property
    def sheets(self) -> Sequence[Sheet]:
        """All pages."""
        return OnDemand(self.pages.count, self._sheet)

    @cached_property
    def systems(self) -> Sequence[SystemBox]:
        """All systems in order."""
        return OnDemand(len(self.made.bodies), self._system)

    @cached_property
    def breaks(self) -> Sequence[tuple[int, ...]]:
        """The measure ids of each system."""
        ids, bounds = self.made.score.order.ids, [0, *self.made.ends]
        return OnDemand(len(bounds) - 1, lambda line: ids[bounds[line] : bounds[line + 1]])

    def _system(self, number: int) -> SystemBox:
        page, x, y = self.pages.place(number)
        return SystemBox(page, x, y, self.made.bodies[number])

    def _sheet(self, page: int) -> Sheet:
        first, last = self.pages.systems(page)
        above, below = self.pages.furniture(page)
        blocks = (system.block for system in self.systems[first:last])
        return Sheet(self.pages.width, self.pages.height, (*above, *blocks, *below))

    def blocks(self, page: int, box: Box) -> list[Block]:
        """The blocks of a page that may have ink in a rectangle, in drawing order."""
        above, below = self.pages.furniture(page)
        first, last = self.pages.near(page, box)
        return [*above, *(system.block for system in self.systems[first:last]), *below]

    def hit(self, page: int, x: float, y: float) -> Hit | None:
        """The measure, moment and item at a point of a page; None off every system."""
        best, found = 2.0, None
        paged = self.style.flow == "pages"
        margin = self.style.left_mm / self.space_mm if paged else x  # words stand there too
        first, last = self.pages.near(page, Box(x, y, x, y))
        for system in self.systems[first:last]:
            body = system.body
            across = system.y + body.top - 1 <= y <= system.y + body.bottom + 1
            away = max(min(system.x, margin) - x, x - system.x - body.width, 0.0)
            if across and away < best:
                best, found = away, system
        return None if found is None else self._hit_system(found, x - found.x, y - found.y)

    def _hit_system(self, system: SystemBox, x: float, y: float) -> Hit:
        body = system.body
        placed = min(
            body.measures, key=lambda m: 0.0 if m.left <= x <= m.right else
            min(abs(x - m.left), abs(x - m.right)),
        )  # fmt: skip
        onset = min(placed.columns, key=lambda column: abs(column[1] + 0.59 - x))[0]
        on_tab = self.style.tab and (not self.style.staff or y > (STAFF_HEIGHT + body.tab_top) / 2)
        string = None
        if on_tab:
            string = min(max(round((y - body.tab_top) / TAB_GAP) + 1, 1), body.strings)
        return Hit(placed.measure, onset, "tab" if on_tab else "staff", string,
                   self._source_at(body, x, y))  # fmt: skip

    def _source_at(self, body: SystemBody, x: float, y: float) -> int:
        """The id under a point; signs before strokes (stems, slurs, hairpins) that are as near."""
        best, found = TOUCH, 0
        for item in body.items:
            if not item.source or item.role is Role.STAFF:
                continue
            left, top, right, bottom = rect_of(item, self.metrics)
            away = max(left - x, x - right, top - y, y - bottom, 0.0)
            if away < best and isinstance(item, Line | Curve):
                away = STROKE + min(
                    from_stroke(a, b, x, y) for a, b in pairwise(stroke_points(item))
                )
            if away < best or (away == best == 0.0 and type(item) in (Glyph, Text)):
                best, found = away, item.source
        return found

    def caret_box(
        self, measure_id: int, onset: int, on: str, string: int | None = None
    ) -> tuple[int, Box]:
        """The rectangle of the caret at a moment of a measure, on the staff or on a string.

        Raises KeyError for a measure that is not in the layout.
        """
        system, placed = self._placed(measure_id)
        x = system.x + column_x(placed, onset)
        if on == "tab" and self.style.tab:
            y = system.y + system.body.tab_top + tab_y(string or 1)
            return system.page, Box(x - 0.35, y - TAB_GAP / 2, x + 1.53, y + TAB_GAP / 2)
        top, bottom = self._staff_rows(system)
        return system.page, Box(x - 0.35, top - 1.0, x + 1.53, bottom + 1.0)

    def _staff_rows(self, system: SystemBox) -> tuple[float, float]:
        if self.style.staff:
            return system.y, system.y + STAFF_HEIGHT
        top = system.y + system.body.tab_top
        return top, top + tab_height(system.body.strings)

    def playhead(self, measure_id: int, ticks: float) -> tuple[int, float, float, float]:
        """Page, x, top and bottom of the playhead `ticks` after the measure's start.

        Raises KeyError for a measure that is not in the layout.
        """
        system, placed = self._placed(measure_id)
        body = system.body
        bottom = body.tab_top + tab_height(body.strings) if self.style.tab else STAFF_HEIGHT
        top = 0.0 if self.style.staff else body.tab_top
        x = system.x + column_x(placed, ticks) + 0.59
        return system.page, x, system.y + top - 1.0, system.y + bottom + 1.0

    def where(self, source_id: int) -> tuple[int, Box] | None:
        """The page and rectangle of what was drawn from a model id (of a measure: all of it).

        None if nothing was; of a span over several systems the first part.
        """
        if source_id in self.index:
            system, placed = self._placed(source_id)
            return system.page, Box(
                system.x + placed.left, system.y + system.body.top,
                system.x + placed.right, system.y + system.body.bottom,
            )  # fmt: skip
        for number in self._holding(source_id):
            system = self.systems[number]
            drawn = [item for item in system.body.items if item.source == source_id]
            if drawn:
                rects = [rect_of(item, self.metrics) for item in drawn]
                left, top, right, bottom = bounds(rects)
                return system.page, Box(
                    system.x + left, system.y + top, system.x + right, system.y + bottom
                )
        return None

    def _holding(self, source_id: int) -> Sequence[int]:
        """The systems with the measure, span or section that has an id in it."""
        score, ends = self.made.score, self.made.ends
        for index, facts in enumerate(score.known):
            if source_id in facts.ids:
                return (bisect_right(ends, index),)
        for span, a, b in score.spans.placed:
            if span.id == source_id:
                return range(bisect_right(ends, a), bisect_right(ends, b) + 1)
        first = 0
        for section in score.sections:
            if section.id == source_id:
                return (bisect_right(ends, first),)
            first += len(section.measures)
        return ()

    def _placed(self, measure_id: int) -> tuple[SystemBox, PlacedMeasure]:
        system_index, place = self.index[measure_id]
        system = self.systems[system_index]
        return system, system.body.measures[place]


def column_x(placed: PlacedMeasure, ticks: float) -> float:
    """The x of a moment in a system: at its column, or between columns in proportion to time."""
    onsets = [onset for onset, _ in placed.columns]
    at = max(bisect_right(onsets, ticks) - 1, 0)
    start, x = placed.columns[at]
    if at + 1 < len(placed.columns):
        end, end_x = placed.columns[at + 1]
    else:
        end, end_x = max(placed.end_ticks, start + 1), placed.right - 0.5
    share = min(max((ticks - start) / (end - start), 0.0), 1.0)
    return x + share * (end_x - x)
