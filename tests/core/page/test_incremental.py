"""A layout made from the one before equals one made from nothing but the old line breaks."""

from __future__ import annotations

from copy import deepcopy
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.edit import InsertMeasures, apply
from core.model import EditRefused, Lesson, Span, walk
from core.page import breaking
from core.page.engrave import Cache, engrave
from core.page.layout import Layout
from core.page.style import PageStyle
from tests import build
from tests.core.page.kit import metrics
from tests.moves import play, random_command
from tests.strategies import lessons

FEW = settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
)
STYLES = (
    PageStyle(),
    PageStyle(height_mm=75, staff_mm=5),
    PageStyle(height_mm=60_000.0),
    PageStyle(flow="line"),
    PageStyle(staves="tab", phrases_per_line=2),
)
FORM = (
    "InsertMeasures", "DeleteMeasures", "CopyMeasures", "MoveSection", "SplitSection",
    "JoinSection", "SetSection", "SetEnding", "RemoveEnding", "SetLineBreak", "SetCounted",
    "SetKey",
)  # fmt: skip
SPANS = ("AddSpan", "AddSpan", "RemoveSpan", "ChangeSpan", "AddTalk", "DeleteEvent")
TUNE = ["C4s2f1:quarter E4s1f0:quarter G4s1f3:half | A2s5f0:whole"] * 3


def versions(lesson: Lesson, random: Random, steps: float) -> list[Lesson]:
    """A lesson as it is edited, with some steps taken back."""
    row = [lesson]
    while len(row) <= steps:
        only = random.choice(((), FORM, SPANS))
        try:
            command = random_command(random, row[-1], only)
            row.append(apply(command, row[-1]).lesson)
        except (EditRefused, LookupError):
            steps -= 0.2
    back = [random.choice(row) for _ in range(2)]
    return [*row, *back]


def follow(row: list[Lesson], style: PageStyle, random: Random) -> None:
    """Lay out one version after the other, with all that is kept and with nothing kept but the
    layout before (of a lesson that shares no object with the next)."""
    cache = Cache()
    fast: Layout | None = None
    slow: Layout | None = None
    for number, lesson in enumerate(row):
        fast = engrave(lesson, style, metrics(), cache, fast)
        slow = engrave(deepcopy(lesson), style, metrics(), Cache(), slow)
        assert list(fast.breaks) == list(slow.breaks), number
        look(fast, random)
        if number % 2 == 0 or number + 1 == len(row):
            assert fast.sheets == slow.sheets, number
        cold = engrave(lesson, style, metrics())
        if list(cold.breaks) == list(fast.breaks):
            assert fast.sheets == cold.sheets, number
            assert dict(fast.index) == dict(cold.index)


def look(layout: Layout, random: Random) -> None:
    """Ask a layout for some of its parts, in any order."""
    for _ in range(random.randrange(4)):
        if layout.systems:
            system = random.choice(layout.systems)
            assert layout.systems[layout.systems.index(system)].block is system.block
    page = random.randrange(len(layout.sheets))
    if random.randrange(2):
        assert layout.sheets[page] is layout.sheets[page]


@FEW
@given(lessons(), st.sampled_from(STYLES), st.integers(0, 2**32))
def test_edits_of_any_lesson(lesson: Lesson, style: PageStyle, seed: int) -> None:
    """Invariant 12, over chains of random commands."""
    random = Random(seed)
    follow(versions(lesson, random, 5), style, random)


@pytest.mark.parametrize("style", STYLES[:4])
def test_edits_of_a_longer_piece(style: PageStyle) -> None:
    random = Random(6)
    follow(versions(build.lesson(TUNE * 4, TUNE * 5, TUNE), random, 14), style, random)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_many_edits_of_a_longer_piece(seed: int) -> None:
    for style in STYLES:
        random = Random(seed)
        follow(versions(build.lesson(TUNE * 6, TUNE, TUNE * 9), random, 30), style, random)


