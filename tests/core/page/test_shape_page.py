"""The sheet of chord shapes after the music."""

from __future__ import annotations

from itertools import combinations

import pytest
from msgspec import structs

from core.display.items import Glyph, Item, Text
from core.model import ChordMark, ChordShape, Instrument, Lesson
from core.page.engrave import Cache, engrave
from core.page.layout import rect_of
from core.page.pen import overlap
from core.page.shape_page import entries, where_words
from core.page.style import A4, LARGE_PRINT, PageStyle
from tests import build
from tests.core.page.cases import AM, with_measures
from tests.core.page.kit import NAMES, metrics
from tests.strategies import SHAPES


def shaped(*rows: tuple[ChordShape, ...]) -> Lesson:
    """A lesson whose n-th measure shows the n-th row of shapes."""
    lesson = build.lesson(["E4s1f0:half F4s1f1:half"] * len(rows))
    numbered = iter(rows)
    return with_measures(
        lesson,
        lambda m: structs.replace(m, marks=tuple(ChordMark(shape) for shape in next(numbered))),
    )


def sheet_items(lesson: Lesson, style: PageStyle) -> list[list[Item]]:
    """The items of every page after the music, from the page's corner."""
    layout = engrave(lesson, structs.replace(style, shape_sheet=True), metrics())
    plain = engrave(lesson, style, metrics())
    extra = layout.sheets[len(plain.sheets) :]
    return [list(sheet.blocks[0].items) for sheet in extra]


def words(items: list[Item]) -> list[str]:
    return [item.text for item in items if isinstance(item, Text)]


@pytest.mark.parametrize(
    ("numbers", "told"),
    [([4], "measure 4"), ([1, 3, 4, 5], "measures 1, 3–5"), ([0, 2], "the pickup, measure 2"),
     ([0], "the pickup"), ([7, 7, 2], "measures 2, 7")],
)  # fmt: skip
def test_where_a_shape_is_shown(numbers: list[int], told: str) -> None:
    assert where_words(numbers) == told


def test_every_shape_shown_stands_once_with_its_measures() -> None:
    lesson = shaped((AM,), SHAPES[1:], (AM,), ())
    assert [(e.shape.name, e.where) for e in entries(lesson)] == [
        ("Am", "measures 1, 3"), ("F", "measure 2"), ("C (VIII)", "measure 2"),
    ]  # fmt: skip
    (page,) = sheet_items(lesson, A4)
    for wanted in ("Chord shapes", "Am", "F", "C (VIII)", "measures 1, 3", "VIII", "1", "2", "3"):
        assert wanted in words(page)


def test_none_without_shapes_or_wish() -> None:
    assert sheet_items(shaped((), ()), A4) == []
    count = len(engrave(shaped((AM,)), A4, metrics()).sheets)
    assert count == 1


def test_left_handed_shapes_are_mirrored() -> None:
    """Am: the lowest string is silent; its sign stands left for right-handed players."""

    def silent_x(lesson: Lesson) -> tuple[float, float]:
        (page,) = sheet_items(lesson, A4)
        name = next(i for i in page if isinstance(i, Text) and i.text == "Am")
        sign = next(i for i in page if isinstance(i, Glyph) and NAMES[i.code] == "fretboardX")
        return sign.x, name.x

    lesson = shaped((AM,))
    hand = Instrument(hand="left")
    mirrored = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, instrument=hand)
    )
    x, middle = silent_x(lesson)
    assert x < middle
    x, middle = silent_x(mirrored)
    assert x > middle


@pytest.mark.parametrize("style", [A4, LARGE_PRINT, PageStyle(staff_mm=4)])
def test_many_shapes_fill_pages_without_touching(style: PageStyle) -> None:
    many = tuple(structs.replace(AM, name=f"Am({n})") for n in range(60))
    pages = sheet_items(shaped(*((shape,) for shape in many)), style)
    assert len(pages) > (style is not A4 and style.staff_mm > 4)
    assert [w for page in pages for w in words(page) if "Am(" in w] == [s.name for s in many]
    width = (style.width_mm - style.left_mm - style.right_mm) / style.space_mm
    height = (style.height_mm - style.top_mm - style.bottom_mm) / style.space_mm
    for page in pages:
        rects = [rect_of(i, metrics()) for i in page if isinstance(i, Text)]
        assert all(a >= 0 and c <= width and d <= height for a, _, c, d in rects)
        assert not any(overlap(a, b, -0.02) for a, b in combinations(rects, 2))


def test_the_sheet_follows_edits_and_cannot_be_hit() -> None:
    style = structs.replace(A4, shape_sheet=True)
    cache = Cache()
    before = engrave(shaped((AM,), ()), style, metrics(), cache)
    lesson = shaped((AM,), (SHAPES[1],))
    after = engrave(lesson, style, metrics(), cache, before)
    assert after.sheets == engrave(lesson, style, metrics()).sheets
    assert "F" in words(list(after.sheets[-1].blocks[0].items))
    assert after.hit(len(after.sheets) - 1, 30, 20) is None
