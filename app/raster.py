"""Display lists as pictures, painted without a window."""

from __future__ import annotations

import math
import sys

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF
from PySide6.QtGui import QColor, QGuiApplication, QImage, QImageWriter, QPainter

from app.sheet.fonts import SheetFonts
from app.sheet.painter import SheetPainter, colours
from core.display.items import Role, Sheet
from core.display.palette import PRINT, Palette


class Raster:
    """Paints sheets into images; starts Qt without a screen unless it is already running."""

    def __init__(self, painter: SheetPainter | None = None) -> None:
        # A QApplication aborts the process where there is no display; this platform needs none.
        self._qt = QGuiApplication.instance() or QGuiApplication(
            [sys.argv[0], "-platform", "offscreen"]
        )
        self.painter = painter or SheetPainter(SheetFonts(), capacity=64)

    def image(
        self,
        sheet: Sheet,
        px_per_space: float,
        palette: Palette = PRINT,
        transparent: bool = False,
        pixel_ratio: float = 1.0,
    ) -> QImage:
        """The sheet as an image of whole device pixels, the ground BLANK or see-through."""
        scale = px_per_space * pixel_ratio
        image = QImage(
            max(1, math.ceil(sheet.width * scale - 1e-6)),
            max(1, math.ceil(sheet.height * scale - 1e-6)),
            QImage.Format.Format_ARGB32_Premultiplied,
        )
        image.setDevicePixelRatio(pixel_ratio)
        image.fill(QColor(0, 0, 0, 0) if transparent else QColor(palette[Role.BLANK]))
        painter = QPainter(image)
        try:  # Qt aborts if an image dies with its painter still at work
            painter.scale(px_per_space, px_per_space)
            area = QRectF(0, 0, sheet.width, sheet.height)
            self.painter.paint(painter, sheet, colours(palette), area, clear_blank=transparent)
        finally:
            painter.end()
        return image

    def png(
        self,
        sheet: Sheet,
        px_per_space: float,
        palette: Palette = PRINT,
        transparent: bool = False,
    ) -> bytes:
        """The sheet as a PNG file, `px_per_space` pixels to the staff space."""
        image = self.image(sheet, px_per_space, palette, transparent)
        if not transparent:
            image = image.convertToFormat(QImage.Format.Format_RGB32)
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        QImageWriter(buffer, QByteArray(b"png")).write(image)
        return bytes(buffer.data().data())


def png(
    sheet: Sheet, px_per_space: float, palette: Palette = PRINT, transparent: bool = False
) -> bytes:
    """One sheet as a PNG file; use a `Raster` for many, which loads the fonts only once."""
    return Raster().png(sheet, px_per_space, palette, transparent)
