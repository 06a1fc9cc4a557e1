"""PDFs read back by other programs: pypdf, and poppler's tools where they are installed."""

import re
import shutil
import subprocess
from datetime import datetime
from functools import cache
from io import BytesIO

import pytest
from fontTools.cffLib import CFFFontSet
from fontTools.pens.boundsPen import BoundsPen
from pypdf import PdfReader

from core.display.faces import MUSIC_EM
from core.display.items import Block, Face, Glyph, Line, Role, Sheet
from core.display.pdf import to_pdf
from core.model.errors import BadInput
from resources import faces
from tests.core.display.extract import extracted, placed, to_unicode
from tests.core.display.sheets import MM_PER_SPACE, NAMES, page, smufl, words

TITLE = "Wherry Lane in B♭ and F♯"
AUTHOR = "Øyvind of the Harbour"
DATE = "2026-03-01T12:30:00-03:30"
WORDS = (
    "Wherry Lane in B♭ and F♯",
    "für Übung & Ohr, “half – time”",
    "let it ring",
    "Efficient waffle 0123456789",
)
POINTS = MM_PER_SPACE * 72 / 25.4


@cache
def made(pages: int = 1) -> bytes:
    return pdf_of([page(5)] * pages, author=AUTHOR, language="en-GB", date=DATE)


def pdf_of(sheets: list[Sheet], **more) -> bytes:
    return to_pdf(sheets, MM_PER_SPACE, faces.data(), title=TITLE, **more)


def of(*items) -> PdfReader:
    sheet = Sheet(120, 297 / MM_PER_SPACE, (Block(2, 3, items),))
    return PdfReader(BytesIO(pdf_of([sheet])))


def poppler(tool: str, *options: str, data: bytes | None = None) -> str:
    """What one of poppler's tools says of a PDF."""
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} is not installed (Debian package poppler-utils)")
    command = [tool, *options, "-", *(["-"] if tool == "pdftotext" else [])]
    done = subprocess.run(command, input=data or made(), capture_output=True, check=True)
    assert not done.stderr, done.stderr
    return done.stdout.decode()


def test_glyphs_stand_where_the_display_list_put_them():
    """Extracted places agree within .0002 space, which is .35 micrometres on paper."""
    mine = sorted(placed(page(5)))
    found = sorted(extracted(PdfReader(BytesIO(made())), MM_PER_SPACE))
    assert [row[0] for row in found] == [row[0] for row in mine]
    # Rows with the same characters sort by x, so pairs are pairs of places.
    for a, b in zip(mine, found, strict=True):
        assert b[1:] == pytest.approx(a[1:], abs=0.0002), a


@pytest.mark.parametrize(("code", "name"), NAMES.items())
def test_the_subset_draws_the_glyph_that_was_meant(code, name):
    """SMuFL 1.4, glyphBBoxes: corners in spaces, y up."""
    reader = of(Glyph(3, 3, 0xE0A4), Glyph(5, 5, code), Glyph(7, 7, 0xED1B))
    (font,) = reader.pages[0]["/Resources"]["/Font"].values()
    (number,) = (n for n, char in to_unicode(font.get_object()).items() if char == chr(code))
    program = font["/DescendantFonts"][0]["/FontDescriptor"]["/FontFile3"].get_data()
    fonts = CFFFontSet()
    fonts.decompile(BytesIO(program), None)
    top = fonts[0]
    pen = BoundsPen(None)
    top.CharStrings[top.charset[number]].draw(pen)
    left, bottom, right, top_edge = (MUSIC_EM * side / 1000 for side in pen.bounds)
    box = smufl()["glyphBBoxes"][name]
    assert [right, top_edge] == pytest.approx(box["bBoxNE"], abs=0.005)
    assert [left, bottom] == pytest.approx(box["bBoxSW"], abs=0.005)


def test_words_can_be_found():
    text = PdfReader(BytesIO(made())).pages[0].extract_text()
    for line in WORDS:
        assert line in text


def test_poppler_finds_the_words_too():
    text = poppler("pdftotext", "-layout")
    for line in WORDS:
        assert line in text


def test_words_start_and_end_where_the_display_list_says():
    """pdftotext -bbox gives the left of the first letter's origin and the right of its advance."""
    text = words(10, 30, "Candlemas", Face.SERIF_ITALIC, 2.5, anchor=0.5)
    sheet = Sheet(120, 160, (Block(2, 3, (text,)),))
    page_data = pdf_of([sheet])
    found = poppler("pdftotext", "-bbox", data=page_data)
    ((left, right),) = re.findall(r'<word xMin="([\d.]+)".*? xMax="([\d.]+)".*>Candlemas', found)
    assert float(left) / POINTS == pytest.approx(12 - text.width / 2, abs=0.01)
    assert float(right) / POINTS == pytest.approx(12 + text.width / 2, abs=0.01)


def test_letters_that_no_font_has_are_still_found():
    assert "舟歌" in of(words(1, 5, "舟歌", Face.SERIF, 2)).pages[0].extract_text()


