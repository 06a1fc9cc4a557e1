import math
from io import BytesIO

import numpy as np
import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.statisticsPen import StatisticsPen
from fontTools.ttLib import TTFont
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from app.raster import Raster
from app.sheet.fonts import SheetFonts
from app.sheet.painter import SheetPainter, colours
from core.display.items import Block, Curve, Face, Fill, Glyph, Line, Role, Sheet, Text
from core.display.palette import PRINT
from tests.app.sheet.pictures import box, centre, ink
from tests.core.display.sheets import NAMES, page, rectangle, smufl, words

SIZES = (4, 8, 20, 32, 60)


@pytest.fixture(scope="module")
def painter(qapp):
    return SheetPainter(SheetFonts())


@pytest.fixture
def show(painter):
    """Paint items on white at some pixels to the space; the darkness of the pixels."""

    def paint(*items, px=20.0, ratio=1.0, width=16.0, height=16.0, x=0.0, y=0.0):
        sheet = Sheet(width, height, (Block(x, y, items),))
        return ink(Raster(painter).image(sheet, px, pixel_ratio=ratio))

    return paint


def music_font():
    font = TTFont(BytesIO(SheetFonts().typefaces[Face.MUSIC].data))
    return font.getBestCmap(), font.getGlyphSet()


@pytest.mark.parametrize("px", SIZES)
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_a_glyph_has_the_ink_and_the_centre_of_its_outline(show, px, ratio):
    """Area and centre of the outlines as fontTools computes them; no glyph fades or vanishes."""
    letters, glyphs = music_font()
    for code in (0xE0A4, 0xE052, 0xE262, 0xE4E5):
        pen = StatisticsPen(glyphs)
        glyphs[letters[code]].draw(pen)
        dark = show(Glyph(6.03, 8.11, code), px=px, ratio=ratio)
        space = px * ratio
        assert dark.sum() == pytest.approx(abs(pen.area) * (space / 250) ** 2, rel=0.05)
        expected = [(6.03 + pen.meanX / 250) * space, (8.11 - pen.meanY / 250) * space]
        assert centre(dark) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(("code", "name"), NAMES.items())
def test_glyphs_fill_the_boxes_of_the_fonts_metadata(show, code, name):
    """SMuFL 1.4, glyphBBoxes: corners in spaces, y up."""
    px = 40
    left, top, right, bottom = box(show(Glyph(6, 8, code), px=px))
    corners = smufl()["glyphBBoxes"][name]
    (east, north), (west, south) = corners["bBoxNE"], corners["bBoxSW"]
    edges = [px * edge for edge in (6 + west, 8 - north, 6 + east, 8 - south)]
    assert [left, top, right, bottom] == pytest.approx(edges, abs=1.1)


def test_size_scales_a_glyph_about_its_origin(show):
    full, small = show(Glyph(6, 8, 0xE0A4)), show(Glyph(6, 8, 0xE0A4, size=0.6))
    assert small.sum() == pytest.approx(0.36 * full.sum(), rel=0.02)
    assert box(small)[0] == box(full)[0]


@pytest.mark.parametrize("px", SIZES)
def test_lines_have_their_width_and_butt_ends(show, px):
    assert show(Line(2, 3.3, 12, 3.3, 0.13), px=px).sum() == pytest.approx(1.3 * px**2, rel=0.03)
    dashed = Line(2, 3.3, 12, 3.3, 0.5, dash=(0.6, 0.4))
    assert show(dashed, px=px).sum() == pytest.approx(3 * px**2, rel=0.03)
    odd = Line(2, 3.3, 12, 3.3, 0.5, dash=(1.0,))
    assert show(odd, px=px).sum() == pytest.approx(2.5 * px**2, rel=0.03)


def test_overlapping_fills_do_not_cancel(show):
    one = ((2.0, 2.0), (6.0, 2.0), (6.0, 4.0), (2.0, 4.0))
    dark = show(Fill(one), Fill(tuple((x + 2, y) for x, y in reversed(one))))
    assert dark.sum() == pytest.approx(12 * 400)


