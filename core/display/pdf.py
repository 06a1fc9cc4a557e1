"""Replays sheets as a PDF: vector, searchable, small, the same bytes for the same input.

Sections named are those of ISO 32000-1 (PDF 1.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from io import BytesIO

import pydyf
from msgspec import Struct

from core.display.faces import Run, Typefaces, music_run, text_runs
from core.display.items import Glyph, Sheet, Text
from core.display.palette import PRINT, Palette
from core.display.pdf_content import Marked, PageContent
from core.display.pdf_fonts import embed

POINTS_PER_MM = 72 / 25.4


class About(Struct, frozen=True):
    """What a document says of itself.

    `created` should know its time zone; `language` is a tag such as "en" (RFC 5646). `music` is
    what a screen reader says for a system of music, before its number.
    """

    title: str
    created: datetime
    author: str = ""
    language: str = "en"
    music: str = "Music, system"


def to_pdf(
    sheets: Sequence[Sheet],
    mm_per_space: float,
    typefaces: Typefaces,
    about: About,
    palette: Palette = PRINT,
) -> bytes:
    """Write sheets as the pages of one PDF; `mm_per_space` gives each its size on paper."""
    pdf = pydyf.PDF()
    fonts = embed(pdf, _runs(sheets, typefaces), typefaces)
    resources = pydyf.Dictionary(
        {"Font": pydyf.Dictionary({font.name: font.font.reference for font in fonts.values()})}
    )
    pdf.add_object(resources)
    tree = _Tree(pdf, about)
    for sheet in sheets:
        scale = mm_per_space * POINTS_PER_MM
        content = PageContent(sheet, scale, typefaces, fonts, palette)
        stream = pydyf.Stream([content.data], compress=True)
        pdf.add_object(stream)
        page = pydyf.Dictionary(
            {
                "Type": "/Page",
                "Parent": pdf.pages.reference,
                "MediaBox": pydyf.Array(
                    [0, 0, round(sheet.width * scale, 4), round(sheet.height * scale, 4)]
                ),
                "Contents": stream.reference,
                "Resources": resources.reference,
                "StructParents": tree.page_count,
                "Tabs": "/S",
            }
        )
        pdf.add_page(page)
        tree.add_page(page, content.marks)
    tree.finish()
    _describe(pdf, about)
    output = BytesIO()
    pdf.write(output, version=b"1.7", identifier=True, compress=True)
    return output.getvalue()


def _runs(sheets: Sequence[Sheet], typefaces: Typefaces) -> Iterator[Run]:
    for sheet in sheets:
        for block in sheet.blocks:
            for item in block.items:
                if isinstance(item, Glyph):
                    yield music_run(item, typefaces)
                elif isinstance(item, Text):
                    yield from text_runs(item, typefaces)


def _describe(pdf: pydyf.PDF, about: About) -> None:
    pdf.catalog["Lang"] = pydyf.String(about.language)
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"DisplayDocTitle": "true"})
    pdf.info["Title"] = pydyf.String(about.title)
    if about.author:
        pdf.info["Author"] = pydyf.String(about.author)
    pdf.info["Creator"] = pydyf.String("Footstool")
    pdf.info["CreationDate"] = pydyf.String(_date(about.created))


def _date(when: datetime) -> str:
    """A date as PDF writes it (7.9.4)."""
    text = when.strftime("D:%Y%m%d%H%M%S")
    offset = when.strftime("%z")
    return f"{text}{offset[:3]}'{offset[3:5]}'" if offset else text


class _Tree:
    """The structure tree (14.7): a document of paragraphs and pictures of music, in order."""

    def __init__(self, pdf: pydyf.PDF, about: About) -> None:
        self._pdf, self._about = pdf, about
        self._root = pydyf.Dictionary({"Type": "/StructTreeRoot"})
        pdf.add_object(self._root)
        self._document = self._element("Document", self._root)
        self._kids = pydyf.Array([])
        self._parents: list[pydyf.Array] = []  # by page: the element of each mark
        self._systems = 0
        self._title_found = False

    @property
    def page_count(self) -> int:
        return len(self._parents)

    def add_page(self, page: pydyf.Dictionary, marks: Sequence[Marked]) -> None:
        owners: dict[int, bytes] = {}
        for mark in marks:
            element = self._element(self._kind(mark), self._document)
            element["Pg"] = page.reference
            element["K"] = pydyf.Array(mark.numbers)
            if mark.words is None:
                self._systems += 1
                element["Alt"] = pydyf.String(f"{self._about.music} {self._systems}")
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
        if mark.words == self._about.title and not self._title_found:
            self._title_found = True
            return "H1"
        return "P"

    def _element(self, kind: str, parent: pydyf.Dictionary) -> pydyf.Dictionary:
        element = pydyf.Dictionary({"Type": "/StructElem", "S": f"/{kind}", "P": parent.reference})
        self._pdf.add_object(element)
        return element
