"""What engraving needs to know of the fonts: glyph boxes, anchors, defaults, text advances."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from core.display.items import Face

UNKNOWN_ADVANCE = 0.55  # em, for a character the font does not have


class Metrics(Struct, frozen=True):
    """Font measures. Glyph lengths are in staff spaces (0.25 em of the music font), y UP.

    `boxes` are left, bottom, right, top. `text` maps a face to character -> advance in em.
    """

    codes: dict[str, int]
    advances: dict[str, float]
    boxes: dict[str, tuple[float, float, float, float]]
    anchors: dict[str, dict[str, tuple[float, float]]]
    defaults: dict[str, float]
    text: dict[str, dict[str, float]]
    by_code: dict[int, tuple[float, float, float, float]]

    def text_width(self, text: str, face: Face) -> float:
        """The advance of a text in em of its face (kerning is not counted)."""
        table = self.text[face.value]
        return sum(table.get(character, UNKNOWN_ADVANCE) for character in text)

    def width(self, name: str) -> float:
        """The drawn width of a glyph."""
        box = self.boxes[name]
        return box[2] - box[0]


def build(data: dict[str, Any]) -> Metrics:
    """Metrics from plain data as `resources.metrics.load` gives it."""
    boxes = {name: tuple(box) for name, box in data["boxes"].items()}
    return Metrics(
        codes=dict(data["codes"]),
        advances=dict(data["advances"]),
        boxes=boxes,
        anchors={
            name: {key: (point[0], point[1]) for key, point in anchors.items()}
            for name, anchors in data["anchors"].items()
        },
        defaults=dict(data["defaults"]),
        text={face: dict(table) for face, table in data["text"].items()},
        by_code={data["codes"][name]: box for name, box in boxes.items()},
    )