def test_a_lens_has_the_area_between_its_curves(show):
    """The area under Bézier curves as fontTools computes it."""
    curve = Curve((2, 5), (12, 4), ((4, 8), (9, 8)), ((4, 7.5), (9, 7.5)))
    pen = AreaPen()
    pen.moveTo(curve.start)
    pen.curveTo(*curve.outer, curve.end)
    pen.curveTo(*reversed(curve.inner), curve.start)
    pen.closePath()
    assert show(curve, px=32).sum() == pytest.approx(abs(pen.value) * 32**2, rel=0.02)


@pytest.mark.parametrize("face", [face for face in Face if face is not Face.MUSIC])
def test_words_are_as_wide_as_the_list_says(show, face):
    """Between the stems of two H there is one advance of what stands between them."""
    text = words(2, 5, "HoarH", face, 2)
    first, whole = words(2, 5, "H", face, 2), words(2, 5, "Hoar", face, 2)
    px = 40
    moved = box(show(text, px=px))[2] - box(show(first, px=px))[2]
    assert moved == pytest.approx(whole.width * px, abs=1.5)
    assert box(show(text, px=px))[3] == pytest.approx(5 * px, abs=3)  # on the baseline


def test_faces_differ(show):
    seen = {show(words(2, 5, "ring 123", face, 2)).tobytes() for face in Face}
    assert len(seen) == len(Face)


def test_figures_stand_on_paper_and_paper_on_lines_whatever_the_order(show):
    line = Line(0, 8, 16, 8, 0.5, Role.STAFF)
    paper = rectangle(6, 7, 8, 9, Role.BLANK)
    head = rectangle(6.5, 7.5, 7, 8.5, Role.FIGURE)
    dark = show(head, paper, line, px=20)
    assert dark[160, 100] == 1
    assert dark[160, 125] == 0
    assert dark[155, 135] == 1
    assert np.array_equal(dark, show(line, paper, head, px=20))


def test_each_role_has_its_colour(painter):
    items = [rectangle(2.0 * i, 0, 2.0 * i + 2, 2, role) for i, role in enumerate(Role)]
    sheet = Sheet(2.0 * len(items), 2, (Block(0, 0, tuple(items)),))
    palette = {role: f"#{17 * (i + 1):02x}4080" for i, role in enumerate(Role)}
    image = Raster(painter).image(sheet, 10, palette)
    seen = [image.pixelColor(20 * i + 10, 10).name() for i in range(len(items))]
    assert seen == list(palette.values())


def test_a_block_looks_the_same_wherever_it_stands(show):
    items = (Glyph(2, 3, 0xE052), Text(4, 3, "p i m", Face.SERIF, 2, 5.0))
    here, there = show(*items, px=10), show(*items, px=10, x=3, y=2.5)
    assert np.array_equal(here[:100, :100], there[25:125, 30:130])


