"""Bar lines: which one closes or opens a measure, how wide it is, how it is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from core.display.items import Item, Line, Role
from core.page import pen
from core.page.metrics import Metrics
from core.page.staff import STAFF_HEIGHT, TAB_GAP
from core.page.style import PageStyle

SEPARATION = 0.4  # thin to thick; absent from the font's file
DOT_GAP = 0.3


class Bar(StrEnum):
    """The strokes of a bar line, left to right. `BACK` ends a repeat, `FORTH` begins one.

    `THEN` is the thin stroke and dots that follow a `BACK` bar when a repeat begins at once.
    """

    NONE = "none"
    SINGLE = "single"
    DOUBLE = "double"
    DASHED = "dashed"
    FINAL = "final"
    BACK = "back"
    FORTH = "forth"
    THEN = "then"


_PARTS = {
    Bar.NONE: "",
    Bar.SINGLE: "|",
    Bar.DASHED: "!",
    Bar.DOUBLE: "||",
    Bar.FINAL: "|#",
    Bar.BACK: ":|#",
    Bar.FORTH: "#|:",
    Bar.THEN: "|:",
}


def _widths(m: Metrics) -> dict[str, float]:
    thin = m.defaults["thinBarlineThickness"]
    return {
        "|": thin,
        "!": thin,
        "#": m.defaults["thickBarlineThickness"],
        ":": m.advances["repeatDot"],
    }


def _gap(a: str, b: str) -> float:
    return DOT_GAP if ":" in a + b else SEPARATION


def width(bar: Bar, m: Metrics) -> float:
    """The width of a bar line in spaces."""
    parts = _PARTS[bar]
    widths = _widths(m)
    room = SEPARATION if bar is Bar.THEN else 0.0
    return room + sum(widths[p] for p in parts) + sum(map(_gap, parts, parts[1:]))


def draw(
    bar: Bar,
    x: float,
    rows: Sequence[tuple[float, float, bool]],
    m: Metrics,
    style: PageStyle,
    source: int = 0,
) -> list[Item]:
    """The bar line with its left edge at x. `rows` are (top, bottom, dots wanted) of each staff;
    strokes run from the first top to the last bottom."""
    items: list[Item] = []
    widths = _widths(m)
    top, bottom = rows[0][0], rows[-1][1]
    half = m.defaults["staffLineThickness"] / 2
    if bar is Bar.THEN:
        x += SEPARATION
    for index, part in enumerate(_PARTS[bar]):
        if index:
            x += _gap(_PARTS[bar][index - 1], part)
        wide = widths[part]
        if part == ":":
            items += _dots(x, rows, m)
        elif part == "#":
            items.append(pen.box(x, top - half, x + wide, bottom + half, Role.STAFF, source))
        else:
            thin = wide * style.line_weight
            dash = (0.5, 0.25) if part == "!" else ()
            middle = x + wide / 2
            items.append(
                Line(middle, top - half, middle, bottom + half, thin, Role.STAFF, source, dash)
            )
        x += wide
    return items


def _dots(x: float, rows: Sequence[tuple[float, float, bool]], m: Metrics) -> list[Item]:
    items: list[Item] = []
    for top, bottom, wanted in rows:
        if wanted:
            middle, reach = (top + bottom) / 2, _dot_reach(bottom - top)
            items += [
                pen.glyph(m, "repeatDot", x, middle + sign * reach, Role.STAFF) for sign in (-1, 1)
            ]
    return items


def _dot_reach(height: float) -> float:
    """Half the distance of the two dots: they stand in spaces, on a staff or a tab."""
    if height == STAFF_HEIGHT:
        return 0.5
    gaps = round(height / TAB_GAP)
    return TAB_GAP if gaps % 2 else TAB_GAP / 2
