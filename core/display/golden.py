"""A display list as text that a person can read and compare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import singledispatch

from core.display.items import Block, Curve, Fill, Glyph, Item, Line, Sheet, Text


def as_text(sheet: Sheet, names: Mapping[int, str] | None = None) -> str:
    """Write a sheet as lines: one for each block, and below it one for each item.

    Items stand from left to right, then from top to bottom, whatever their order in the block,
    because their order does not show. Lengths are in spaces, to a thousandth, relative to the
    block. `names` gives names to the glyphs of the music font, by code point.
    """
    lines = [f"sheet {_number(sheet.width)} x {_number(sheet.height)}"]
    for block in sheet.blocks:
        lines.append(f"block at {_point(block.x, block.y)}")
        lines.extend(f"  {row}" for row in block_lines(block, names))
    return "\n".join(lines) + "\n"


def block_lines(block: Block, names: Mapping[int, str] | None = None) -> list[str]:
    """The lines of one block's items."""
    return [row for *_, row in sorted((*_corner(item), _line(item, names)) for item in block.items)]


def _line(item: Item, names: Mapping[int, str] | None) -> str:
    source = f" #{item.source}" if item.source else ""
    if isinstance(item, Glyph):
        name = (names or {}).get(item.code, f"U+{item.code:04X}")
        size = "" if item.size == 1 else f" size {_number(item.size)}"
        return f"{_point(item.x, item.y)} glyph {name}{size} {item.role.value}{source}"
    return f"{_describe(item)} {item.role.value}{source}"


@singledispatch
def _describe(item: object) -> str:
    raise TypeError(f"no display item: {item!r}")


@_describe.register
def _(item: Line) -> str:
    dash = f" dash {_numbers(item.dash)}" if item.dash else ""
    start, end = _point(item.x0, item.y0), _point(item.x1, item.y1)
    return f"{start} line to {end} width {_number(item.width)}{dash}"


@_describe.register
def _(item: Fill) -> str:
    first, *rest = (_point(x, y) for x, y in item.points)
    return f"{first} fill to {' '.join(rest)}"


@_describe.register
def _(item: Curve) -> str:
    outer, inner = (" ".join(_point(x, y) for x, y in side) for side in (item.outer, item.inner))
    return f"{_point(*item.start)} curve to {_point(*item.end)} outer {outer} inner {inner}"


@_describe.register
def _(item: Text) -> str:
    anchor = "" if item.anchor == 0 else f" anchor {_number(item.anchor)}"
    size = f"size {_number(item.size)} width {_number(item.width)}"
    words = "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in item.text)
    return f'{_point(item.x, item.y)} text "{words}" {item.face.value} {size}{anchor}'


def _corner(item: Item) -> tuple[float, float]:
    if isinstance(item, Glyph | Text):
        return item.x, item.y
    if isinstance(item, Line):
        return item.x0, item.y0
    return item.points[0] if isinstance(item, Fill) else item.start


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _numbers(values: Iterable[float]) -> str:
    return ",".join(_number(value) for value in values)


def _point(x: float, y: float) -> str:
    return f"{_number(x)},{_number(y)}"
