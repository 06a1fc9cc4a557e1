"""Placing marks on the outlines of a system, as close as they may be; small words and wrapping."""

# ruff: noqa: PLR0913 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face, Item, Role
from core.page import pen
from core.page.draft import Draft
from core.page.metrics import Metrics

ROMAN = ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))


def roman(number: int) -> str:
    """A fret as a Roman numeral, as positions are written."""
    text = ""
    for value, letters in ROMAN:
        while number >= value:
            text += letters
            number -= value
    return text


def over(draft: Draft, left: float, right: float, height: float, pad: float = 0.4) -> float:
    """Take room above everything between two places; returns the y of the room's bottom."""
    bottom = draft.above.reach(left, right) - pad
    draft.above.add((left, bottom - height, right, bottom))
    return bottom


def under(draft: Draft, left: float, right: float, height: float, pad: float = 0.4) -> float:
    """Take room below everything between two places; returns the y of the room's top."""
    top = draft.below.reach(left, right) + pad
    draft.below.add((left, top, right, top + height))
    return top


def words_over(
    draft: Draft,
    words: str,
    x: float,
    *,
    face: Face = Face.SERIF_ITALIC,
    size: float = 1.9,
    role: Role = Role.WORDS,
    source: int = 0,
    anchor: float = 0.0,
    pad: float = 0.45,
) -> None:
    """Words above everything they would touch, kept inside the system where they can be."""
    width = draft.m.text_width(words, face) * size
    left = min(x - anchor * width, draft.width - width)
    left = max(left, 0.0)
    bottom = over(draft, left - 0.2, left + width + 0.2, 0.95 * size, pad)
    draft.items.append(
        pen.text(draft.m, words, face, size, left, bottom - 0.22 * size, role, source)
    )


def words_under(
    draft: Draft,
    words: str,
    x: float,
    *,
    face: Face = Face.SERIF_ITALIC,
    size: float = 1.9,
    role: Role = Role.WORDS,
    source: int = 0,
    anchor: float = 0.0,
) -> None:
    """Words below everything they would touch."""
    width = draft.m.text_width(words, face) * size
    left = max(min(x - anchor * width, draft.width - width), 0.0)
    top = under(draft, left - 0.2, left + width + 0.2, 0.95 * size)
    draft.items.append(pen.text(draft.m, words, face, size, left, top + 0.73 * size, role, source))


def put_glyph(
    draft: Draft, name: str, centre: float, *, above: bool, size: float = 1.0,
    role: Role = Role.INK, source: int = 0, pad: float = 0.35,
) -> None:  # fmt: skip
    """A glyph centred above (or below) a place, clear of everything there."""
    left, bottom, right, top = (v * size for v in draft.m.boxes[name])
    x = centre - (left + right) / 2
    room = over if above else under
    edge = room(draft, x + left, x + right, top - bottom, pad)
    y = edge + (bottom if above else top)
    draft.items.append(pen.glyph(draft.m, name, x, y, role, source, size))


def row_of_glyphs(
    m: Metrics, names: Sequence[str], x: float, y: float, *, size: float = 1.0,
    role: Role = Role.INK, source: int = 0, apart: float = 0.0,
) -> tuple[list[Item], float]:  # fmt: skip
    """Glyphs on a baseline, `apart` spaces between; returns them and the x after the last."""
    items: list[Item] = []
    for number, name in enumerate(names):
        x += apart if number else 0.0
        items.append(pen.glyph(m, name, x, y, role, source, size))
        x += m.advances[name] * size
    return items, x


def wrapped(m: Metrics, words: str, face: Face, size: float, width: float) -> list[str]:
    """Words broken into lines no wider than `width` (a longer word stands alone)."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        longer = f"{line} {word}" if line else word
        if line and m.text_width(longer, face) * size > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines
