"""Sheets made by hand, with every kind of item, role and face."""

from __future__ import annotations

from core.display.faces import Typefaces, text_width
from core.display.items import Block, Curve, Face, Fill, Glyph, Item, Line, Role, Sheet, Text

HEADS = (0xE0A2, 0xE0A3, 0xE0A4, 0xE0A9)
SIGNS = (0xE052, 0xE06D, 0xE262, 0xE260, 0xE4E5, 0xE240, 0xE4C0, 0xED12, 0xED17, 0xE835)


def text(
    words: str,
    x: float,
    y: float,
    face: Face,
    size: float,
    typefaces: Typefaces,
    anchor: float = 0.0,
    role: Role = Role.WORDS,
    source: int = 0,
) -> Text:
    width = size * text_width(words, face, typefaces)
    return Text(x, y, words, face, size, width, anchor, role, source)


def staff(x: float, y: float, width: float, lines: int = 5, gap: float = 1.0) -> list[Item]:
    return [
        Line(x, y + i * gap, x + width, y + i * gap, 0.13, Role.STAFF) for i in range(lines)
    ]


def system(typefaces: Typefaces, width: float = 60.0) -> tuple[Item, ...]:
    """A staff over a tab with a little of everything; top line of the staff at y = 0."""
    items = staff(0, 0, width) + staff(0, 9, width, 6, 1.5)
    items += [Line(x, 0, x, 16.5, 0.16, Role.STAFF) for x in (0.08, width - 0.08)]
    items += [Glyph(0.5, 3, 0xE050), Glyph(0.8, 12.75, 0xE06D)]
    for i in range(12):
        x, y = 6 + 4 * i, 4 - i % 8 * 0.5
        items.append(Glyph(x, y, HEADS[i % 3], source=i + 1))
        items.append(Line(x + 1.12, y - 0.17, x + 1.12, -2.5 - i % 2 * 0.25, 0.12))
        items.append(Glyph(x - 1.1, y, SIGNS[2 + i % 2], size=0.8))
        fret_y = 9 + i % 6 * 1.5
        items.append(
            Fill(
                tuple((x + dx, fret_y + dy) for dx, dy in ((0, -1), (1.2, -1), (1.2, 1), (0, 1))),
                Role.BLANK,
            )
        )
        items.append(
            text(str(i), x + 0.6, fret_y + 0.6, Face.SANS_BOLD, 1.8, typefaces, 0.5, Role.FIGURE)
        )
        role, face = [(Role.PINNED, Face.SERIF_BOLD), (Role.SUGGESTED, Face.SERIF_ITALIC)][i % 2]
        items.append(text(str(i % 5), x - 1.8, y - 1, face, 1.6, typefaces, 1.0, role, i + 1))
    for i in range(0, 12, 2):
        x = 7.06 + 4 * i
        items.append(Fill(((x, -2.5), (x + 4.12, -2.75), (x + 4.12, -2.25), (x, -2.0))))
    items.append(Curve((6.5, 5), (22.5, 4), ((10, 7), (18, 7)), ((10, 6.7), (18, 6.7))))
    items.append(Line(30, 6.5, 46, 6.5, 0.16, Role.PENCIL, dash=(0.6, 0.4)))
    items.append(Glyph(50, 2, 0xE0A3, Role.HOLLOW))
    items.append(Glyph(54, 2, 0xE0A9, Role.WARNING))
    return tuple(items)


def head(typefaces: Typefaces, width: float = 60.0) -> tuple[Item, ...]:
    """Titles in every face, with borrowed accidentals and letters beyond ASCII."""
    t = typefaces
    return (
        text("Wherry Lane in B♭ and F♯", width / 2, 3, Face.SERIF_BOLD, 4, t, 0.5),
        text("für Übung & Ohr, “half – time”", 0, 6, Face.SERIF, 2, t),
        text("let the low string ring", width, 6, Face.SERIF_ITALIC, 2, t, 1.0, Role.PENCIL),
        text("Efficient waffle 0123456789", 0, 9, Face.SANS, 2, t),
        text("\ue080\ue081\ue082", width, 9, Face.MUSIC, 4, t, 1.0, Role.INK),
    )


def page(typefaces: Typefaces, systems: int = 3) -> Sheet:
    """An A4 page at 1.75 mm to the space: 120 by 169.714 spaces, blocks 1.5 times as far apart."""
    body = system(typefaces, 100.0)
    blocks = [Block(10, 8, head(typefaces, 100.0))]
    blocks += [Block(10, 26 + 30 * i, body, key=i + 1) for i in range(systems)]
    return Sheet(120.0, 297 / 1.75, tuple(blocks))
