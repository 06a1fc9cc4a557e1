"""Font measures as plain data, read once from the shipped fonts and kept beside them as JSON.

``python -m resources.metrics`` writes ``fonts/metrics.json`` anew after a font or
`core.page.glyphs` changed; a test says when that was forgotten.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from core.display.faces import Typefaces, read_all, text_width
from core.display.items import Face
from core.page.glyphs import CODES
from resources import faces

MUSIC = faces.FILES["music"]
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
    typefaces = read_all(faces.data())
    text = {face.value: _advances(face, typefaces) for face in Face if face is not Face.MUSIC}
    return {
        "codes": dict(CODES), "advances": advances, "boxes": boxes, "anchors": anchors,
        "defaults": defaults, "text": text,
    }  # fmt: skip


def _advances(face: Face, typefaces: Typefaces) -> dict[str, float]:
    """Character -> advance in em, for Latin text, the usual marks and borrowed accidentals."""
    wanted = [*range(0x20, 0x250), *range(0x2010, 0x2040), 0x2190, 0x2192, 0x2248, 0x2212, 0xD7]
    own = [chr(code) for code in wanted if typefaces[face].glyph(code)]
    return {char: round(text_width(char, face, typefaces), 6) for char in (*own, *"♭♮♯𝄪𝄫")}


def main() -> None:
    """Write the kept measures anew."""
    text = json.dumps(read_fonts(), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    with open(str(_FOLDER / KEPT), "w", encoding="utf-8") as out:
        out.write(text.replace("},", "},\n") + "\n")


if __name__ == "__main__":
    main()
