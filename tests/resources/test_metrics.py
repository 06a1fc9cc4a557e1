"""The kept font measures against the fonts themselves."""

from __future__ import annotations

from importlib.resources import files

from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from resources import metrics


def test_kept_measures_are_those_of_the_fonts() -> None:
    """Run ``python -m resources.metrics`` when this fails."""
    assert metrics.load() == metrics.read_fonts()


def test_boxes_agree_with_the_outlines() -> None:
    """The published metadata against the font's own outlines (1 space = 0.25 em, SMuFL 1.4)."""
    kept = metrics.load()
    with TTFont(str(files("resources") / "fonts" / metrics.MUSIC)) as font:
        glyphs, names = font.getGlyphSet(), font.getBestCmap()
        space = font["head"].unitsPerEm / 4
        for name, code in kept["codes"].items():
            pen = BoundsPen(glyphs)
            glyphs[names[code]].draw(pen)
            for drawn, told in zip(pen.bounds, kept["boxes"][name], strict=True):
                assert abs(drawn / space - told) < 0.01, name