def test_blocks_out_of_sight_are_left_out(painter):
    blocks = (Block(0, 0, (Glyph(1, 3, 0xE0A4),)), Block(0, 20, (Glyph(1, 3, 0xE0A4),)))
    image = QImage(100, 400, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(QColor("white"))
    brush = QPainter(image)
    brush.scale(10, 10)
    painter.paint(brush, Sheet(10, 40, blocks), colours(PRINT), QRectF(0, 0, 10, 10))
    brush.end()
    dark = ink(image)
    assert dark[:100].sum() > 50
    assert dark[100:].sum() == 0


def test_bounds_hold_all_ink_of_a_block(painter):
    for block in page(2).blocks:
        sheet = Sheet(120, 100, (block,))
        left, top, right, bottom = box(ink(Raster(painter).image(sheet, 10)))
        bounds = painter.bounds(block)
        assert bounds.left() * 10 <= left + 1
        assert bounds.top() * 10 <= top + 1
        assert bounds.right() * 10 >= right - 1
        assert bounds.bottom() * 10 >= bottom - 1
        assert bounds.height() * 10 < bottom - top + 30


def test_what_is_kept_is_bounded_and_never_stale(qapp):
    small = SheetPainter(SheetFonts(), capacity=2)
    raster = Raster(small)
    for code in (0xE0A4, 0xE0A3, 0xE262, 0xE052, 0xE0A4):
        sheet = Sheet(8, 8, (Block(0, 0, (Glyph(3, 4, code),)),))
        fresh = Raster(SheetPainter(small.fonts)).image(sheet, 10)
        assert raster.image(sheet, 10) == fresh
        assert raster.image(sheet, 10) == fresh
        assert small.kept <= 2
    small.forget()
    assert small.kept == 0


def test_painting_leaves_the_painter_as_it_was(painter):
    image = QImage(100, 100, QImage.Format.Format_ARGB32_Premultiplied)
    brush = QPainter(image)
    brush.scale(3, 3)
    before = brush.transform()
    painter.paint(brush, page(1), colours(PRINT))
    assert brush.transform() == before
    assert math.isclose(brush.opacity(), 1)
    brush.end()


@pytest.mark.parametrize("px", [7.3, 9.0, 12.7, 31.1])
def test_crisp_staff_lines_are_whole_pixels_and_move_less_than_one(painter, px):
    ys = [2.03 + line for line in range(5)]
    lines = tuple(Line(0, y, 16, y, 0.13, Role.STAFF) for y in ys)
    crisp = Raster(SheetPainter(painter.fonts, crisp=True))
    column = ink(crisp.image(Sheet(16, 8, (Block(0, 0, lines),)), px))[:, 20]
    assert np.all((column < 0.01) | (column > 0.99))
    column = np.round(column)
    edges = np.flatnonzero(np.diff(column))  # the last row before each change
    thick = edges[1::2] - edges[::2]
    assert set(thick) == {max(1, round(0.13 * px))}
    centres = (edges[::2] + edges[1::2]) / 2 + 1
    assert centres == pytest.approx(np.array(ys) * px, abs=0.5 + 1e-6)


def test_crisp_lines_of_every_kind_are_drawn(painter):
    lines = (
        Line(2, 1, 2, 15, 0.2, Role.STAFF),
        Line(14, 15, 14, 1, 0.2, Role.STAFF),
        Line(4, 2, 10, 9, 0.2, Role.STAFF),
        Line(4, 12, 10, 12, 0.2, Role.STAFF, dash=(0.5, 0.5)),
    )
    sheet = Sheet(16, 16, (Block(0, 0, lines),))
    crisp = ink(Raster(SheetPainter(painter.fonts, crisp=True)).image(sheet, 20)).sum()
    assert crisp == pytest.approx(ink(Raster(painter).image(sheet, 20)).sum(), rel=0.01)
    turned = QImage(400, 400, QImage.Format.Format_ARGB32_Premultiplied)
    turned.fill(QColor("white"))
    brush = QPainter(turned)
    brush.translate(200, 0)
    brush.rotate(30)
    brush.scale(12, 12)
    SheetPainter(painter.fonts, crisp=True).paint(brush, sheet, colours(PRINT))
    brush.end()
    assert ink(turned).sum() == pytest.approx(crisp * (12 / 20) ** 2, rel=0.02)


def test_only_staff_lines_are_made_crisp(painter):
    items = (Glyph(3.03, 4.11, 0xE0A4), Line(4.2, 4, 4.2, 1, 0.12), Line(1, 6.3, 9, 6.3, 0.16))
    sheet = Sheet(12, 8, (Block(0, 0, items),))
    crisp = Raster(SheetPainter(painter.fonts, crisp=True)).image(sheet, 9.3)
    assert crisp == Raster(painter).image(sheet, 9.3)
