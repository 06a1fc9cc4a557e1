"""Sheets made by hand, with every kind of item, role and face."""

from __future__ import annotations

import json
from functools import cache

from core.display.faces import Typefaces, read_all, text_width
from core.display.items import Block, Curve, Face, Fill, Glyph, Item, Line, Role, Sheet, Text
from resources import faces, path

HEADS = (0xE0A2, 0xE0A3, 0xE0A4)
MM_PER_SPACE = 1.75


def words(x: float, y: float, text: str, face: Face, size: float, **more) -> Text:
    """A text with the width that the shipped fonts set it in."""
    return Text(x, y, text, face, size, size * text_width(text, face, typefaces()), **more)


def staff(x: float, y: float, width: float, lines: int = 5, gap: float = 1.0) -> list[Item]:
    rows = [y + i * gap for i in range(lines)]
    return [Line(x, row, x + width, row, 0.13, Role.STAFF) for row in rows]


def rectangle(left: float, top: float, right: float, bottom: float, role: Role) -> Fill:
    return Fill(((left, top), (right, top), (right, bottom), (left, bottom)), role)


def column(i: int) -> list[Item]:
    """A note with stem, accidental, finger figure and tab figure."""
    x, y, fret_y = 6 + 4 * i, 4 - i % 8 * 0.5, 9 + i % 6 * 1.5
    role, face = [(Role.PINNED, Face.SERIF_BOLD), (Role.SUGGESTED, Face.SERIF_ITALIC)][i % 2]
    return [
        Glyph(x, y, HEADS[i % 3], source=i + 1),
        Line(x + 1.12, y - 0.17, x + 1.12, -2.5 - i % 2 * 0.25, 0.12),
        Glyph(x - 1.1, y, (0xE262, 0xE260)[i % 2], size=0.8),
        rectangle(x, fret_y - 1, x + 1.2, fret_y + 1, Role.BLANK),
        words(x + 0.6, fret_y + 0.6, str(i), Face.SANS_BOLD, 1.8, anchor=0.5, role=Role.FIGURE),
        words(x - 1.3, y - 1, str(i % 5), face, 1.6, anchor=1.0, role=role, source=i + 1),
    ]


def system(width: float = 60.0) -> tuple[Item, ...]:
    """A staff over a tab with a little of everything; top line of the staff at y = 0."""
    items = staff(0, 0, width) + staff(0, 9, width, 6, 1.5)
    items += [Line(x, 0, x, 16.5, 0.16, Role.STAFF) for x in (0.08, width - 0.08)]
    items += [Glyph(0.5, 3, 0xE052), Glyph(0.8, 12.75, 0xE06D)]
    for i in range(12):
        items += column(i)
    for i in range(0, 12, 2):
        x = 7.06 + 4 * i
        items.append(Fill(((x, -2.5), (x + 4.12, -2.75), (x + 4.12, -2.25), (x, -2.0))))
    items.append(Curve((6.5, 5), (22.5, 4), ((10, 7), (18, 7)), ((10, 6.7), (18, 6.7))))
    items.append(Line(30, 6.5, 46, 6.5, 0.16, Role.PENCIL, dash=(0.6, 0.4)))
    items.append(Glyph(54, 2, 0xE0A3, Role.HOLLOW))
    items.append(Glyph(57, 2, 0xE0A9, Role.WARNING))
    return tuple(items)


def head(width: float = 60.0) -> tuple[Item, ...]:
    """Titles in every face, with borrowed accidentals and letters beyond ASCII."""
    return (
        words(width / 2, 3, "Wherry Lane in B♭ and F♯", Face.SERIF_BOLD, 4, anchor=0.5),
        words(0, 6, "für Übung & Ohr, “half – time”", Face.SERIF, 2),
        words(width, 6, "let it ring", Face.SERIF_ITALIC, 2, anchor=1.0, role=Role.PENCIL),
        words(0, 9, "Efficient waffle 0123456789", Face.SANS, 2),
        words(width, 9, "\ue080\ue081\ue082", Face.MUSIC, 4, anchor=1.0, role=Role.INK),
    )


def page(systems: int = 3) -> Sheet:
    """An A4 page at `MM_PER_SPACE`, every system the same items at another place."""
    body = system(100.0)
    blocks = [Block(10, 8, head(100.0))]
    blocks += [Block(10, 26 + 27.25 * i, body, key=i + 1) for i in range(systems)]
    return Sheet(210 / MM_PER_SPACE, 297 / MM_PER_SPACE, tuple(blocks))


@cache
def typefaces() -> Typefaces:
    """The shipped fonts, read once."""
    return read_all(faces.data())


@cache
def smufl() -> dict[str, dict]:
    """The music font's own metadata, by the names of SMuFL."""
    return json.loads(path("fonts", "Bravura-metadata.json").read_text("utf-8"))


# Code points and names as SMuFL 1.4 pairs them.
NAMES = {
    0xE0A2: "noteheadWhole",
    0xE0A3: "noteheadHalf",
    0xE0A4: "noteheadBlack",
    0xE0A9: "noteheadXBlack",
    0xE052: "gClef8vb",
    0xE06D: "6stringTabClef",
    0xE262: "accidentalSharp",
    0xE260: "accidentalFlat",
    0xE4E5: "restQuarter",
    0xE240: "flag8thUp",
    0xE4C0: "fermataAbove",
    0xED12: "fingering2",
    0xED17: "fingeringPLower",
    0xE835: "guitarString2",
}
