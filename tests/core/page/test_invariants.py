"""The fourteen invariants of engraving.md, over generated lessons with every sign, in every style.

| number | what it says | where |
|---|---|---|
| 1 | no two signs overlap by more than .02 but for listed pairs | laws.one, list in ink.LISTED |
| 2 | tab figures in their column, on their line, one for onset and string | laws.two |
| 3 | same onset, same x; x grows; gaps respect rods | laws.three |
| 4 | unblocked gaps share one force; equal durations, equal gaps | laws.four |
| 5 | last bar line at the system's width within 1e-6 | laws.five |
| 6 | stems 2.5 or more, at their anchor, ending on their beam | laws.six |
| 7 | leger lines follow from the pitch | laws.seven |
| 8 | head, key, accidentals; figure, string, tuning, capo: the lesson's pitch | laws.eight |
| 9 | ties join equal pitches; slurs clear inner heads by .25 | laws.nine |
| 10 | everything inside the page, systems apart | laws.ten |
| 11 | every model object has a primitive and every id is found again | laws.eleven, test_signs |
| 12 | incremental = cold; unchanged systems identical; deterministic | test_incremental |
| 13 | break cost = brute force up to 12 measures | test_breaking |
| 14 | scaling is linear: in millimetres, and in work with length | test_scaling |

`laws` read the display list; `test_laws_can_fail` spoils a list for each and sees it complain.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from core.formats import lesson_json
from core.model import Lesson
from resources import path
from tests.core.page.cases import CASES
from tests.core.page.laws import LAWS, POINTED, broken
from tests.core.page.styles import STYLES, draw
from tests.strategies import lessons

GENERATED = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],  # shrinking whole lessons takes minutes
)


def demo() -> Lesson:
    return lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())


@settings(GENERATED, max_examples=8)
@given(lessons())
def test_every_law_holds_for_any_lesson_in_every_style(lesson: Lesson) -> None:
    found = {name: broken(draw(lesson, name), pointed=name in POINTED) for name in STYLES}
    assert not any(found.values()), found


@pytest.mark.long
@pytest.mark.parametrize("name", STYLES)
def test_every_law_holds_for_many_lessons(name: str) -> None:
    """And on paper wide enough that no measure is cramped, so that nothing is passed over."""

    @settings(GENERATED, max_examples=60)
    @given(lessons())
    def check(lesson: Lesson) -> None:
        assert broken(draw(lesson, name)) == []
        assert broken(draw(lesson, name, wide=True)) == []

    check()


@settings(GENERATED, max_examples=20)
@given(lessons())
def test_nothing_overlaps_on_wide_paper(lesson: Lesson) -> None:
    """Invariant 1 without the exception for a measure that no line can hold."""
    drawn = draw(lesson, "a4", wide=True)
    assert all(system.body.force for system in drawn.layout.systems)
    assert list(LAWS[1](drawn)) == []


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", [*CASES, "demo"])
def test_every_law_holds_for_the_hard_cases(name: str, style: str) -> None:
    lesson = demo() if name == "demo" else CASES[name]()
    assert broken(draw(lesson, style), pointed=style in POINTED) == []
