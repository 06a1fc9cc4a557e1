"""Chord shapes as small frames: strings upright, the thinnest at the right (left-handed: left)."""

from __future__ import annotations

from collections.abc import Callable

from core.display.items import Face, Item, Line, Role
from core.model import ChordShape
from core.page import pen
from core.page.metrics import Metrics
from core.page.rows import roman

STRING_GAP = 0.84
FRET_GAP = 0.92
FRETS = 4
NAME = 1.7  # em of the chord name
SMALL = 1.15
NAME_ROOM = NAME + 0.85  # the name, then the signs of open and silent strings
FINGERS_ROOM = 1.1


def size(shape: ChordShape) -> tuple[float, float]:
    """Width and height of a frame with its name and fingers."""
    fingers = FINGERS_ROOM if any(shape.fingers) else 0.15
    beside = 0.7 * SMALL * len(roman(shape.first_fret)) if shape.first_fret > 1 else 0.0
    return (
        (len(shape.frets) - 1) * STRING_GAP + 2.2 + max(0.0, beside - 0.6),
        NAME_ROOM + _rows(shape) * FRET_GAP + fingers,
    )


def _rows(shape: ChordShape) -> int:
    highest = max((f for f in shape.frets if f), default=1)
    return max(FRETS, highest - shape.first_fret + 1)


def draw(
    m: Metrics,
    shape: ChordShape,
    left: float,
    top: float,
    *,
    left_handed: bool = False,
    source: int = 0,
) -> list[Item]:
    """The frame with its upper left corner (of the whole, name included) at left, top."""
    count = len(shape.frets)
    width = (count - 1) * STRING_GAP
    x0, y0 = left + 1.1, top + NAME_ROOM
    rows = _rows(shape)
    items: list[Item] = []
    if shape.name:
        items.append(pen.text(m, shape.name, Face.SERIF_BOLD, NAME, x0 + width / 2,
                              top + NAME * 0.7, source=source, anchor=0.5))  # fmt: skip
    bottom = y0 + rows * FRET_GAP
    for index in range(count):
        x = x0 + index * STRING_GAP
        items.append(Line(x, y0, x, bottom, 0.1, Role.WORDS))
    for row in range(rows + 1):
        y = y0 + row * FRET_GAP
        wide = 0.42 if row == 0 and shape.first_fret == 1 else 0.1
        lift = wide / 2 if row == 0 else 0.0
        items.append(Line(x0 - 0.05, y - lift, x0 + width + 0.05, y - lift, wide, Role.WORDS))
    if shape.first_fret > 1:
        beside = x0 + width + 0.45
        items.append(pen.text(m, roman(shape.first_fret), Face.SERIF, SMALL, beside,
                              y0 + FRET_GAP * 0.75))  # fmt: skip

    def string_x(string: int) -> float:
        place = string - 1 if left_handed else count - string
        return x0 + place * STRING_GAP

    items += _barre(shape, string_x, y0)
    for index, fret in enumerate(shape.frets):
        items += _string(m, shape, index, fret, string_x(index + 1), y0, bottom)
    return items


def _barre(shape: ChordShape, string_x: Callable[[int], float], y0: float) -> list[Item]:
    if shape.barre is None:
        return []
    y = y0 + (shape.barre.fret - shape.first_fret + 0.5) * FRET_GAP
    ends = sorted((string_x(shape.barre.from_string), string_x(shape.barre.to_string)))
    return [pen.box(ends[0] - 0.1, y - 0.2, ends[1] + 0.1, y + 0.2, Role.WORDS)]


def _string(
    m: Metrics, shape: ChordShape, index: int, fret: int | None, x: float, y0: float, bottom: float
) -> list[Item]:
    items: list[Item] = []
    if not fret:
        name = "fretboardX" if fret is None else "fretboardO"
        box = m.boxes[name]
        scale = 0.56 / (box[2] - box[0])
        middle = (box[0] + box[2]) / 2 * scale
        centre = (box[1] + box[3]) / 2 * scale
        items.append(pen.glyph(m, name, x - middle, y0 - 0.62 + centre, Role.WORDS, 0, scale))
    else:
        box = m.boxes["fretboardFilledCircle"]
        scale = 0.68 / (box[2] - box[0])
        y = y0 + (fret - shape.first_fret + 0.5) * FRET_GAP
        middle = (box[0] + box[2]) / 2 * scale
        centre = (box[1] + box[3]) / 2 * scale
        items.append(
            pen.glyph(m, "fretboardFilledCircle", x - middle, y + centre, Role.WORDS, 0, scale)
        )
    finger = shape.fingers[index] if index < len(shape.fingers) else None
    if finger is not None and fret:
        items.append(pen.text(m, finger.value, Face.SERIF_BOLD, SMALL, x, bottom + 0.98,
                              Role.WORDS, anchor=0.5))  # fmt: skip
    return items
