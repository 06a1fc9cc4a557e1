"""Invariant 14: scaling is linear. Paper and staff together scale the page in millimetres and
change nothing in spaces; a piece twice as long takes twice the work and twice the primitives."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from types import FrameType

import pytest
from hypothesis import given, settings
from msgspec import structs

from core.model import Lesson
from core.page.engrave import engrave
from core.page.style import PageStyle
from tests import build
from tests.core.page.kit import metrics
from tests.core.page.styles import STYLES
from tests.core.page.test_invariants import GENERATED
from tests.strategies import lessons

BARS = [
    "C4s2f1!1:quarter E4s1f0:quarter G4s1f3!3:half | A2s5f0:whole",
    "A3s3f2:eighth B3s2f0:eighth C4s2f1:quarter D4s2f3:half | E2s6f0:half A2s5f0:half",
    "G#3s3f1:16th B3s2f0:16th E4s1f0:eighth r:quarter E4s1f0:half | E2s6f0:whole",
    "E4s1f0:whole",
]


@settings(GENERATED, max_examples=8)
@given(lessons())
def test_layout_is_in_spaces_whatever_the_size(lesson: Lesson) -> None:
    for name in ("a4", "large", "tab", "line", "left-handed"):
        small = STYLES[name]
        lengths = [field for field in PageStyle.__struct_fields__ if field.endswith("_mm")]
        double = {field: 2 * getattr(small, field) for field in lengths}
        large = structs.replace(small, **double)
        one, two = (engrave(lesson, style, metrics()) for style in (small, large))
        assert one.sheets == two.sheets
        assert two.space_mm == 2 * one.space_mm


def piece(measures: int) -> Lesson:
    """So many measures, all of them other objects with other ids."""
    return build.lesson(BARS * (measures // len(BARS)))


def calls(work: Callable[[], object]) -> int:
    """How many Python functions a piece of work calls: a measure of it without a clock."""
    count = 0

    def called(_frame: FrameType, event: str, _arg: object) -> None:
        nonlocal count
        count += event == "call"

    before = sys.getprofile()
    sys.setprofile(called)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def drawn(lesson: Lesson, style: PageStyle) -> int:
    """How many primitives stand on all its sheets."""
    sheets = engrave(lesson, style, metrics()).sheets
    return sum(len(block.items) for sheet in sheets for block in sheet.blocks)


@pytest.mark.parametrize("flow", ["pages", "line"])
def test_twice_the_music_is_twice_the_work(flow: str) -> None:
    style = PageStyle(flow=flow)
    engrave(piece(8), style, metrics())  # what is learned once, once
    rows = []
    for count in (40, 80, 160):
        lesson = piece(count)
        rows.append((calls(partial(drawn, lesson, style)), drawn(lesson, style)))
    for one, two, four in zip(*rows, strict=True):
        assert four - two == pytest.approx(2 * (two - one), rel=0.05)
