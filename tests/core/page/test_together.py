"""Parts one under another: moments and barlines in line, each still a sound layout."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.page.engrave import engrave
from core.page.style import PageStyle
from core.page.together import together
from tests import build
from tests.core.page.kit import metrics
from tests.strategies import lessons

LINE = PageStyle(staves="staff", flow="line", title=False, footer=False, talk=False)
PARTS = (
    ("C5:quarter D5:eighth E5:eighth F5:half", "G5:whole"),
    ("A4:half G4:half", "F#4:16th G4:16th A4:16th B4:16th C5:quarter Bb4:half"),
    ("C3:whole", "r:quarter E3:quarter D3:half"),
)


def moments(layout):
    return [
        (placed.left, placed.right, dict(placed.columns))
        for system in layout.systems
        for placed in system.body.measures
    ]


def check(layouts) -> None:
    rows = [moments(layout) for layout in layouts]
    for here in zip(*rows, strict=False):
        heads: dict[int, float] = {}
        for left, right, columns in here:
            assert (left, right) == pytest.approx(here[0][:2], abs=1e-9)
            for onset, x in columns.items():
                assert x == pytest.approx(heads.setdefault(onset, x), abs=1e-9)
        xs = [heads[onset] for onset in sorted(heads)]
        assert xs == sorted(xs)


def test_barlines_and_moments_stand_in_line():
    check(together([build.lesson(part) for part in PARTS], LINE, metrics()))


def test_a_part_alone_is_set_as_ever():
    (alone,) = together([build.lesson(PARTS[0])], LINE, metrics())
    usual = moments(engrave(build.lesson(PARTS[0]), LINE, metrics()))
    for (left, right, row), (a, b, usual_row) in zip(moments(alone), usual, strict=True):
        assert (left, right) == pytest.approx((a, b))
        assert row == pytest.approx(usual_row)


def test_no_part_is_set_tighter_than_alone():
    alone = [moments(engrave(build.lesson(part), LINE, metrics())) for part in PARTS]
    for row, before in zip(
        map(moments, together([build.lesson(p) for p in PARTS], LINE, metrics())), alone,
        strict=True,
    ):  # fmt: skip
        for (left, right, _), (old_left, old_right, _) in zip(row, before, strict=True):
            assert right - left >= old_right - old_left - 1e-9


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(lessons(), min_size=2, max_size=3))
def test_any_music_is_laid_out(found):
    layouts = together(found, LINE, metrics())
    assert [len(moments(layout)) for layout in layouts] == [
        sum(len(s.measures) for s in lesson.arrangement.sections) for lesson in found
    ]
