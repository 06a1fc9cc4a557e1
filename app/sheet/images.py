"""Blocks as pictures at one zoom: what has not changed is copied to the screen, not drawn again."""

from __future__ import annotations

import math
from collections import OrderedDict
from typing import NamedTuple

from PySide6.QtCore import QPoint, QPointF, QRect, QRectF
from PySide6.QtGui import QImage, QPainter

from app.sheet.painter import Colours, SheetPainter
from core.display.items import Block

MOST_BYTES = 96 * 2**20
LARGEST = 12 * 2**20  # pixels; a larger block is drawn where it is wanted, never whole


class _Picture(NamedTuple):
    block: Block
    phase: tuple[float, float]  # where the block's page stands between two device pixels
    corner: QPoint  # of the picture, in device pixels from the block's origin
    image: QImage


class BlockImages:
    """Pictures of the blocks last shown, as many as fit into `capacity` bytes, found by identity.

    They are see-through beside the ink. All belong to one zoom and one set of colours.
    """

    def __init__(self, painter: SheetPainter, capacity: int = MOST_BYTES) -> None:
        self._painter = painter
        self._capacity = capacity
        self._kept: OrderedDict[int, _Picture] = OrderedDict()
        self._bytes = 0
        self._look: tuple[float, float, Colours] | None = None

    def paint(
        self, painter: QPainter, block: Block, page: QPointF, pixels: float, colours: Colours,
        seen: QRectF,
    ) -> None:  # fmt: skip
        """Paint a block of a page whose corner stands at `page`, `pixels` to the space.

        `page` and `seen`, outside which nothing needs to be painted, are in pixels of the painter,
        which must not be scaled or turned.
        """
        ratio = painter.device().devicePixelRatio()
        self._use(pixels, ratio, colours)
        box = self._painter.bounds(block)
        area = QRectF(box.topLeft() * pixels + page, box.size() * pixels)
        if not area.intersects(seen):
            return
        device = QRectF(area.topLeft() * ratio, area.size() * ratio).toAlignedRect()
        device.adjust(-1, -1, 1, 1)
        if device.width() * device.height() > LARGEST:
            self._draw(painter, block, page, pixels, colours, seen)
            return
        origin = page * ratio
        whole = QPoint(math.floor(origin.x()), math.floor(origin.y()))
        picture = self._picture(block, origin, whole, device, pixels, ratio, colours)
        at = picture.corner + whole
        painter.drawImage(QPointF(at.x() / ratio, at.y() / ratio), picture.image)

    def _use(self, pixels: float, ratio: float, colours: Colours) -> None:
        look = self._look
        if look is None or look[:2] != (pixels, ratio) or look[2] is not colours:
            self.forget()
            self._look = (pixels, ratio, colours)

    def _picture(
        self, block: Block, origin: QPointF, whole: QPoint, device: QRect, pixels: float,
        ratio: float, colours: Colours,
    ) -> _Picture:  # fmt: skip
        phase = (origin.x() - whole.x(), origin.y() - whole.y())
        found = self._kept.get(id(block))
        if found is not None and math.dist(found.phase, phase) < 1e-3:
            self._kept.move_to_end(id(block))
            return found
        image = QImage(device.size(), QImage.Format.Format_ARGB32_Premultiplied)
        image.fill(0)
        brush = QPainter(image)
        try:  # Qt aborts if an image dies with its painter still at work
            brush.translate(-device.x(), -device.y())
            brush.scale(ratio, ratio)
            self._draw(brush, block, origin / ratio, pixels, colours, None)
        finally:
            brush.end()
        image.setDevicePixelRatio(ratio)
        picture = _Picture(block, phase, device.topLeft() - whole, image)
        self._keep(picture, found)
        return picture

    def _draw(
        self, painter: QPainter, block: Block, page: QPointF, pixels: float, colours: Colours,
        seen: QRectF | None,
    ) -> None:  # fmt: skip
        painter.save()
        painter.translate(page)
        painter.scale(pixels, pixels)
        visible = None
        if seen is not None:
            corner = (seen.topLeft() - page) / pixels
            visible = QRectF(corner, seen.size() / pixels)
        self._painter.paint_block(painter, block, colours, visible)
        painter.restore()

    def _keep(self, picture: _Picture, before: _Picture | None) -> None:
        if before is not None:
            self._bytes -= before.image.sizeInBytes()
        key = id(picture.block)
        self._kept[key] = picture
        self._kept.move_to_end(key)
        self._bytes += picture.image.sizeInBytes()
        while self._bytes > self._capacity and len(self._kept) > 1:
            _, gone = self._kept.popitem(last=False)
            self._bytes -= gone.image.sizeInBytes()

    @property
    def kept(self) -> int:
        """The bytes of all pictures that are kept."""
        return self._bytes

    def forget(self) -> None:
        """Drop all pictures."""
        self._kept.clear()
        self._bytes = 0
