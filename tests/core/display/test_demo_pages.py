"""The engraved demo lesson through every replayer."""

from functools import cache
from io import BytesIO

import pytest
from lxml import etree
from pypdf import PdfReader

from core.display.faces import music_run, text_runs, text_width
from core.display.items import Glyph, Sheet, Text
from core.display.outlines import Outlines
from core.display.pdf import to_pdf
from core.display.svg import to_svg
from core.formats import lesson_json
from core.page.engrave import engrave
from core.page.metrics import build
from core.page.style import A4, LETTER
from resources import faces, metrics, path
from tests.core.display.sheets import typefaces


@cache
def sheets() -> tuple[Sheet, ...]:
    lesson = lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())
    return engrave(lesson, A4, build(metrics.load())).sheets


def items(kind: type) -> list:
    return [item for s in sheets() for b in s.blocks for item in b.items if isinstance(item, kind)]


def test_no_letter_and_no_sign_is_missing_from_its_font():
    for glyph in items(Glyph):
        assert 0 not in music_run(glyph, typefaces()).glyphs, hex(glyph.code)
    for text in items(Text):
        assert all(0 not in run.glyphs for run in text_runs(text, typefaces())), text.text


def test_layout_and_replay_agree_on_the_width_of_every_text():
    for text in items(Text):
        set_width = text.size * text_width(text.text, text.face, typefaces())
        assert text.width == pytest.approx(set_width, abs=1e-4), text.text


def test_the_handout_is_a4_small_and_found_by_its_words():
    """ISO 216: A4 is 210 x 297 mm."""
    data = to_pdf(sheets(), A4.space_mm, faces.data(), title="Rowing Home at Lantern Time")
    reader = PdfReader(BytesIO(data))
    assert len(reader.pages) == len(sheets())
    for page in reader.pages:
        size = [float(page.mediabox.width), float(page.mediabox.height)]
        assert [side * 25.4 / 72 for side in size] == pytest.approx([210, 297], abs=1e-4)
    assert "Rowing Home at Lantern Time" in reader.pages[0].extract_text()
    assert len(data) < 60_000 * len(sheets())


def test_the_handout_on_american_paper():
    """ANSI/ASME Y14.1 size A: 8.5 x 11 inches, 612 x 792 points."""
    lesson = lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())
    pages = engrave(lesson, LETTER, build(metrics.load())).sheets
    data = to_pdf(pages, LETTER.space_mm, faces.data(), title=lesson.title)
    for page in PdfReader(BytesIO(data)).pages:
        size = [float(page.mediabox.width), float(page.mediabox.height)]
        assert size == pytest.approx([612, 792], abs=0.01)
    assert len(data) < 60_000 * len(pages)


def test_every_page_is_well_formed_svg():
    outlines = Outlines(typefaces())
    for sheet in sheets():
        root = etree.fromstring(to_svg(sheet, 8, outlines).encode())
        assert len(list(root.iter("{*}use"))) >= len([1 for b in sheet.blocks for i in b.items
                                                      if isinstance(i, Glyph)])  # fmt: skip
