"""Paints display lists with QPainter, each block cut once into pens and outlines and kept.

Qt's own glyph runs were tried and left: below 64 device pixels to the em they come from a cache
that rounds their height to whole pixels and thins them by up to 18 %, so heads wobble on their
lines; above it they are twice as slow as outlines drawn one by one.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from app.sheet.fonts import PIXELS_PER_EM, SheetFonts, corners
from core.display.faces import music_run
from core.display.items import Block, Curve, Face, Fill, Item, Line, Role, Sheet
from core.display.layers import Layer, layers
from core.display.palette import Palette

Colours = Mapping[Role, QColor]


def colours(palette: Palette) -> dict[Role, QColor]:
    """The colours of a palette as Qt wants them."""
    return {role: QColor(colour) for role, colour in palette.items()}


class _Glyphs(NamedTuple):
    """Outlines of one size; `steps` lead from each origin to the next, in units of the outlines."""

    scale: float  # spaces to one unit of the outlines
    steps: list[tuple[float, float, QPainterPath]]


class _Drawn:
    """One layer of a block, cut into what QPainter draws in one call each.

    `box` is its ink in spaces (left, top, right, bottom), a little generous.
    """

    def __init__(self, layer: Layer, fonts: SheetFonts) -> None:
        self.role = layer.role
        self.shapes = [_path(shape) for shape in layer.shapes]
        self.lines = _pens(layer.lines)
        ink = [corners(shape) for shape in self.shapes]
        for line in layer.lines:
            half = line.width / 2
            ink.append((
                min(line.x0, line.x1) - half, min(line.y0, line.y1) - half,
                max(line.x0, line.x1) + half, max(line.y0, line.y1) + half,
            ))  # fmt: skip
        self.glyphs = _glyphs(_marks(layer, fonts), fonts, ink)
        self.box = (
            min(rect[0] for rect in ink), min(rect[1] for rect in ink),
            max(rect[2] for rect in ink), max(rect[3] for rect in ink),
        ) if ink else (0.0, 0.0, 0.0, 0.0)  # fmt: skip

    def paint(self, painter: QPainter, colour: QColor, crisp: bool = False) -> None:
        for pen, lines in self.lines:
            if crisp and pen.style() is Qt.PenStyle.SolidLine:
                _draw_crisp(painter, colour, pen.widthF(), lines)
                continue
            pen.setColor(colour)
            painter.setPen(pen)
            painter.drawLines(lines)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        for shape in self.shapes:
            painter.drawPath(shape)
        for scale, steps in self.glyphs:
            painter.save()
            painter.scale(scale, scale)
            for dx, dy, outline in steps:
                painter.translate(dx, dy)
                painter.drawPath(outline)
            painter.restore()


class _Prepared:
    """A block's items in layers; holds them so that their identity stays taken."""

    __slots__ = ("bounds", "items", "layers")

    def __init__(self, items: tuple[Item, ...], fonts: SheetFonts) -> None:
        self.items = items
        self.layers = [_Drawn(layer, fonts) for layer in layers(items)]
        self.bounds = QRectF()
        for layer in self.layers:
            left, top, right, bottom = layer.box
            self.bounds |= QRectF(left, top, right - left, bottom - top)


class SheetPainter:
    """Paints sheets and keeps what it cut for the last `capacity` blocks, found by identity.

    `crisp` is for screens: upright and level staff and bar lines move by up to half a device pixel
    onto whole pixels, so that all of a staff look alike. Everything else stays exact.
    """

    def __init__(self, fonts: SheetFonts, capacity: int = 1024, crisp: bool = False) -> None:
        self.fonts = fonts
        self._crisp = crisp
        self._capacity = capacity
        self._kept: OrderedDict[int, _Prepared] = OrderedDict()

    def paint(
        self,
        painter: QPainter,
        sheet: Sheet,
        colours: Colours,
        visible: QRectF | None = None,
        clear_blank: bool = False,
    ) -> None:
        """Paint a sheet at the painter's origin, one unit of the painter being one space.

        Blocks outside `visible` (in spaces) are left out. `clear_blank` makes the paper behind tab
        figures see-through instead of painted, for pictures without a ground.
        """
        for block in sheet.blocks:
            self.paint_block(painter, block, colours, visible, clear_blank)

    def paint_block(
        self,
        painter: QPainter,
        block: Block,
        colours: Colours,
        visible: QRectF | None = None,
        clear_blank: bool = False,
    ) -> None:
        """Paint one block at its own place; see `paint`."""
        prepared = self._prepare(block)
        if visible is not None and not visible.intersects(
            prepared.bounds.translated(block.x, block.y)
        ):
            return
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(block.x, block.y)
        for layer in prepared.layers:
            if clear_blank and layer.role is Role.BLANK:
                painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_DestinationOut)
                layer.paint(painter, QColor(0, 0, 0))
                painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_SourceOver)
            else:
                crisp = self._crisp and layer.role is Role.STAFF
                layer.paint(painter, colours[layer.role], crisp)
        painter.restore()

    def bounds(self, block: Block) -> QRectF:
        """The ink of a block in spaces, at its own place (a little generous)."""
        return self._prepare(block).bounds.translated(block.x, block.y)

    @property
    def kept(self) -> int:
        """How many blocks are kept."""
        return len(self._kept)

    def forget(self) -> None:
        """Drop all that is kept."""
        self._kept.clear()

    def _prepare(self, block: Block) -> _Prepared:
        key = id(block.items)  # a block that has only moved is not cut again
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return found
        prepared = self._kept[key] = _Prepared(block.items, self.fonts)
        if len(self._kept) > self._capacity:
            self._kept.popitem(last=False)
        return prepared


