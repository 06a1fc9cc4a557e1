"""Painting and writing a page."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterator
from io import BytesIO

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QPointF, QRectF, QSizeF
from PySide6.QtGui import QImage, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator, QSvgRenderer

from app.raster import Raster
from app.sheet.images import BlockImages
from app.sheet.painter import SheetPainter, colours
from core.display.items import Block, Sheet
from core.display.outlines import Outlines
from core.display.palette import PRINT
from core.display.pdf import to_pdf
from core.display.svg import to_svg
from core.formats import lesson_json
from core.page.engrave import engrave
from core.page.metrics import build
from core.page.style import A4
from resources import faces, metrics, path
from tests.bench.row import Row, cpu_seconds, median

FRAME_MS = 16.0
SIZES = (8, 14, 20)
UNIT = "ms of CPU"
COLOURS = colours(PRINT)


def rows() -> Iterator[Row]:
    """All figures of this file, on the first page of the demo lesson."""
    lesson = lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())
    sheet, raster = engrave(lesson, A4, build(metrics.load())).sheets[0], Raster()
    yield from _painting(sheet, raster)
    yield from _writing(sheet, raster.painter)


def _painting(sheet: Sheet, raster: Raster) -> Iterator[Row]:
    """A page drawn whole, into a picture that is there already, in processor time."""
    painter = raster.painter
    drawn = QSvgRenderer(to_svg(sheet, 8, Outlines(painter.fonts.typefaces)).encode())
    for px in SIZES:
        image = raster.image(sheet, px)
        size = f"1 page, {px} px/space"

        def whole(px: int = px, image: QImage = image) -> None:
            brush = QPainter(image)
            brush.scale(px, px)
            painter.paint(brush, sheet, COLOURS)
            brush.end()

        def first(whole: Callable[[], None] = whole) -> None:
            painter.forget()
            whole()

        yield Row("page.paint.first", size, _ms(first), UNIT, FRAME_MS)
        peer = _ms(lambda image=image: _render(drawn, image))
        yield Row("page.paint.again", size, _ms(whole), UNIT, FRAME_MS,
                  peer="QtSvg", peer_figure=peer)  # fmt: skip
        image = _screen()
        yield Row("page.paint.screen", f"1920x1080, {px} px/space",
                  _ms(_pictures(sheet, painter, image, px)), UNIT, FRAME_MS / 2)  # fmt: skip
        yield Row("page.paint.system", f"1920x1080, {px} px/space",
                  _ms(_one_system(sheet, painter, image, px)), UNIT, FRAME_MS / 2)  # fmt: skip


def _ms(work: Callable[[], object]) -> float:
    """Median milliseconds of the processor."""
    return 1000 * statistics.median(cpu_seconds(work) for _ in range(15))


def _screen() -> QImage:
    image = QImage(1920, 1080, QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    return image


def _pictures(sheet: Sheet, painter: SheetPainter, image: QImage, px: int) -> Callable[[], None]:
    """The part of a page that a window shows, from pictures that are kept."""
    kept = BlockImages(painter)

    def shown() -> None:
        brush = QPainter(image)
        for block in sheet.blocks:
            kept.paint(brush, block, QPointF(0, 0), px, COLOURS, QRectF(image.rect()))
        brush.end()

    shown()
    return shown


def _one_system(sheet: Sheet, painter: SheetPainter, image: QImage, px: int) -> Callable[[], None]:
    """A system that has changed: cut anew, drawn anew, and put on the screen."""
    kept = BlockImages(painter)
    block = sheet.blocks[1]  # the first below the title

    def shown() -> None:
        changed = Block(block.x, block.y, (*block.items,)[:-1], block.key)
        brush = QPainter(image)
        kept.paint(brush, changed, QPointF(0, 0), px, COLOURS, QRectF(image.rect()))
        brush.end()

    return shown


def _render(drawn: QSvgRenderer, image: QImage) -> None:
    brush = QPainter(image)
    drawn.render(brush)
    brush.end()


def _writing(sheet: Sheet, painter: SheetPainter) -> Iterator[Row]:
    outlines = Outlines(painter.fonts.typefaces)
    to_svg(sheet, 8, outlines)
    svg_ms = 1000 * median(lambda: to_svg(sheet, 8, outlines))
    peer_ms = 1000 * median(lambda: _qt_svg(sheet, painter))
    yield Row("page.svg", "1 page", svg_ms, "ms", 10, peer="QSvgGenerator", peer_figure=peer_ms)
    fonts = faces.data()

    def write(pages: int = 4) -> bytes:
        return to_pdf([sheet] * pages, A4.space_mm, fonts, title="Bench")

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
    size = QSizeF(sheet.width * A4.space_mm, sheet.height * A4.space_mm)
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
