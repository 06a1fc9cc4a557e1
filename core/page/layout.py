"""A finished layout: sheets to paint, and where everything is. All lengths in staff spaces."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from math import hypot

from msgspec import Struct

from core.display.items import Block, Box, Curve, Fill, Glyph, Item, Line, Role, Sheet, Text
from core.page.draft import PlacedMeasure, SystemBody
from core.page.metrics import Metrics
from core.page.pen import Rect, bounds, text_rect
from core.page.staff import STAFF_HEIGHT, TAB_GAP, tab_height, tab_y
from core.page.style import PageStyle

TOUCH = 0.45  # spaces around an item that still hit it
STROKE = 0.2  # how much nearer a stroke must be than a sign


class SystemBox(Struct, frozen=True, eq=False):
    """A system on its page: the place of its origin and what was drawn."""

    page: int
    x: float
    y: float
    body: SystemBody
    block: Block


class Hit(Struct, frozen=True):
    """What is under a point. `string` is set on the tab; `source` is 0 beside every item."""

    measure: int
    onset: int
    on: str
    string: int | None = None
    source: int = 0


class Layout(Struct, frozen=True, eq=False):
    """Sheets, systems in order, and how to find things. `space_mm` is one staff space on paper."""

    sheets: tuple[Sheet, ...]
    systems: tuple[SystemBox, ...]
    style: PageStyle
    metrics: Metrics
    index: dict[int, tuple[int, int]]  # measure id -> system, place in it
    breaks: tuple[tuple[int, ...], ...]  # measure ids of each system

    @property
    def space_mm(self) -> float:
        return self.style.space_mm

    def hit(self, page: int, x: float, y: float) -> Hit | None:
        """The measure, moment and item at a point of a page; None off every system."""
        best, found = 2.0, None
        paged = self.style.flow == "pages"
        margin = self.style.left_mm / self.space_mm if paged else x  # words stand there too
        for system in self.systems:
            body = system.body
            across = system.y + body.top - 1 <= y <= system.y + body.bottom + 1
            away = max(min(system.x, margin) - x, x - system.x - body.width, 0.0)
            if system.page == page and across and away < best:
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
                away = STROKE + min(_away(a, b, x, y) for a, b in pairwise(stroke_points(item)))
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
        for system in self.systems:
            drawn = [item for item in system.body.items if item.source == source_id]
            if drawn:
                rects = [rect_of(item, self.metrics) for item in drawn]
                left, top, right, bottom = bounds(rects)
                return system.page, Box(
                    system.x + left, system.y + top, system.x + right, system.y + bottom
                )
        return None

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


def stroke_points(item: Line | Curve) -> tuple[tuple[float, float], ...]:
    """Points along a line or the middle of a curve, from end to end."""
    if isinstance(item, Line):
        return ((item.x0, item.y0), (item.x1, item.y1))
    controls = [
        ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        for p, q in zip(item.outer, item.inner, strict=True)
    ]  # fmt: skip
    row = (item.start, *controls, item.end)
    points: list[tuple[float, float]] = []
    for number in range(13):
        t = number / 12
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        pairs = list(zip(weights, row, strict=True))
        points.append((sum(w * p[0] for w, p in pairs), sum(w * p[1] for w, p in pairs)))
    return tuple(points)


def _away(a: tuple[float, float], b: tuple[float, float], x: float, y: float) -> float:
    """The distance of a point from the straight stroke between two others."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    share = ((x - a[0]) * dx + (y - a[1]) * dy) / square if square else 0.0
    share = min(max(share, 0.0), 1.0)
    return hypot(x - a[0] - share * dx, y - a[1] - share * dy)


def rect_of(item: Item, metrics: Metrics) -> Rect:
    """What an item covers."""
    if isinstance(item, Glyph):
        left, bottom, right, top = metrics.by_code[item.code]
        size = item.size
        return (
            item.x + left * size,
            item.y - top * size,
            item.x + right * size,
            item.y - bottom * size,
        )
    if isinstance(item, Text):
        return text_rect(item)
    if isinstance(item, Line):
        half = item.width / 2
        xs, ys = sorted((item.x0, item.x1)), sorted((item.y0, item.y1))
        return (xs[0] - half, ys[0] - half, xs[1] + half, ys[1] + half)
    points = item.points if isinstance(item, Fill) else _curve_points(item)
    return bounds((x, y, x, y) for x, y in points)


def _curve_points(curve: Curve) -> tuple[tuple[float, float], ...]:
    """Ends and the place where the curve bulges most."""
    (x0, y0), (x1, y1) = curve.start, curve.end
    (a, b) = curve.outer
    middle = ((x0 + 3 * a[0] + 3 * b[0] + x1) / 8, (y0 + 3 * a[1] + 3 * b[1] + y1) / 8)
    return (curve.start, curve.end, middle)