def _draw_crisp(painter: QPainter, colour: QColor, width: float, lines: list[QLineF]) -> None:
    """Draw lines as rectangles of whole device pixels, where they are level or upright."""
    device = painter.deviceTransform()
    if device.isRotating() or not device.isAffine():
        painter.setPen(_pen(width, colour=colour))
        painter.drawLines(lines)
        return
    thick = max(1, round(width * abs(device.m22())))
    boxes = []
    rest = []
    for line in lines:
        start, end = device.map(line.p1()), device.map(line.p2())
        if start.y() == end.y():
            top = round(start.y() - thick / 2)
            boxes.append(QRectF(start.x(), top, end.x() - start.x(), thick).normalized())
        elif start.x() == end.x():
            left = round(start.x() - thick / 2)
            boxes.append(QRectF(left, start.y(), thick, end.y() - start.y()).normalized())
        else:
            rest.append(line)
    back, _ = device.inverted()
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawRects([back.mapRect(box) for box in boxes])
    painter.setPen(_pen(width, colour=colour))
    painter.drawLines(rest)


def _path(shape: Fill | Curve) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    if isinstance(shape, Fill):
        path.addPolygon(QPolygonF([QPointF(x, y) for x, y in shape.points]))
    else:
        (a, b), (c, d) = shape.outer, shape.inner
        path.moveTo(*shape.start)
        path.cubicTo(*a, *b, *shape.end)
        path.cubicTo(*d, *c, *shape.start)
    path.closeSubpath()
    return path


def _pens(lines: Iterable[Line]) -> list[tuple[QPen, list[QLineF]]]:
    grouped: dict[tuple[float, tuple[float, ...]], list[QLineF]] = {}
    for line in lines:
        grouped.setdefault((line.width, line.dash), []).append(
            QLineF(line.x0, line.y0, line.x1, line.y1)
        )
    return [(_pen(width, dash), rows) for (width, dash), rows in grouped.items()]


def _pen(width: float, dash: tuple[float, ...] = (), colour: QColor | None = None) -> QPen:
    pen = QPen(colour or QColor(), width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    if dash:  # Qt counts dashes in widths of the pen, and wants an even number of them
        pen.setDashPattern([part / width for part in dash * (1 + len(dash) % 2)])
    return pen


Mark = tuple[Face, int, float, float, float]  # face, glyph, em, x, y
Rectangle = tuple[float, float, float, float]


def _marks(layer: Layer, fonts: SheetFonts) -> Iterator[Mark]:
    """Every glyph of a layer with its place, in spaces."""
    for sign in layer.glyphs:
        run = music_run(sign, fonts.typefaces)
        yield run.face, run.glyphs[0], run.em, sign.x, sign.y
    for text in layer.texts:
        for face, glyph, em, dx, dy in fonts.set(text):
            yield face, glyph, em, text.x + dx, text.y + dy


def _glyphs(marks: Iterable[Mark], fonts: SheetFonts, ink: list[Rectangle]) -> list[_Glyphs]:
    """The outlines by size; what they cover is added to `ink`."""
    grouped: dict[float, list[tuple[float, float, QPainterPath]]] = {}
    for face, glyph, em, x, y in marks:
        outline, (left, top, right, bottom) = fonts.cut(face, glyph)
        scale = em / PIXELS_PER_EM
        grouped.setdefault(scale, []).append((x, y, outline))
        if right > left:
            ink.append((x + left * scale, y + top * scale, x + right * scale, y + bottom * scale))
    return [_Glyphs(scale, _steps(row, scale)) for scale, row in grouped.items()]


def _steps(
    row: list[tuple[float, float, QPainterPath]], scale: float
) -> list[tuple[float, float, QPainterPath]]:
    steps = []
    x = y = 0.0
    for next_x, next_y, outline in row:
        steps.append(((next_x - x) / scale, (next_y - y) / scale, outline))
        x, y = next_x, next_y
    return steps
