"""The shipped fonts as Qt draws them, beside the same fonts as core measures them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from msgspec import structs
from PySide6.QtCore import QByteArray
from PySide6.QtGui import QFont, QFontDatabase, QPainterPath, QRawFont

from core.display.faces import Typefaces, read_all, text_runs
from core.display.items import Face, Text
from core.model.errors import BadInput
from resources import faces

# Outlines are cut at this size, large enough that nothing is rounded, and scaled when painted.
PIXELS_PER_EM = 400
MOST_TEXTS = 4000  # kept as set; figures and fingers come again and again

Outline = tuple[QPainterPath, tuple[float, float, float, float]]
Placed = tuple[Face, int, float, float, float]  # face, glyph, em, x, y


class SheetFonts:
    """The fonts of a display list, loaded once; needs a QGuiApplication.

    `typefaces` are the values with which core places glyphs; `outline` and `font` are Qt's view.
    Raises BadInput with a sentence when a font file cannot be used.
    """

    def __init__(self, files: Mapping[str, Path] | None = None) -> None:
        self._files = faces.paths() if files is None else files
        data: dict[str, bytes] = {face: self._files[face].read_bytes() for face in Face}
        self.typefaces: Typefaces = read_all(data)
        self._raw = {
            face: QRawFont(
                QByteArray(data[face]), PIXELS_PER_EM, QFont.HintingPreference.PreferNoHinting
            )
            for face in Face
        }
        self._outlines: dict[tuple[Face, int], Outline] = {}
        self._texts: dict[tuple[str, Face, float, float, float], tuple[Placed, ...]] = {}
        self._families: dict[Face, QFont] = {}

    def outline(self, face: Face, glyph: int) -> QPainterPath:
        """The outline of a glyph, `PIXELS_PER_EM` units to the em, y down."""
        return self.cut(face, glyph)[0]

    def cut(self, face: Face, glyph: int) -> Outline:
        """The outline of a glyph, and what it covers: left, top, right, bottom."""
        key = face, glyph
        found = self._outlines.get(key)
        if found is None:
            path = self._raw[face].pathForGlyph(glyph)
            found = self._outlines[key] = (path, corners(path))
        return found

    def set(self, text: Text) -> tuple[Placed, ...]:
        """The glyphs of a text with their em and their place from its own, in spaces."""
        key = text.text, text.face, text.size, text.width, text.anchor
        found = self._texts.get(key)
        if found is None:
            if len(self._texts) > MOST_TEXTS:
                self._texts.clear()
            runs = text_runs(structs.replace(text, x=0.0, y=0.0), self.typefaces)
            found = self._texts[key] = tuple(
                (run.face, glyph, run.em, x, run.y)
                for run in runs
                for glyph, x in zip(run.glyphs, run.xs, strict=True)
            )
        return found

    def font(self, face: Face, pixels: int) -> QFont:
        """A font of this face for labels and other controls."""
        found = self._families.get(face)
        if found is None:
            found = self._families[face] = _load(self._files[face])
        font = QFont(found)
        font.setPixelSize(pixels)
        return font


def corners(path: QPainterPath) -> tuple[float, float, float, float]:
    """What a path covers at most: left, top, right, bottom."""
    box = path.controlPointRect()
    return box.left(), box.top(), box.right(), box.bottom()


def _load(file: Path) -> QFont:
    """Make a font file known to Qt; only that very file will do, not a namesake's version."""
    data = file.read_bytes()
    number = QFontDatabase.addApplicationFont(str(file))
    for family in QFontDatabase.applicationFontFamilies(number):
        for style in QFontDatabase.styles(family):
            font = QFontDatabase.font(family, style, 12)
            head = QRawFont.fromFont(font).fontTable("head").data()
            if head and head in data:
                return font
    raise BadInput(f"The font {file.name} cannot be loaded; reinstall Footstool.")
