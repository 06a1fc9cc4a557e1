"""Pictures of blocks on the screen: as good as drawing, made once, and few enough."""

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from app.sheet import images
from app.sheet.fonts import SheetFonts
from app.sheet.images import BlockImages
from app.sheet.painter import SheetPainter, colours
from core.display.items import Block, Glyph
from core.display.palette import PRINT
from tests.app.sheet.pictures import ink
from tests.core.display.sheets import page

COLOURS = colours(PRINT)
CORNER = QPointF(3, 5)


class Counting(SheetPainter):
    """Knows how many blocks were really drawn."""

    drawn = 0

    def paint_block(self, *args, **more):
        self.drawn += 1
        super().paint_block(*args, **more)


@pytest.fixture
def painter(qapp):
    return Counting(SheetFonts())


def canvas(width=900, height=700, ratio=1.0):
    image = QImage(round(width * ratio), round(height * ratio), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    image.fill(QColor("white"))
    return image


def shown(kept, blocks, px, corner=CORNER, ratio=1.0):
    """The darkness of blocks painted from pictures."""
    image = canvas(ratio=ratio)
    brush = QPainter(image)
    for block in blocks:
        kept.paint(brush, block, corner, px, COLOURS, QRectF(0, 0, 900, 700))
    brush.end()
    return ink(image)


def drawn(painter, blocks, px, corner=CORNER, ratio=1.0):
    """The darkness of the same blocks, drawn."""
    image = canvas(ratio=ratio)
    brush = QPainter(image)
    brush.translate(corner)
    brush.scale(px, px)
    for block in blocks:
        painter.paint_block(brush, block, COLOURS)
    brush.end()
    return ink(image)


@pytest.mark.parametrize("px", [3.3, 8, 14, 20, 32])
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_a_picture_looks_as_if_drawn(painter, px, ratio):
    """Pixel for pixel, but for rounding, at any place of the page between two pixels."""
    blocks = [Block(b.x + 0.123, b.y / 2, b.items, b.key) for b in page(2).blocks]
    for corner in (QPointF(3, 5), QPointF(-40.5, 2.25)):
        one = shown(BlockImages(painter), blocks, px, corner, ratio)
        two = drawn(painter, blocks, px, corner, ratio)
        assert np.abs(one - two).max() < 0.03
        assert one.sum() == pytest.approx(two.sum(), rel=0.005)


def test_a_block_is_drawn_once(painter):
    kept = BlockImages(painter)
    blocks = page(1).blocks
    first = shown(kept, blocks, 10)
    count = painter.drawn
    assert np.array_equal(shown(kept, blocks, 10), first)
    moved = shown(kept, blocks, 10, QPointF(23, 45))
    assert painter.drawn == count
    assert np.array_equal(moved[40:600, 20:600], first[:560, :580])


def test_another_zoom_or_another_colour_is_drawn_anew(painter):
    kept = BlockImages(painter)
    blocks = page(1).blocks
    shown(kept, blocks, 10)
    fresh = shown(BlockImages(painter), blocks, 11)
    assert np.array_equal(shown(kept, blocks, 11), fresh)


def test_what_is_out_of_sight_is_not_drawn(painter):
    far = Block(0, 500, (Glyph(3, 4, 0xE0A4),))
    shown(BlockImages(painter), [far], 10)
    assert not painter.drawn


def test_pictures_are_bounded(painter, monkeypatch):
    blocks = [Block(2, y, (Glyph(3, 4, 0xE0A4), Glyph(30, 4, 0xE0A4))) for y in range(0, 60, 4)]
    kept = BlockImages(painter, capacity=60_000)
    shown(kept, blocks, 10)
    assert 20_000 < kept.kept <= 60_000
    monkeypatch.setattr(images, "LARGEST", 10)
    direct = BlockImages(painter)
    assert np.array_equal(shown(direct, blocks, 10), drawn(painter, blocks, 10))
    assert direct.kept == 0
