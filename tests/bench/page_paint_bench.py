"""Painting and writing one page of five systems."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF, QSize, QSizeF
from PySide6.QtGui import QImage, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator, QSvgRenderer

from app.raster import Raster
from app.sheet.painter import SheetPainter, colours
from core.display.items import Sheet
from core.display.outlines import Outlines
from core.display.palette import PRINT
from core.display.pdf import to_pdf
from core.display.svg import to_svg
from resources import faces
from tests.bench.row import Row, median
from tests.core.display.sheets import MM_PER_SPACE, page

FRAME_MS = 16.0
SIZES = (8, 14, 20)


def rows() -> Iterator[Row]:
    """All figures of this file; made with a page by hand of some 490 items."""
    sheet, raster = page(5), Raster()
    yield from _painting(sheet, raster)
    yield from _writing(sheet, raster.painter)


def _painting(sheet: Sheet, raster: Raster) -> Iterator[Row]:
    painter = raster.painter
    drawn = QSvgRenderer(to_svg(sheet, 8, Outlines(painter.fonts.typefaces)).encode())

    def first() -> None:
        painter.forget()
        raster.image(sheet, 8)

    yield Row("page.paint.first", "5 systems, 8 px/space", 1000 * median(first), "ms", FRAME_MS)
    for px in SIZES:
        again = 1000 * median(lambda px=px: raster.image(sheet, px), 15)
        pixels = raster.image(sheet, px).size()
        peer = 1000 * median(lambda pixels=pixels: _render(drawn, pixels))
        size = f"5 systems, {px} px/space"
        yield Row("page.paint.again", size, again, "ms", FRAME_MS, peer="QtSvg", peer_figure=peer)
    image = raster.image(sheet, 14)

    def one_system() -> None:
        brush = QPainter(image)
        brush.scale(14, 14)
        area = QRectF(0, 50, sheet.width, 20)
        painter.paint(brush, sheet, colours(PRINT), area)
        brush.end()

    yield Row("page.paint.system", "14 px/space", 1000 * median(one_system, 15), "ms", FRAME_MS / 2)


def _render(drawn: QSvgRenderer, size: QSize) -> None:
    image = QImage(size, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0xFFFFFFFF)
    brush = QPainter(image)
    drawn.render(brush)
    brush.end()


def _writing(sheet: Sheet, painter: SheetPainter) -> Iterator[Row]:
    outlines = Outlines(painter.fonts.typefaces)
    to_svg(sheet, 8, outlines)
    svg_ms = 1000 * median(lambda: to_svg(sheet, 8, outlines))
    peer_ms = 1000 * median(lambda: _qt_svg(sheet, painter))
    yield Row("page.svg", "5 systems", svg_ms, "ms", 10, peer="QSvgGenerator", peer_figure=peer_ms)
    fonts = faces.data()

    def write(pages: int = 4) -> bytes:
        return to_pdf([sheet] * pages, MM_PER_SPACE, fonts, title="Bench")

    pdf_ms, peer_ms = 1000 * median(write), 1000 * median(lambda: _qt_pdf(sheet, painter, 4))
    yield Row("page.pdf", "4 pages", pdf_ms, "ms", 400, peer="QPdfWriter", peer_figure=peer_ms)
    size, peer_size = len(write()) / 1024, len(_qt_pdf(sheet, painter, 4)) / 1024
    yield Row("page.pdf.size", "4 pages", size, "kB", 240, peer="QPdfWriter", peer_figure=peer_size)


def _qt_svg(sheet: Sheet, painter: SheetPainter) -> int:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    brush = QPainter(generator)
    painter.paint(brush, sheet, colours(PRINT))
    brush.end()
    return buffer.size()


def _qt_pdf(sheet: Sheet, painter: SheetPainter, pages: int) -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    size = QSizeF(sheet.width * MM_PER_SPACE, sheet.height * MM_PER_SPACE)
    writer.setPageSize(QPageSize(size, QPageSize.Unit.Millimeter))
    writer.setPageMargins(QMarginsF())
    writer.setResolution(1200)
    brush = QPainter(writer)
    for number in range(pages):
        if number:
            writer.newPage()
        brush.save()
        brush.scale(writer.width() / sheet.width, writer.height() / sheet.height)
        painter.paint(brush, sheet, colours(PRINT))
        brush.restore()
    brush.end()
    return BytesIO(buffer.data().data()).getvalue()