def test_fonts_are_embedded_subsets_with_their_characters():
    rows = [line.split() for line in poppler("pdffonts").splitlines()[2:]]
    assert len(rows) == len(Face)
    for row in rows:
        assert re.match(r"[A-Z]{6}\+", row[0])
        assert row[-5:-2] == ["yes", "yes", "yes"], row  # embedded, subset, to Unicode


def test_a_page_is_vector_and_small():
    reader = PdfReader(BytesIO(made()))
    assert set(reader.pages[0]["/Resources"]) == {"/Font"}
    assert b"BI" not in reader.pages[0].get_contents().get_data().split()
    assert len(made()) < 60_000
    assert len(made(4)) - len(made(3)) < 10_000
    assert len(poppler("pdfimages", "-list").splitlines()) == 2  # only the table's head


def test_pages_are_a4():
    """ISO 216: 210 x 297 mm."""
    reader = PdfReader(BytesIO(made(2)))
    assert len(reader.pages) == 2
    for leaf in reader.pages:
        size = [float(leaf.mediabox.width), float(leaf.mediabox.height)]
        assert [part * 25.4 / 72 for part in size] == pytest.approx([210, 297], abs=1e-4)


def test_the_document_says_what_it_is():
    reader = PdfReader(BytesIO(made()))
    assert reader.metadata.title == TITLE
    assert reader.metadata.author == AUTHOR
    assert reader.metadata.creation_date == datetime.fromisoformat(DATE)
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/MarkInfo"]["/Marked"]


def test_every_mark_of_every_page_belongs_to_an_element():
    reader = PdfReader(BytesIO(made(2)))
    tree = reader.trailer["/Root"]["/StructTreeRoot"]
    owners = tree["/ParentTree"]["/Nums"][1::2]
    for leaf, parents in zip(reader.pages, owners, strict=True):
        content = leaf.get_contents().get_data()
        marks = [int(n) for n in re.findall(rb"<</MCID (\d+)>> BDC", content)]
        assert marks == list(range(len(parents.get_object())))
        assert content.count(b"BDC") == content.count(b"EMC")
        for number, element in enumerate(parents.get_object()):
            assert number in element.get_object()["/K"]
            assert element.get_object()["/Pg"].get_object() == leaf.get_object()


def test_a_reader_hears_title_words_and_systems_in_order():
    reader = PdfReader(BytesIO(made(2)))
    (document,) = reader.trailer["/Root"]["/StructTreeRoot"]["/K"]
    assert document["/S"] == "/Document"
    kids = [kid.get_object() for kid in document["/K"]]
    kinds = ["".join(kid["/S"]) for kid in kids]
    head = ["/P"] * 3 + ["/Figure"] * 6  # the head's own figure holds the music glyphs in it
    assert kinds == ["/H1", *head, "/P", *head]
    alternatives = [kid["/Alt"] for kid in kids if kid["/S"] == "/Figure"]
    assert alternatives == [f"Music, system {n}" for n in range(1, 13)]


def test_lines_of_one_saying_are_joined_and_figures_alone_are_not_read():
    talk = [
        words(5, 4 + 2 * i, line, Face.SERIF_ITALIC, 1.5, role=Role.PENCIL, source=7)
        for i, line in enumerate(("Let the low A", "ring on."))
    ]
    letter = words(30, 1, "Verse", Face.SERIF_BOLD, 2, source=8)
    number = words(20, 1, "12", Face.SERIF, 1, role=Role.PENCIL, source=9)
    line = Line(0, 9, 40, 9, 0.13, Role.STAFF)
    reader = of(letter, *talk, number, line, Glyph(22, 5, 0xE0A4))
    (document,) = reader.trailer["/Root"]["/StructTreeRoot"]["/K"]
    kids = [kid.get_object() for kid in document["/K"]]
    assert [(kid["/S"], len(kid["/K"])) for kid in kids] == [("/P", 2), ("/P", 1), ("/Figure", 3)]


def test_poppler_reads_the_structure():
    text = poppler("pdfinfo", "-struct-text")
    assert re.search(r'H1.*\n\s+"Wherry Lane in B♭ and F♯"', text)


def test_the_same_sheets_give_the_same_bytes():
    assert pdf_of([page(5)], author=AUTHOR, language="en-GB", date=DATE) == made()
    assert pdf_of([page(5)], author=AUTHOR, language="en-GB") != made()


@pytest.mark.parametrize(
    ("date", "written"),
    [
        ("2026-01-02", "D:20260102000000"),
        ("2026-01-02T03:04:05", "D:20260102030405"),
        ("2026-01-02T03:04:05+00:00", "D:20260102030405+00'00'"),
        ("2026-01-02T03:04:05-03:30", "D:20260102030405-03'30'"),
    ],
)
def test_dates_are_written_as_pdf_wants_them(date, written):
    """ISO 32000-1, 7.9.4 Dates."""
    assert PdfReader(BytesIO(pdf_of([page(1)], date=date))).metadata["/CreationDate"] == written


def test_without_a_date_none_is_written():
    assert "/CreationDate" not in PdfReader(BytesIO(pdf_of([page(1)]))).metadata


def test_a_wrong_date_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="'Thursday' is no date; write it like 2026-03-01"):
        pdf_of([page(1)], date="Thursday")
