"""Replays sheets as a PDF: vector, searchable, small, the same bytes for the same input.

Sections named are those of ISO 32000-1 (PDF 1.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from io import BytesIO

import pydyf
from msgspec import Struct

from core.display.faces import Run, Typefaces, music_run, read_all, text_runs
from core.display.items import Glyph, Sheet, Text
from core.display.palette import PRINT, Palette
from core.display.pdf_content import Marked, PageContent
from core.display.pdf_fonts import embed
from core.model.errors import BadInput

POINTS_PER_MM = 72 / 25.4
_MUSIC_ALOUD = "Music, system"  # what a screen reader says, before a number


class _About(Struct, frozen=True):
    """What a document says of itself."""

    title: str
    created: datetime | None
    author: str
    language: str


def to_pdf(  # noqa: PLR0913 (what the document says of itself is all by name)
    sheets: Sequence[Sheet],
    mm_per_space: float,
    fonts: Mapping[str, bytes],
    *,
    title: str,
    date: str = "",
    author: str = "",
    language: str = "en",
    palette: Palette = PRINT,
) -> bytes:
    """Write sheets as the pages of one PDF; `mm_per_space` gives each its size on paper.

    `fonts` holds the font file of every face (`resources.faces.data`). `date` is ISO 8601, with or
    without a time, or empty; `language` is a tag such as "en-GB" (RFC 5646). Raises BadInput for a
    font or a date that cannot be read.
    """
    typefaces = read_all(fonts)
    about = _About(title, _moment(date), author, language)
    pdf = pydyf.PDF()
    embedded = embed(pdf, _runs(sheets, typefaces), typefaces)
    resources = pydyf.Dictionary(
        {"Font": pydyf.Dictionary({font.name: font.font.reference for font in embedded.values()})}
    )
    pdf.add_object(resources)
    tree = _Tree(pdf, title)
    for sheet in sheets:
        scale = mm_per_space * POINTS_PER_MM
        content = PageContent(sheet, scale, typefaces, embedded, palette)
        page = _page(pdf, content.data, resources, (sheet.width * scale, sheet.height * scale))
        tree.add_page(page, content.marks)
    tree.finish()
    _describe(pdf, about)
    output = BytesIO()
    pdf.write(output, version=b"1.7", identifier=True, compress=True)
    return output.getvalue()


def _page(
    pdf: pydyf.PDF, content: bytes, resources: pydyf.Dictionary, size: tuple[float, float]
) -> pydyf.Dictionary:
    stream = pydyf.Stream([content], compress=True)
    pdf.add_object(stream)
    page = pydyf.Dictionary(
        {
            "Type": "/Page",
            "Parent": pdf.pages.reference,
            "MediaBox": pydyf.Array([0, 0, *(round(side, 4) for side in size)]),
            "Contents": stream.reference,
            "Resources": resources.reference,
            "Tabs": "/S",
        }
    )
    pdf.add_page(page)
    return page


def _moment(date: str) -> datetime | None:
    if not date:
        return None
    try:
        return datetime.fromisoformat(date)
    except ValueError as error:
        raise BadInput(f"{date!r} is no date; write it like 2026-03-01.") from error


def _runs(sheets: Sequence[Sheet], typefaces: Typefaces) -> Iterator[Run]:
    for sheet in sheets:
        for block in sheet.blocks:
            for item in block.items:
                if isinstance(item, Glyph):
                    yield music_run(item, typefaces)
                elif isinstance(item, Text):
                    yield from text_runs(item, typefaces)


def _describe(pdf: pydyf.PDF, about: _About) -> None:
    pdf.catalog["Lang"] = pydyf.String(about.language)
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"DisplayDocTitle": "true"})
    pdf.info["Title"] = pydyf.String(about.title)
    if about.author:
        pdf.info["Author"] = pydyf.String(about.author)
    pdf.info["Creator"] = pydyf.String("Footstool")
    if about.created is not None:
        pdf.info["CreationDate"] = pydyf.String(_date(about.created))


def _date(when: datetime) -> str:
    """A date as PDF writes it (7.9.4)."""
    text = when.strftime("D:%Y%m%d%H%M%S")
    offset = when.strftime("%z")
    return f"{text}{offset[:3]}'{offset[3:5]}'" if offset else text


class _Tree:
    """The structure tree (14.7): a document of paragraphs and pictures of music, in order."""

    def __init__(self, pdf: pydyf.PDF, title: str) -> None:
        self._pdf, self._title = pdf, title
        self._root = pydyf.Dictionary({"Type": "/StructTreeRoot"})
        pdf.add_object(self._root)
        self._document = self._element("Document", self._root)
        self._kids = pydyf.Array([])
        self._parents: list[pydyf.Array] = []  # by page: the element of each mark
        self._systems = 0
        self._title_found = False

    def add_page(self, page: pydyf.Dictionary, marks: Sequence[Marked]) -> None:
        page["StructParents"] = len(self._parents)
        owners: dict[int, bytes] = {}
        for mark in marks:
            element = self._element(self._kind(mark), self._document)
            element["Pg"] = page.reference
            element["K"] = pydyf.Array(mark.numbers)
            if mark.words is None:
                self._systems += 1
                element["Alt"] = pydyf.String(f"{_MUSIC_ALOUD} {self._systems}")
            self._kids.append(element.reference)
            owners |= dict.fromkeys(mark.numbers, element.reference)
        self._parents.append(pydyf.Array([owners[number] for number in sorted(owners)]))

    def finish(self) -> None:
        self._document["K"] = self._kids
        rows: list[object] = []
        for number, owners in enumerate(self._parents):
            self._pdf.add_object(owners)
            rows += [number, owners.reference]
        self._root["K"] = pydyf.Array([self._document.reference])
        self._root["ParentTree"] = pydyf.Dictionary({"Nums": pydyf.Array(rows)})
        self._root["ParentTreeNextKey"] = len(self._parents)
        self._pdf.catalog["StructTreeRoot"] = self._root.reference
        self._pdf.catalog["MarkInfo"] = pydyf.Dictionary({"Marked": "true"})

    def _kind(self, mark: Marked) -> str:
        if mark.words is None:
            return "Figure"
        if mark.words == self._title and not self._title_found:
            self._title_found = True
            return "H1"
        return "P"

    def _element(self, kind: str, parent: pydyf.Dictionary) -> pydyf.Dictionary:
        element = pydyf.Dictionary({"Type": "/StructElem", "S": f"/{kind}", "P": parent.reference})
        self._pdf.add_object(element)
        return element
