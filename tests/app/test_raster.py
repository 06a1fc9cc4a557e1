import struct
import subprocess
import sys

import pytest
from PySide6.QtGui import QImage

from app.raster import Raster, png
from app.theme import DARK
from core.display.items import Block, Glyph, Line, Role, Sheet
from tests.core.display.sheets import page, rectangle

SHEET = Sheet(
    12,
    6.02,
    (
        Block(
            0,
            0,
            (
                Line(0, 3, 12, 3, 0.5, Role.STAFF),
                rectangle(4, 2, 6, 4, Role.BLANK),
                Glyph(8, 3, 0xE0A4),
            ),
        ),
    ),
)


def test_a_png_is_as_large_as_the_sheet_rounded_up(qapp):
    """The header as PNG (W3C Recommendation, third edition, 11.2.1) lays it out."""
    data = png(SHEET, 10)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", data[16:24]) == (120, 61)


def test_the_ground_is_paper(qapp):
    image = QImage.fromData(png(SHEET, 10, DARK.palette))
    assert image.pixelColor(5, 5).name() == DARK.paper
    assert image.pixelColor(50, 30).name() == DARK.paper
    assert image.pixelColor(20, 30).name() == DARK.staff


def test_a_see_through_picture_has_holes_behind_figures_too(qapp):
    image = QImage.fromData(png(SHEET, 10, transparent=True))
    assert image.pixelColor(5, 5).alpha() == 0
    assert image.pixelColor(50, 30).alpha() == 0
    assert image.pixelColor(20, 30).alpha() == 255
    assert image.pixelColor(85, 30).name() == "#000000"


def test_one_raster_makes_many_pictures(qapp):
    raster = Raster()
    assert raster.png(page(2), 4) == raster.png(page(2), 4)
    assert raster.png(page(2), 4) != raster.png(page(2), 5)


@pytest.mark.parametrize("platform", [None, "offscreen"])
def test_no_window_and_no_display_are_needed(platform):
    program = (
        "from app.raster import png\n"
        "from core.display.items import *\n"
        "data = png(Sheet(8, 8, (Block(0, 0, (Glyph(3, 4, 0xE0A4),)),)), 8)\n"
        "print(len(data), data[1:4])\n"
    )
    environment = {"HOME": "/", "LANG": "C"} | ({"QT_QPA_PLATFORM": platform} if platform else {})
    command = [sys.executable, "-c", program]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith("b'PNG'\n")
