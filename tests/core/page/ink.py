"""What signs cover, and which signs may touch (invariant 1)."""

from __future__ import annotations

from collections.abc import Iterator

from core.display.items import Face, Glyph, Item, Text
from core.page.accidentals import shape
from core.page.cover import rect_of
from core.page.draft import SystemBody
from core.page.pen import Rect, overlap
from tests.core.page.kit import NAMES, metrics

FIGURE = 0.66  # em: the tallest figure of the shipped faces, measured with fontTools
TOUCH = 0.02  # spaces two boxes may share: engraving.md, invariant 1


def kind(item: Item) -> str:
    """The name of a glyph; "text" for words."""
    return NAMES[item.code] if isinstance(item, Glyph) else "text"


def ink_of(item: Glyph | Text) -> Rect:
    """The ink: figures and numerals have no descenders, so their boxes end at the baseline."""
    left, top, right, bottom = rect_of(item, metrics())
    if isinstance(item, Text) and not set(item.text) & set("gjpqy,;()"):
        bottom = item.y
    if isinstance(item, Text) and set(item.text) <= set("0123456789–"):
        top = item.y - FIGURE * item.size
    return (left, top, right, bottom)


def bars(item: Glyph | Text) -> list[Rect]:
    """The rectangles of a sign: of an accidental, without the corners its cut-outs leave free."""
    name = kind(item)
    if not name.startswith("accidental"):
        return [ink_of(item)]
    size = item.size
    return [
        (item.x + a * size, item.y + b * size, item.x + c * size, item.y + d * size)
        for a, b, c, d in shape(metrics(), name)
    ]


def touch(a: Glyph | Text, b: Glyph | Text) -> bool:
    """Whether two signs overlap by more than .02 space."""
    if not overlap(ink_of(a), ink_of(b), -TOUCH):
        return False
    return any(overlap(one, other, -TOUCH) for one in bars(a) for other in bars(b))


# The list: pairs of kinds that may share room, each with its reason.
LISTED = (
    ("note", "note", "unisons share a head, seconds overlap by the stem's width"),
    ("flag", "note", "a flag hangs beside its own head"),
    ("flag", "flag", "flags of voices that cross in one column cross too"),
    ("dynamic", "dynamic", "the letters of one dynamic are set close"),
    ("timeSig", "timeSig", "the figures of a metre touch"),
)


def listed(a: Glyph | Text, b: Glyph | Text) -> bool:
    """Whether a pair stands in the list."""
    first, second = sorted((kind(a), kind(b)))
    return any(first.startswith(x) and second.startswith(y) for x, y, _ in LISTED)


def collisions(body: SystemBody) -> Iterator[str]:
    """Pairs of signs of one system that run into each other and are not listed."""
    signs = [i for i in body.items if isinstance(i, Glyph | Text)]
    placed = sorted(
        ((ink_of(i), i) for i in signs if not (isinstance(i, Text) and i.face is Face.MUSIC)),
        key=lambda pair: pair[0],
    )
    for index, (one, a) in enumerate(placed):
        for two, b in placed[index + 1 :]:
            if two[0] >= one[2]:
                break
            if touch(a, b) and not listed(a, b):
                yield f"{_said(a)} and {_said(b)}"


def _said(item: Glyph | Text) -> str:
    what = repr(item.text) if isinstance(item, Text) else kind(item)
    return f"{what} at {item.x:.2f}, {item.y:.2f}"
