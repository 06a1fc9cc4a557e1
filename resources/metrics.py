"""Font measures as plain data, read once from the shipped fonts and kept beside them as JSON.

``python -m resources.metrics`` writes ``fonts/metrics.json`` anew after a font or
`core.page.glyphs` changed; a test says when that was forgotten.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from core.page.glyphs import CODES

FACES = {
    "serif": "SourceSerif4-Regular.ttf",
    "serif bold": "SourceSerif4-Bold.ttf",
    "serif italic": "SourceSerif4-It.ttf",
    "sans": "SourceSans3-Regular.ttf",
    "sans bold": "SourceSans3-Semibold.ttf",
}
MUSIC = "Bravura.otf"
MUSIC_METADATA = "Bravura-metadata.json"
KEPT = "metrics.json"
_FOLDER = files("resources") / "fonts"


def load() -> dict[str, Any]:
    """The kept measures, ready for `core.page.metrics.build`."""
    return dict(json.loads((_FOLDER / KEPT).read_text("utf-8")))


def read_fonts() -> dict[str, Any]:
    """The measures straight from the fonts and the music font's SMuFL metadata (slow)."""
    metadata = json.loads((_FOLDER / MUSIC_METADATA).read_text("utf-8"))
    boxes, anchors, advances = {}, {}, {}
    for name in CODES:
        box = metadata["glyphBBoxes"][name]
        boxes[name] = [*box["bBoxSW"], *box["bBoxNE"]]
        advances[name] = metadata["glyphAdvanceWidths"][name]
        if name in metadata["glyphsWithAnchors"]:
            anchors[name] = metadata["glyphsWithAnchors"][name]
    defaults = {
        key: value for key, value in metadata["engravingDefaults"].items()
        if isinstance(value, int | float)
    }  # fmt: skip
    return {
        "codes": dict(CODES), "advances": advances, "boxes": boxes, "anchors": anchors,
        "defaults": defaults, "text": {face: _advances(file) for face, file in FACES.items()},
    }  # fmt: skip


def _advances(file: str) -> dict[str, float]:
    """Character -> advance in em, for Latin text and the usual marks."""
    from fontTools.ttLib import TTFont  # noqa: PLC0415 (only when the fonts changed)

    with TTFont(str(_FOLDER / file)) as font:
        per_em = font["head"].unitsPerEm
        advances = font["hmtx"]
        wanted = [*range(0x20, 0x250), *range(0x2010, 0x2040), 0x2190, 0x2192, 0x2248, 0x266D,
                  0x266E, 0x266F, 0x2212, 0xD7]  # fmt: skip
        table = font.getBestCmap()
        return {chr(c): advances[table[c]][0] / per_em for c in wanted if c in table}


def main() -> None:
    """Write the kept measures anew."""
    text = json.dumps(read_fonts(), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    with open(str(_FOLDER / KEPT), "w", encoding="utf-8") as out:
        out.write(text.replace("},", "},\n") + "\n")


if __name__ == "__main__":
    main()
