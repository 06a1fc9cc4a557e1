"""Paints display lists with QPainter: glyph runs, cut once for each block and kept."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QGlyphRun, QPainter, QPainterPath, QPen, QPolygonF

from app.sheet.fonts import PIXELS_PER_EM, SheetFonts
from core.display.faces import Run, Typefaces, music_run, text_runs
from core.display.items import Block, Curve, Face, Fill, Line, Role, Sheet
from core.display.layers import Layer, layers
from core.display.palette import Palette

Colours = Mapping[Role, QColor]


def colours(palette: Palette) -> dict[Role, QColor]:
    """The colours of a palette as Qt wants them."""
    return {role: QColor(colour) for role, colour in palette.items()}


class _Drawn:
    """One layer of a block, cut into what QPainter draws in one call each."""

    __slots__ = ("lines", "paths", "role", "runs")

    def __init__(self, layer: Layer, fonts: SheetFonts) -> None:
        self.role = layer.role
        self.paths = [_path(shape) for shape in layer.shapes]
        self.lines = _pens(layer.lines)
        self.runs = _glyph_runs(_runs(layer, fonts.typefaces), fonts)

    def bounds(self) -> QRectF:
        """The ink of the layer and a little more, in spaces."""
        box = QRectF()
        for path in self.paths:
            box |= path.controlPointRect()
        for pen, lines in self.lines:
            half = pen.widthF() / 2
            for line in lines:
                box |= QRectF(line.p1(), line.p2()).normalized().adjusted(-half, -half, half, half)
        for run, scale in self.runs:
            ink = run.boundingRect()
            box |= QRectF(
                ink.x() * scale, ink.y() * scale, ink.width() * scale, ink.height() * scale
            )
        return box

    def paint(self, painter: QPainter, colour: QColor) -> None:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        for path in self.paths:
            painter.drawPath(path)
        for pen, lines in self.lines:
            pen.setColor(colour)
            painter.setPen(pen)
            painter.drawLines(lines)
        painter.setPen(colour)
        for run, scale in self.runs:
            painter.scale(scale, scale)
            painter.drawGlyphRun(QPointF(), run)
            painter.scale(1 / scale, 1 / scale)


class _Prepared:
    """A block with its layers; holds the block so that its identity stays taken."""

    __slots__ = ("block", "bounds", "layers")

    def __init__(self, block: Block, fonts: SheetFonts) -> None:
        self.block = block
        self.layers = [_Drawn(layer, fonts) for layer in layers(block.items)]
        self.bounds = QRectF()
        for layer in self.layers:
            self.bounds |= layer.bounds()


class SheetPainter:
    """Paints sheets and keeps what it cut for the last `capacity` blocks, found by identity."""

    def __init__(self, fonts: SheetFonts, capacity: int = 1024) -> None:
        self.fonts = fonts
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
                layer.paint(painter, colours[layer.role])
        painter.restore()

    def bounds(self, block: Block) -> QRectF:
        """The ink of a block in spaces, at its own place (a little generous)."""
        return self._prepare(block).bounds.translated(block.x, block.y)

    def forget(self) -> None:
        """Drop all that is kept."""
        self._kept.clear()

    def _prepare(self, block: Block) -> _Prepared:
        key = id(block)
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return found
        prepared = self._kept[key] = _Prepared(block, self.fonts)
        if len(self._kept) > self._capacity:
            self._kept.popitem(last=False)
        return prepared


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


def _pen(width: float, dash: tuple[float, ...]) -> QPen:
    pen = QPen(QColor(), width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    if dash:  # Qt counts dashes in widths of the pen, and wants an even number of them
        pen.setDashPattern([part / width for part in dash * (1 + len(dash) % 2)])
    return pen


def _runs(layer: Layer, typefaces: Typefaces) -> list[Run]:
    runs = [music_run(glyph, typefaces) for glyph in layer.glyphs]
    for text in layer.texts:
        runs.extend(text_runs(text, typefaces))
    return runs


def _glyph_runs(runs: list[Run], fonts: SheetFonts) -> list[tuple[QGlyphRun, float]]:
    """Join runs of one face and size; each comes with the spaces to one unit of its places."""
    grouped: dict[tuple[Face, float], list[Run]] = {}
    for run in runs:
        grouped.setdefault((run.face, run.em), []).append(run)
    drawn = []
    for (face, em), rows in grouped.items():
        scale = em / PIXELS_PER_EM
        glyph_run = QGlyphRun()
        glyph_run.setRawFont(fonts.raw(face))
        glyph_run.setGlyphIndexes([glyph for run in rows for glyph in run.glyphs])
        glyph_run.setPositions(
            [QPointF(x / scale, run.y / scale) for run in rows for x in run.xs]
        )
        drawn.append((glyph_run, scale))
    return drawn
