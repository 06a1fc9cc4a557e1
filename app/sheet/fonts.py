"""The shipped fonts as Qt draws them, beside the same fonts as core measures them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtGui import QFont, QFontDatabase, QRawFont

from core.display.faces import Typefaces, read_all
from core.display.items import Face
from core.model.errors import BadInput
from resources import faces

# Glyph runs are cut at this size and the painter is scaled down. A raw font opened at a small size,
# or straight from a file, draws nothing once a glyph is larger than 64 device pixels; one taken
# from a QFont this large is right at every zoom (measured; see tests/app/sheet/test_painter.py).
PIXELS_PER_EM = 400


class SheetFonts:
    """The fonts of a display list, loaded once; needs a QGuiApplication.

    `typefaces` are the values with which core places glyphs; `raw` gives Qt's drawing of them.
    Raises BadInput with a sentence when a font file cannot be used.
    """

    def __init__(self, files: Mapping[str, Path] | None = None) -> None:
        paths = faces.paths() if files is None else files
        self.typefaces: Typefaces = read_all({face: paths[face].read_bytes() for face in Face})
        self.families: dict[Face, QFont] = {}
        self._raw: dict[Face, QRawFont] = {}
        for face in Face:
            font = _load(paths[face], self.typefaces[face].data)
            self.families[face] = font
            self._raw[face] = QRawFont.fromFont(font)

    def raw(self, face: Face) -> QRawFont:
        """The font of a face at `PIXELS_PER_EM`; its glyph numbers are those of `typefaces`."""
        return self._raw[face]

    def font(self, face: Face, pixels: int) -> QFont:
        """A font of the same face for labels and other controls."""
        font = QFont(self.families[face])
        font.setPixelSize(pixels)
        return font


def _load(file: Path, data: bytes) -> QFont:
    number = QFontDatabase.addApplicationFontFromData(data)
    for family in QFontDatabase.applicationFontFamilies(number):
        for style in QFontDatabase.styles(family):
            font = QFontDatabase.font(family, style, 12)
            font.setPixelSize(PIXELS_PER_EM)
            font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
            # Another version of the same family may be installed: only our own file will do, as
            # glyph numbers differ between versions.
            if _same_file(QRawFont.fromFont(font), data):
                return font
    raise BadInput(f"The font {file.name} cannot be loaded; reinstall Footstool.")


def _same_file(raw: QRawFont, data: bytes) -> bool:
    head = raw.fontTable("head").data()
    return bool(head) and head in data