def test_sections_that_go_at_either_end() -> None:
    """The next section then opens or ends the piece: it has another bar line, metre and tempo."""
    whole = build.lesson(TUNE * 3, TUNE * 3, TUNE * 3)
    arrangement = whole.arrangement
    row = [whole]
    for cut in (slice(2), slice(1), slice(0, 2), slice(3), slice(1, 3), slice(2, 3), slice(3)):
        kept = structs.replace(arrangement, sections=arrangement.sections[cut])
        row.append(structs.replace(whole, arrangement=kept))
    for style in STYLES[:4]:
        follow(row, style, Random(1))


def test_an_event_that_comes_back_brings_its_span() -> None:
    """A span without an end is not drawn, and is drawn again once its event is there again."""
    lesson = build.lesson(TUNE * 8)
    section = lesson.arrangement.sections[0]
    last = section.measures[14]
    ends = (section.measures[2].voices[0][1].id, last.voices[0][2].id)
    slur = Span(lesson.next_id, "crescendo", *ends)
    arrangement = structs.replace(lesson.arrangement, spans=(slur,))
    with_slur = structs.replace(lesson, arrangement=arrangement, next_id=lesson.next_id + 1)
    short = structs.replace(last, voices=(last.voices[0][:2], last.voices[1]))
    row = (*section.measures[:14], short, *section.measures[15:])
    sections = (structs.replace(section, measures=row),)
    without = structs.replace(
        with_slur, arrangement=structs.replace(arrangement, sections=sections)
    )
    for style in STYLES[:4]:
        follow([with_slur, without, with_slur], style, Random(1))


def test_what_is_not_looked_at_is_not_drawn() -> None:
    """The first page asks nothing of the systems on the others, nor does an edit."""
    lesson = build.lesson(TUNE * 30)
    cache = Cache()
    layout = engrave(lesson, PageStyle(), metrics(), cache)
    assert layout.sheets[0].blocks
    assert drawn(layout) == {0}
    changed = play(Random(1), lesson, 1)[0][1].lesson
    after = engrave(changed, PageStyle(), metrics(), cache, layout)
    assert drawn(after) <= {0}
    first = next(walk.measures(changed.arrangement)).id
    assert after.where(first) is not None
    assert drawn(after) <= {0}


def drawn(layout: Layout) -> set[int]:
    """The pages of systems whose items have been made."""
    return {s.page for s in layout.systems if "items" in s.body.__dict__}


def test_a_new_number_changes_nothing_else() -> None:
    """A measure put in at the start leaves the later systems as they are, but for their number."""
    lesson = build.lesson(TUNE * 30)
    style, cache = PageStyle(), Cache()
    before = engrave(lesson, style, metrics(), cache)
    first = next(walk.measures(lesson.arrangement)).id
    changed = apply(InsertMeasures(first, 1, "after"), lesson).lesson
    after = engrave(changed, style, metrics(), cache, before)
    assert after.systems[-2].body.measures is before.systems[-2].body.measures
    assert after.systems[-2].body.items != before.systems[-2].body.items


heights = st.lists(st.floats(10, 60), min_size=1, max_size=40)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(heights, heights, st.data())
def test_pages_broken_on_from_old_ones(one: list[float], two: list[float], data: st.DataObject):
    """What is taken over from an earlier breaking changes nothing of the outcome."""
    a = data.draw(st.integers(0, len(one)))
    b = data.draw(st.integers(a, len(one)))
    put = two[: data.draw(st.integers(0, 2))]
    changed = [*one[:a], *put, *one[b:]] or [20.0]
    long = [one * 3, [*one, *changed, *one]]
    for old, new in ((one, changed), (long[0], long[1])):
        costs = [0.0 if round(h) % 3 == 0 else 1.0 for h in new]
        was = [0.0 if round(h) % 3 == 0 else 1.0 for h in old]
        before = breaking.break_pages(old, 100.0, 120.0, 3.0, was)
        after = breaking.break_pages(new, 100.0, 120.0, 3.0, costs, before)
        cold = breaking.break_pages(new, 100.0, 120.0, 3.0, costs)
        assert (after.best, after.back) == (cold.best, cold.back)
