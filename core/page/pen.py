"""Making items: glyphs by name, texts with their advance; moving items. Shared by all drawing."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Iterable

from core.display.items import Curve, Face, Fill, Glyph, Item, Line, Role, Text
from core.page.metrics import Metrics

Rect = tuple[float, float, float, float]  # left, top, right, bottom; spaces, y down


def glyph(
    m: Metrics,
    name: str,
    x: float,
    y: float,
    role: Role = Role.INK,
    source: int = 0,
    size: float = 1.0,
) -> Glyph:
    """A glyph of the music font with its origin at x, y."""
    return Glyph(x, y, m.codes[name], role, source, size)


def glyph_rect(m: Metrics, name: str, x: float, y: float, size: float = 1.0) -> Rect:
    """What the glyph covers, y down."""
    left, bottom, right, top = m.boxes[name]
    return (x + left * size, y - top * size, x + right * size, y - bottom * size)


def text(
    m: Metrics,
    words: str,
    face: Face,
    size: float,
    x: float,
    y: float,
    role: Role = Role.WORDS,
    source: int = 0,
    anchor: float = 0.0,
) -> Text:
    """Words with their advance; `size` is the em in spaces."""
    return Text(x, y, words, face, size, m.text_width(words, face) * size, anchor, role, source)


def text_rect(item: Text) -> Rect:
    """About what the words cover: cap height .72 em above, .22 em below the baseline."""
    left = item.x - item.anchor * item.width
    return (left, item.y - 0.72 * item.size, left + item.width, item.y + 0.22 * item.size)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The item moved right and down."""
    kind = type(item)
    if kind is Glyph:
        return Glyph(item.x + dx, item.y + dy, item.code, item.role, item.source, item.size)  # type: ignore[union-attr]
    if kind is Line:
        return Line(
            item.x0 + dx, item.y0 + dy, item.x1 + dx, item.y1 + dy,  # type: ignore[union-attr]
            item.width, item.role, item.source, item.dash,  # type: ignore[union-attr]
        )  # fmt: skip
    if kind is Text:
        return Text(
            item.x + dx, item.y + dy, item.text, item.face, item.size, item.width, item.anchor,  # type: ignore[union-attr]
            item.role, item.source,
        )  # fmt: skip
    if kind is Fill:
        return Fill(tuple((x + dx, y + dy) for x, y in item.points), item.role, item.source)  # type: ignore[union-attr]
    (a, b), (c, d) = item.outer, item.inner  # type: ignore[union-attr]
    return Curve(
        _at(item.start, dx, dy), _at(item.end, dx, dy),  # type: ignore[union-attr]
        (_at(a, dx, dy), _at(b, dx, dy)), (_at(c, dx, dy), _at(d, dx, dy)),
        item.role, item.source,
    )  # fmt: skip


def scaled(item: Item, size: float, dx: float, dy: float) -> Item:
    """The item made smaller (or larger) about the origin, then moved right and down."""

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] * size + dx, point[1] * size + dy)

    if isinstance(item, Glyph):
        x, y = at((item.x, item.y))
        return Glyph(x, y, item.code, item.role, item.source, item.size * size)
    if isinstance(item, Line):
        return Line(
            *at((item.x0, item.y0)), *at((item.x1, item.y1)), item.width * size, item.role,
            item.source, tuple(length * size for length in item.dash),
        )  # fmt: skip
    if isinstance(item, Text):
        return Text(
            *at((item.x, item.y)), item.text, item.face, item.size * size, item.width * size,
            item.anchor, item.role, item.source,
        )  # fmt: skip
    if isinstance(item, Fill):
        return Fill(tuple(at(point) for point in item.points), item.role, item.source)
    (a, b), (c, d) = item.outer, item.inner
    return Curve(
        at(item.start), at(item.end), (at(a), at(b)), (at(c), at(d)), item.role, item.source
    )


def _at(point: tuple[float, float], dx: float, dy: float) -> tuple[float, float]:
    return (point[0] + dx, point[1] + dy)


def box(left: float, top: float, right: float, bottom: float, role: Role, source: int = 0) -> Fill:
    """A filled rectangle."""
    return Fill(((left, top), (right, top), (right, bottom), (left, bottom)), role, source)


def overlap(a: Rect, b: Rect, pad: float = 0.0) -> bool:
    """Whether two rectangles come closer than `pad` in both directions."""
    return a[0] < b[2] + pad and b[0] < a[2] + pad and a[1] < b[3] + pad and b[1] < a[3] + pad


def bounds(rects: Iterable[Rect]) -> Rect:
    """The rectangle about all of them; at least one is needed."""
    lefts, tops, rights, bottoms = zip(*rects, strict=True)
    return (min(lefts), min(tops), max(rights), max(bottoms))


def lens(
    start: tuple[float, float],
    end: tuple[float, float],
    height: float,
    *,
    thickness: float,
    role: Role = Role.INK,
    source: int = 0,
) -> Curve:
    """A tie or slur from start to end bulging by `height` (negative: upwards)."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    inset = 0.25 if abs(dx) < 8 else 0.2
    rise = height * 4 / 3  # a cubic reaches 3/4 of the way to its controls
    half = thickness / 2 * (4 / 3) * (1 if height > 0 else -1)

    def controls(by: float) -> tuple[tuple[float, float], tuple[float, float]]:
        return (
            (start[0] + inset * dx, start[1] + inset * dy + by),
            (end[0] - inset * dx, end[1] - inset * dy + by),
        )

    return Curve(start, end, controls(rise + half), controls(rise - half), role, source)


def wave(x: float, top: float, bottom: float, source: int = 0) -> list[Curve]:
    """A vertical wavy line about x, half waves half a space tall, from bottom to top."""
    count = max(2, round((bottom - top) / 0.5))
    step = (bottom - top) / count
    curves: list[Curve] = []
    for index in range(count):
        y0 = bottom - index * step
        y1 = y0 - step
        side = 0.3 if index % 2 else -0.3
        a, b = y0 - step / 3, y1 + step / 3
        outer = ((x + side * 1.35, a), (x + side * 1.35, b))
        inner = ((x + side * 0.45, a), (x + side * 0.45, b))
        curves.append(Curve((x, y0), (x, y1), outer, inner, Role.INK, source))
    return curves


def arrow_head(x: float, tip: float, back: float, source: int = 0) -> Fill:
    """A small arrow head pointing from `tip + back` to `tip`."""
    points = ((x, tip), (x - 0.4, tip + back), (x + 0.4, tip + back))
    return Fill(points, Role.INK, source)


def dotted(curve: Curve) -> list[Line]:
    """The same curve as a row of short strokes."""
    (x0, y0), (x3, y3) = curve.start, curve.end
    (x1, y1), (x2, y2) = (
        ((a[0] + c[0]) / 2, (a[1] + c[1]) / 2)
        for a, c in zip(curve.outer, curve.inner, strict=True)
    )
    strokes = max(5, round((x3 - x0) / 0.8)) * 2 - 1
    points: list[tuple[float, float]] = []
    for number in range(strokes + 1):
        t = number / strokes
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        points.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
    return [
        Line(*points[n], *points[n + 1], 0.16, curve.role, curve.source)
        for n in range(0, strokes, 2)
    ]
