"""Outlines of glyphs as SVG path data."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from fontTools.misc.transform import Identity
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from core.display.faces import Typefaces
from core.display.items import Face


class Outlines:
    """Reads outlines from fonts and keeps them; make one and pass it to every page's replay."""

    def __init__(self, typefaces: Typefaces) -> None:
        self.typefaces = typefaces
        self._sets: dict[Face, tuple[list[str], Any]] = {}
        self._paths: dict[tuple[Face, int], str] = {}

    def path(self, face: Face, glyph: int) -> str:
        """The outline of a glyph in font units, y down; empty for a blank."""
        key = face, glyph
        if key not in self._paths:
            self._paths[key] = self._read(face, glyph)
        return self._paths[key]

    def _read(self, face: Face, glyph: int) -> str:
        if face not in self._sets:
            font = TTFont(BytesIO(self.typefaces[face].data), lazy=True)
            self._sets[face] = font.getGlyphOrder(), font.getGlyphSet()
        order, glyphs = self._sets[face]
        pen = SVGPathPen(glyphs)
        glyphs[order[glyph]].draw(TransformPen(pen, Identity.scale(1, -1)))
        return str(pen.getCommands())
