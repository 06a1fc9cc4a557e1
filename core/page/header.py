"""What stands at the start of a system: clefs, key and time; and their changes on the way."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from core.display.items import Face, Item
from core.model import Key, Metre
from core.page import pen
from core.page.metrics import Metrics
from core.page.staff import KEY_FLATS, KEY_SHARPS, TAB_GAP, tab_height, y_of
from core.page.style import PageStyle

EDGE = 0.55  # spaces before the clef
AFTER_CLEF = 0.75
AFTER_KEY = 0.7
AFTER_TIME = 0.5
BEFORE_CHANGE = 0.75


class Signature(Struct, frozen=True, gc=False):
    """Signs with their total width; x from their own left edge."""

    items: tuple[Item, ...]
    width: float


def clef_name(octave: bool) -> str:
    """The treble clef, with the octave figure where the lesson asks for it."""
    return "gClef8vb" if octave else "gClef"


def key_signature(m: Metrics, key: Key, cancelled: Key | None = None, source: int = 0) -> Signature:
    """Sharps or flats, after the naturals that cancel an old signature's."""
    items: list[Item] = []
    x = 0.0
    for position in _cancelled(cancelled, key):
        items.append(pen.glyph(m, "accidentalNatural", x, y_of(position), source=source))
        x += m.advances["accidentalNatural"] + 0.1
    if items and key.fifths:
        x += 0.25
    name = "accidentalSharp" if key.fifths > 0 else "accidentalFlat"
    row = KEY_SHARPS if key.fifths > 0 else KEY_FLATS
    for position in row[: abs(key.fifths)]:
        items.append(pen.glyph(m, name, x, y_of(position), source=source))
        x += m.advances[name] + 0.04
    return Signature(tuple(items), x)


def _cancelled(old: Key | None, new: Key) -> tuple[int, ...]:
    """Staff positions of the naturals: what the old signature had and the new one has not."""
    if old is None or old.fifths == 0:
        return ()
    row = KEY_SHARPS if old.fifths > 0 else KEY_FLATS
    same_side = old.fifths * new.fifths > 0
    kept = min(abs(old.fifths), abs(new.fifths)) if same_side else 0
    return row[kept : abs(old.fifths)]


def time_signature(m: Metrics, metre: Metre, source: int = 0) -> Signature:
    """Figures one above the other, or the sign for common or cut time."""
    if metre.symbol:
        name = "timeSigCommon" if metre.symbol == "common" else "timeSigCutCommon"
        return Signature((pen.glyph(m, name, 0.0, 2.0, source=source),), m.advances[name])
    upper = [f"timeSig{c}" if c != "+" else "timeSigPlus" for c in "+".join(map(str, metre.groups))]
    lower = [f"timeSig{c}" for c in str(metre.unit)]
    widths = [sum(m.advances[n] for n in row) for row in (upper, lower)]
    items: list[Item] = []
    for row, wide, y in ((upper, widths[0], 1.0), (lower, widths[1], 3.0)):
        x = (max(widths) - wide) / 2
        for name in row:
            items.append(pen.glyph(m, name, x, y, source=source))
            x += m.advances[name]
    return Signature(tuple(items), max(widths))


def system_header(
    m: Metrics, style: PageStyle, key: Key, metre: Metre | None, octave: bool
) -> Signature:
    """Clef, key signature and (where wanted) time signature on the staff; without the tab clef."""
    x = EDGE
    items: list[Item] = []
    if style.staff:
        name = clef_name(octave)
        items.append(pen.glyph(m, name, x, 3.0))
    x += m.advances["gClef8vb"] + AFTER_CLEF
    if style.staff and key.fifths:
        x = _put(items, key_signature(m, key), x) + AFTER_KEY
    if metre is not None:
        x = _put(items, time_signature(m, metre), x) + AFTER_TIME
    return Signature(tuple(items), x)


def _put(items: list[Item], signature: Signature, x: float) -> float:
    items += [pen.moved(item, x, 0.0) for item in signature.items]
    return x + signature.width


def tab_clef(m: Metrics, strings: int) -> tuple[Item, ...]:
    """The word TAB down the lines of the tab, y from its top line."""
    middle = tab_height(strings) / 2
    if strings == 6:
        size = TAB_GAP * 0.76
        left = EDGE + (m.advances["gClef8vb"] - m.advances["6stringTabClef"] * size) / 2
        return (pen.glyph(m, "6stringTabClef", left, middle, size=size),)
    step = min(2.2, tab_height(strings) / 3)
    centre = EDGE + m.advances["gClef8vb"] / 2
    rows = [middle + (row - 1) * step + step * 0.42 for row in range(3)]
    return tuple(
        pen.text(m, letter, Face.SANS_BOLD, step * 1.25, centre, y, anchor=0.5)
        for letter, y in zip("TAB", rows, strict=True)
    )


def change(
    m: Metrics, key_before: Key | None, key: Key, metre_before: Metre | None, metre: Metre
) -> Signature:
    """The signs of a change of key or time after a bar line; width 0 where nothing changes."""
    return _signs(
        m,
        (lambda: key_signature(m, key, key_before))
        if key_before is not None and key_before.fifths != key.fifths
        else None,
        (lambda: time_signature(m, metre))
        if metre_before is not None and metre_before != metre
        else None,
    )


def courtesy(m: Metrics, key: Key, next_key: Key | None, next_metre: Metre | None) -> Signature:
    """The same signs at a system's end, warning of a change in the next line."""
    return _signs(
        m,
        None if next_key is None else (lambda: key_signature(m, next_key, key)),
        None if next_metre is None else (lambda: time_signature(m, next_metre)),
    )


def _signs(m: Metrics, *makers: Callable[[], Signature] | None) -> Signature:
    items: list[Item] = []
    x = 0.0
    for make in makers:
        if make is not None:
            x = _put(items, make(), x + BEFORE_CHANGE)
    return Signature(tuple(items), x)
