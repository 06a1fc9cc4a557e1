"""Invariant 1: no two signs run into each other, but for listed pairs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from core.display.items import Face, Glyph, Item, Text
from core.formats import lesson_json
from core.model import Lesson
from core.page.accidentals import shape
from core.page.engrave import engrave
from core.page.layout import Layout, rect_of
from core.page.pen import Rect, overlap
from core.page.style import PageStyle
from tests.core.page.cases import CASES
from tests.core.page.kit import NAMES, metrics
from tests.strategies import lessons

DEMO = Path(__file__).parents[3] / "resources" / "demo" / "rowing-home.footstool"


def rect_of_ink(item: Glyph | Text) -> Rect:
    """The ink: figures and numerals have no descenders, so their boxes end at the baseline."""
    left, top, right, bottom = rect_of(item, metrics())
    if isinstance(item, Text) and not set(item.text) & set("gjpqy,;()"):
        bottom = item.y
    return (left, top, right, bottom)


def ink(item: Glyph | Text) -> list[Rect]:
    """The rectangles of a sign: of an accidental, without the corners its cut-outs leave free."""
    name = kind(item)
    if not name.startswith("accidental"):
        return [rect_of_ink(item)]
    size = item.size
    return [
        (item.x + a * size, item.y + b * size, item.x + c * size, item.y + d * size)
        for a, b, c, d in shape(metrics(), name)
    ]


def touch(a: Glyph | Text, b: Glyph | Text) -> bool:
    """Whether two signs overlap by more than .02 space."""
    if not overlap(rect_of_ink(a), rect_of_ink(b), -0.02):
        return False
    return any(overlap(one, other, -0.02) for one in ink(a) for other in ink(b))


def kind(item: Item) -> str:
    return NAMES[item.code] if isinstance(item, Glyph) else "text"


def allowed(a: Glyph | Text, b: Glyph | Text) -> bool:
    """Unisons and seconds share heads or a stem; a flag hangs beside its own head;
    flags of voices that cross in one column cross too; letters of one dynamic are set close;
    figures of a metre touch."""
    first, second = sorted((kind(a), kind(b)))
    heads = first.startswith("note") and second.startswith("note")
    own_flag = first.startswith("flag") and second.startswith("note")
    return (
        heads
        or own_flag
        or (first.startswith("flag") and second.startswith("flag"))
        or (first.startswith("dynamic") and second.startswith("dynamic"))
        or (first.startswith("timeSig") and second.startswith("timeSig"))
    )


def collisions(layout: Layout) -> Iterator[str]:
    for system in layout.systems:
        signs = [i for i in system.body.items if isinstance(i, Glyph | Text)]
        signs = [i for i in signs if not (isinstance(i, Text) and i.face is Face.MUSIC)]
        for a, b in combinations(signs, 2):
            if touch(a, b) and not allowed(a, b):
                yield f"{kind(a)} and {kind(b)} at {a.x:.1f}, {a.y:.1f} and {b.x:.1f}, {b.y:.1f} "


@pytest.mark.parametrize("name", [*CASES, "demo"])
@pytest.mark.parametrize("staff_mm", [5.5, 7.0, 9.5])
def test_nothing_collides(name: str, staff_mm: float) -> None:
    lesson: Lesson = lesson_json.read(DEMO.read_bytes()) if name == "demo" else CASES[name]()
    layout = engrave(lesson, PageStyle(staff_mm=staff_mm), metrics())
    assert list(collisions(layout)) == []


@settings(
    max_examples=40, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.too_slow], phases=[Phase.explicit, Phase.generate],
)  # fmt: skip
@given(lessons())
def test_nothing_collides_in_any_lesson(lesson: Lesson) -> None:
    """On paper wide enough for one measure: a measure that no line can hold is set cramped."""
    for style in (PageStyle(width_mm=700), PageStyle(flow="line")):
        assert list(collisions(engrave(lesson, style, metrics()))) == []
