"""What an item covers: rectangles, and the course of strokes."""

from __future__ import annotations

from math import hypot

from core.display.items import Curve, Fill, Glyph, Item, Line, Text
from core.page.metrics import Metrics
from core.page.pen import Rect, bounds, text_rect


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


def from_stroke(a: tuple[float, float], b: tuple[float, float], x: float, y: float) -> float:
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
