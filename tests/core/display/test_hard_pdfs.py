"""The demo and every hard case as PDF, on A4 and on Letter paper, read back with pypdf."""

from __future__ import annotations

from functools import cache
from io import BytesIO

import pytest
from msgspec import structs
from pypdf import PdfReader

from core.display.items import Face, Sheet, Text
from core.display.pdf import to_pdf
from core.formats import lesson_json
from core.page.engrave import engrave
from core.page.style import A4, LARGE_PRINT, LETTER, PageStyle
from resources import faces, path
from tests import everything
from tests.core.display.extract import extracted, placed
from tests.core.page.cases import CASES
from tests.core.page.kit import metrics

PAPERS = {"a4": A4, "letter": LETTER}
# ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1 size A: 8.5 x 11 inches.
SIZES_MM = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4)}
STYLES: dict[str, tuple[str, PageStyle]] = {
    **{paper: (paper, style) for paper, style in PAPERS.items()},
    "tab on letter": ("letter", structs.replace(LETTER, staves="tab")),
    "staff": ("a4", structs.replace(A4, staves="staff", beat_dots=True)),
}
NAMES = ("hard cases", "demo", "everything")


@cache
def sheets(name: str, style: PageStyle) -> tuple[Sheet, ...]:
    """The sheets of one lesson; of the hard cases one after the other."""
    if name == "demo":
        lessons = [lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())]
    elif name == "everything":
        lessons = [everything.lesson()]
    else:
        lessons = [case() for case in CASES.values()]
    return tuple(sheet for one in lessons for sheet in engrave(one, style, metrics()).sheets)


def pdf(name: str, style: PageStyle) -> bytes:
    return to_pdf(
        sheets(name, style), style.space_mm, faces.data(), title=name, language="en-GB",
        date="2026-03-01",
    )  # fmt: skip


@pytest.mark.parametrize("how", STYLES)
@pytest.mark.parametrize("name", NAMES)
def test_a_hard_page_as_pdf(name: str, how: str) -> None:
    paper, style = STYLES[how]
    data = pdf(name, style)
    reader = PdfReader(BytesIO(data))
    pages = sheets(name, style)
    assert len(reader.pages) == len(pages)
    assert len(data) < 60_000 * len(pages)
    _says_what_it_is(reader, name)
    for number, leaf in enumerate(reader.pages):
        size = [float(side) * 25.4 / 72 for side in leaf.mediabox[2:]]
        assert size == pytest.approx(SIZES_MM[paper], abs=0.01)
        _fonts_and_nothing_else(leaf)
        _glyphs_agree(pages[number], extracted(reader, style.space_mm, number))
        _words_are_found(pages[number], leaf.extract_text())


def _says_what_it_is(reader: PdfReader, title: str) -> None:
    """ISO 32000-1, 14.8 and 14.9: a title, a language, a tree of what is on the page."""
    root = reader.trailer["/Root"]
    assert reader.metadata is not None
    assert reader.metadata.title == title
    assert root["/Lang"] == "en-GB"
    assert root["/MarkInfo"]["/Marked"]
    (document,) = root["/StructTreeRoot"]["/K"]
    assert document["/K"]


def _fonts_and_nothing_else(leaf: object) -> None:
    """Every font embedded; no image as object and none inline."""
    resources = leaf["/Resources"]  # type: ignore[index]
    assert set(resources) == {"/Font"}
    for font in resources["/Font"].values():
        descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)
    assert b"BI" not in leaf.get_contents().get_data().split()  # type: ignore[attr-defined]


def _glyphs_agree(sheet: Sheet, found: list[tuple[str, float, float, float]]) -> None:
    """Every run of glyphs within .01 space of where the display list put it."""
    mine, theirs = sorted(placed(sheet)), sorted(found)
    assert [row[0] for row in mine] == [row[0] for row in theirs]
    for a, b in zip(mine, theirs, strict=True):
        assert b[1:] == pytest.approx(a[1:], abs=0.01), a


def _words_are_found(sheet: Sheet, text: str) -> None:
    words = {
        item.text for block in sheet.blocks for item in block.items
        if isinstance(item, Text) and item.face is not Face.MUSIC and len(item.text) > 2
    }  # fmt: skip
    plain = " ".join(text.split())
    assert {word for word in words if " ".join(word.split()) not in plain} == set()


def test_large_print_lies_across_a4() -> None:
    (first, *_) = PdfReader(BytesIO(pdf("demo", LARGE_PRINT))).pages
    size = [float(side) * 25.4 / 72 for side in first.mediabox[2:]]
    assert size == pytest.approx([297.0, 210.0], abs=0.01)


@pytest.mark.parametrize("name", ["everything", "demo"])
def test_the_same_lesson_gives_the_same_bytes(name: str) -> None:
    first = pdf(name, A4)
    sheets.cache_clear()
    assert pdf(name, A4) == first
