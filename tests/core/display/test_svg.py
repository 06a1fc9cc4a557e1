import re

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path
from lxml import etree

from core.display.items import Block, Curve, Face, Glyph, Line, Role, Sheet, Text
from core.display.outlines import Outlines
from core.display.palette import PRINT
from core.display.svg import to_svg
from tests.core.display.sheets import NAMES, page, smufl, typefaces

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"


def draw(*items, x=0.0, y=0.0, **more):
    sheet = Sheet(40, 20, (Block(x, y, items),))
    return etree.fromstring(to_svg(sheet, 8, Outlines(typefaces()), **more).encode())


def numbers(text):
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]


def test_size_is_in_pixels_and_coordinates_in_spaces():
    root = draw(Glyph(1, 2, 0xE0A4))
    assert (root.get("width"), root.get("height")) == ("320", "160")
    assert root.get("viewBox") == "0 0 40 20"


def test_the_same_sheet_gives_the_same_text():
    sheet = page(2)
    outlines = Outlines(typefaces())
    first = to_svg(sheet, 8, outlines)
    assert to_svg(sheet, 8, outlines) == first == to_svg(sheet, 8, Outlines(typefaces()))


def test_every_glyph_used_is_defined_once_and_nothing_else():
    root = etree.fromstring(to_svg(page(2), 8, Outlines(typefaces())).encode())
    defined = [path.get("id") for path in root.iter(f"{SVG}path") if path.get("id")]
    used = {use.get(HREF).removeprefix("#") for use in root.iter(f"{SVG}use")}
    assert sorted(defined) == sorted(used)
    assert not list(root.iter(f"{SVG}image"))


@pytest.mark.parametrize(("code", "name"), NAMES.items())
def test_outlines_have_the_boxes_of_the_fonts_metadata(code, name):
    """SMuFL 1.4, glyphBBoxes: corners in spaces, y up."""
    root = draw(Glyph(10, 5, code))
    use, path = next(root.iter(f"{SVG}use")), next(root.iter(f"{SVG}path"))
    x, y, scale = numbers(use.get("transform"))
    assert (x, y) == (10, 5)
    pen = BoundsPen(None)
    parse_path(path.get("d"), pen)
    left, top, right, bottom = (scale * side for side in pen.bounds)
    box = smufl()["glyphBBoxes"][name]
    assert [right, -top] == pytest.approx(box["bBoxNE"], abs=0.005)
    assert [left, -bottom] == pytest.approx(box["bBoxSW"], abs=0.005)


def test_blocks_are_moved_and_roles_coloured():
    line = Line(0, 1, 8, 1, 0.13, Role.STAFF, dash=(0.5, 0.25))
    root = draw(line, Glyph(1, 2, 0xE0A4), x=3, y=4.5, palette=PRINT | {Role.STAFF: "#123456"})
    block = root.find(f"{SVG}g")
    assert block.get("transform") == "translate(3 4.5)"
    assert [(g.get("class"), g.get("fill")) for g in block] == [
        ("staff", "#123456"),
        ("ink", "#000000"),
    ]
    stroke = block[0][0]
    assert (stroke.get("stroke-width"), stroke.get("stroke-dasharray")) == ("0.13", "0.5 0.25")


def test_a_lens_goes_out_along_one_side_and_back_along_the_other():
    root = draw(Curve((1, 2), (5, 2), ((2, 3), (4, 3.5)), ((2, 2.8), (4, 2.9))))
    (path,) = (p for p in root.iter(f"{SVG}path") if not p.get("id"))
    assert path.get("d") == "M1,2C2,3 4,3.5 5,2C4,2.9 2,2.8 1,2Z"


def test_the_title_is_escaped_and_words_become_outlines():
    root = draw(Text(0, 5, "a b", Face.SERIF, 2, 2.0), title="Ebb <& Flow>")
    assert root.find(f"{SVG}title").text == "Ebb <& Flow>"
    assert len(list(root.iter(f"{SVG}use"))) == 2  # a space has no outline
    assert not list(root.iter(f"{SVG}text"))
