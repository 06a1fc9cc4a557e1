"""Talking points stand beside the system in which they begin, in order, clear of each other."""

from __future__ import annotations

import itertools
from random import Random

import pytest
from msgspec import structs

from core.display.items import Role, Text
from core.model import Finger, Fingering, Lesson, Place, Span, walk
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.style import LARGE_PRINT, PageStyle
from core.page.talk import reason_words
from tests import build
from tests.core.page.cases import changed, events_of, noted
from tests.core.page.kit import metrics

SENTENCE = "Keep the little finger down while the bass walks from string five to six"


def talked(count: int, seed: int) -> Lesson:
    """A lesson of 24 measures with points of many lengths, not in the order of their measures."""
    lesson = build.lesson(["E4s1f0:quarter F4s1f1:quarter G4s1f3:half | C3s5f3:whole"] * 24)
    ids = [m.id for m in walk.measures(lesson.arrangement)]
    pick = Random(seed)
    spans = []
    for number in range(count):
        start = pick.randrange(len(ids))
        end = min(start + pick.randrange(3), len(ids) - 1)
        words = SENTENCE[: pick.randrange(4, len(SENTENCE))].strip()
        spans.append(Span(lesson.next_id + number, "talk", ids[start], ids[end], words))
    arrangement = structs.replace(lesson.arrangement, spans=tuple(spans))
    return structs.replace(lesson, arrangement=arrangement, next_id=lesson.next_id + count)


def lines(layout: Layout) -> list[tuple[int, Text]]:
    """The lines in the margins with their system."""
    return [
        (number, item)
        for number, system in enumerate(layout.systems)
        for item in system.body.items
        if isinstance(item, Text) and item.x < -3 and item.role is Role.PENCIL
    ]


@pytest.mark.parametrize("style", [PageStyle(), LARGE_PRINT, PageStyle(staves="tab")])
@pytest.mark.parametrize("seed", range(4))
def test_points_stand_beside_their_systems_in_order(style: PageStyle, seed: int) -> None:
    lesson = talked(14, seed)
    layout = engrave(lesson, style, metrics())
    order = [m.id for m in walk.measures(lesson.arrangement)]
    found = lines(layout)
    starts: dict[int, int] = {}
    for span in lesson.arrangement.spans:
        mine = [(number, item) for number, item in found if item.source == span.id]
        assert " ".join(item.text for _, item in mine) == span.text
        assert {number for number, _ in mine} == {layout.index[span.start][0]}
        starts[span.id] = order.index(span.start)
    for number, system in enumerate(layout.systems):
        row = [item for at, item in found if at == number]
        assert [starts[item.source] for item in row] == sorted(starts[i.source] for i in row)
        for a, b in itertools.pairwise(row):
            assert b.y - 0.72 * b.size > a.y + 0.22 * a.size - 0.02
        for item in row:
            assert item.y - 0.72 * item.size >= -0.02  # level with the staff
            assert item.y + 0.22 * item.size <= system.body.bottom + 0.3
            assert item.x + item.width <= -1.5
            assert system.x + item.x >= 0
    for page in range(len(layout.sheets)):
        here = [s for s in layout.systems if s.page == page]
        for a, b in itertools.pairwise(here):
            assert a.y + a.body.bottom < b.y + b.body.top


def test_reasons_of_other_ways_stand_among_them() -> None:
    other = Fingering(Place(3, 5), Finger.LITTLE, "keeps the bass ringing")
    lesson = talked(2, 0)
    lesson = changed(lesson, {0: noted(alternative=other)})
    note = events_of(lesson)[0].notes[0]
    assert reason_words(note) == "(4, string 3) keeps the bass ringing"
    found = [item for _, item in lines(engrave(lesson, PageStyle(), metrics()))]
    mine = " ".join(i.text for i in found if i.source == note.id)
    assert mine == "(4, string 3) keeps the bass ringing"
    plain = structs.replace(lesson, arrangement=structs.replace(lesson.arrangement, spans=()))
    assert lines(engrave(plain, PageStyle(), metrics())) == []
