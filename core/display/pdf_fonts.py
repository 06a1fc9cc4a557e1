"""Subsets of fonts as PDF objects: composite fonts, addressed by glyph, with their characters.

Sections named are those of ISO 32000-1 (PDF 1.7).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from io import BytesIO
from typing import Any

import pydyf
from fontTools import subset
from fontTools.ttLib import TTFont
from msgspec import Struct

from core.display.faces import Run, Typeface, Typefaces
from core.display.items import Face

_TABLES_OF_NO_USE = ["BASE", "DSIG", "GDEF", "GPOS", "GSUB", "OS/2", "cmap", "gasp", "name", "post"]


class Embedded(Struct, frozen=True):
    """One face in a document: the name pages call it by, and the code of each character."""

    name: str
    codes: dict[tuple[str, int], int]  # (character, glyph number in the whole font) -> code
    font: Any  # the pydyf dictionary

    def encode(self, run: Run) -> bytes:
        """The run as a PDF string of two-byte codes, in hexadecimal."""
        codes = (self.codes[pair] for pair in zip(run.chars, run.glyphs, strict=True))
        return b"<" + b"".join(b"%04x" % code for code in codes) + b">"


def embed(pdf: pydyf.PDF, runs: Iterable[Run], typefaces: Typefaces) -> dict[Face, Embedded]:
    """Add to `pdf` a subset of every face that the runs use."""
    used: dict[Face, set[tuple[str, int]]] = {}
    for run in runs:
        used.setdefault(run.face, set()).update(zip(run.chars, run.glyphs, strict=True))
    return {
        face: _embed_face(pdf, f"F{number}", sorted(used[face], key=_by_glyph), typefaces[face])
        for number, face in enumerate(face for face in Face if face in used)
    }


def _by_glyph(pair: tuple[str, int]) -> tuple[int, str]:
    char, glyph = pair
    return glyph, char


def _embed_face(
    pdf: pydyf.PDF, name: str, pairs: list[tuple[str, int]], typeface: Typeface
) -> Embedded:
    part = _Subset(typeface, sorted({glyph for _, glyph in pairs}))
    if part.is_cff:  # not CID-keyed: codes are the subset's glyph numbers (9.7.4.2)
        codes = {pair: part.numbers[pair[1]] for pair in pairs}
    else:  # codes of our own, so that characters that share a glyph still extract apart
        codes = {pair: code for code, pair in enumerate(pairs, 1)}
    base = f"/{part.tag}+{part.postscript_name}"
    descendant = _descendant(pdf, base, part, codes, typeface)
    font = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": base + ("-Identity-H" if part.is_cff else ""),
            "Encoding": "/Identity-H",
            "DescendantFonts": pydyf.Array([descendant.reference]),
            "ToUnicode": _add(pdf, _to_unicode(codes)).reference,
        }
    )
    pdf.add_object(font)
    return Embedded(name, codes, font)


class _Subset:
    """A font cut down to some glyphs, and the numbers they then have."""

    def __init__(self, typeface: Typeface, glyphs: list[int]) -> None:
        font = TTFont(BytesIO(typeface.data), lazy=True, recalcTimestamp=False)
        order = font.getGlyphOrder()
        self.is_cff = "CFF " in font
        self.postscript_name = font["name"].getDebugName(6)
        head, hhea = font["head"], font["hhea"]
        self.box = (head.xMin, head.yMin, head.xMax, head.yMax)
        self.ascent, self.descent = hhea.ascent, hhea.descent
        self.cap_height = font["OS/2"].sCapHeight
        self.angle = font["post"].italicAngle
        cutter = subset.Subsetter(_options())
        cutter.populate(glyphs=[order[glyph] for glyph in glyphs])
        cutter.subset(font)
        kept = {name: number for number, name in enumerate(font.getGlyphOrder())}
        self.numbers = {glyph: kept[order[glyph]] for glyph in glyphs}
        self.program = _program(font, self.is_cff)
        digest = hashlib.sha256(self.program).digest()
        self.tag = "".join(chr(ord("A") + byte % 26) for byte in digest[:6])  # 9.6.4


def _options() -> subset.Options:
    return subset.Options(
        layout_features=[],
        hinting=False,
        notdef_outline=True,
        recalc_timestamp=False,
        drop_tables=_TABLES_OF_NO_USE,
    )


def _program(font: TTFont, is_cff: bool) -> bytes:
    whole = BytesIO()
    font.save(whole, reorderTables=None)
    if not is_cff:
        return whole.getvalue()
    return bytes(TTFont(whole, lazy=True).reader["CFF "])


def _descendant(
    pdf: pydyf.PDF,
    base: str,
    part: _Subset,
    codes: dict[tuple[str, int], int],
    typeface: Typeface,
) -> pydyf.Dictionary:
    kind = "/CIDFontType0" if part.is_cff else "/CIDFontType2"
    descendant = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": kind,
            "BaseFont": base,
            "CIDSystemInfo": pydyf.Dictionary(
                {
                    "Registry": pydyf.String("Adobe"),
                    "Ordering": pydyf.String("Identity"),
                    "Supplement": 0,
                }
            ),
            "FontDescriptor": _descriptor(pdf, base, part).reference,
            "DW": 0,
            "W": _widths(codes, typeface),
        }
    )
    if not part.is_cff:
        table = [0] * (max(codes.values()) + 1)
        for (_, glyph), code in codes.items():
            table[code] = part.numbers[glyph]
        stream = pydyf.Stream(
            [b"".join(number.to_bytes(2, "big") for number in table)], compress=True
        )
        descendant["CIDToGIDMap"] = _add(pdf, stream).reference
    return _add(pdf, descendant)


def _descriptor(pdf: pydyf.PDF, base: str, part: _Subset) -> pydyf.Dictionary:
    extra = {"Subtype": "/CIDFontType0C"} if part.is_cff else {"Length1": len(part.program)}
    program = _add(pdf, pydyf.Stream([part.program], extra, compress=True))
    return _add(
        pdf,
        pydyf.Dictionary(
            {
                "Type": "/FontDescriptor",
                "FontName": base,
                "Flags": 4,  # symbolic: the codes are ours (9.8.2)
                "FontBBox": pydyf.Array(part.box),
                "ItalicAngle": part.angle,
                "Ascent": part.ascent,
                "Descent": part.descent,
                "CapHeight": part.cap_height,
                "StemV": 80,  # required; no viewer needs it for an embedded font
                "FontFile3" if part.is_cff else "FontFile2": program.reference,
            }
        ),
    )


def _widths(codes: dict[tuple[str, int], int], typeface: Typeface) -> pydyf.Array:
    rows: list[Any] = []
    for (_, glyph), code in sorted(codes.items(), key=lambda item: item[1]):
        width = round(1000 * typeface.advance(glyph), 3)
        rows += [code, pydyf.Array([int(width) if width == int(width) else width])]
    return pydyf.Array(rows)


def _to_unicode(codes: dict[tuple[str, int], int]) -> pydyf.Stream:
    """The map from codes to characters (9.10.3), so that words can be found and copied."""
    chars = {code: char for (char, _), code in sorted(codes.items())}
    rows = [f"<{code:04x}> <{char.encode('utf-16-be').hex()}>" for code, char in chars.items()]
    groups = [rows[i : i + 100] for i in range(0, len(rows), 100)]
    text = "\n".join(
        [
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap",
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
            "/CMapName /Adobe-Identity-UCS def /CMapType 2 def",
            "1 begincodespacerange <0000> <ffff> endcodespacerange",
            *(f"{len(g)} beginbfchar\n" + "\n".join(g) + "\nendbfchar" for g in groups),
            "endcmap CMapName currentdict /CMap defineresource pop end end",
        ]
    )
    return pydyf.Stream([text.encode("ascii")], compress=True)


def _add(pdf: pydyf.PDF, thing: Any) -> Any:
    pdf.add_object(thing)
    return thing
