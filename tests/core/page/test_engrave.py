"""Layouts of small lessons."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.display.items import Face, Role, Text
from core.edit.base import map_events
from core.model import Finger, Label, Origin
from core.page.engrave import Cache, engrave
from core.page.style import PageStyle
from tests import build
from tests.core.page.cases import changed, noted, with_measures
from tests.core.page.kit import glyphs, items, metrics

FINGERS = (Label(Finger.RING, Origin.SUGGESTED), Label(Finger.INDEX))

TUNE = ["C4s2f1:quarter E4s1f0:quarter G4s1f3:half | A2s5f0:whole"] * 9


def test_every_measure_is_placed_and_can_be_hit() -> None:
    lesson = build.lesson(TUNE)
    layout = engrave(lesson, PageStyle(), metrics())
    for section in lesson.arrangement.sections:
        for measure in section.measures:
            page, box = layout.caret_box(measure.id, 0, "staff", None)
            hit = layout.hit(page, box.left + 0.9, box.top + 3)
            assert hit is not None
            assert (hit.measure, hit.onset, hit.on) == (measure.id, 0, "staff")
            page, box = layout.caret_box(measure.id, 0, "tab", 5)
            hit = layout.hit(page, box.left + 0.9, (box.top + box.bottom) / 2)
            assert hit is not None
            assert (hit.on, hit.string) == ("tab", 5)
            assert hit.source == measure.voices[1][0].notes[0].id


def test_one_long_line() -> None:
    layout = engrave(build.lesson(TUNE), PageStyle(flow="line"), metrics())
    assert len(layout.sheets) == 1
    xs = [layout.playhead(m, 0)[1] for line in layout.breaks for m in line]
    assert xs == sorted(xs)


@pytest.mark.parametrize("staves", ["staff and tab", "staff", "tab"])
def test_staves(staves: str) -> None:
    layout = engrave(build.lesson(TUNE), PageStyle(staves=staves), metrics())
    assert bool(glyphs(layout, "noteheadBlack")) == (staves != "tab")


def test_unchanged_systems_are_the_same_objects() -> None:
    lesson = build.lesson(TUNE)
    cache = Cache()
    first = engrave(lesson, PageStyle(), metrics(), cache)
    second = engrave(lesson, PageStyle(), metrics(), cache, first)
    assert all(a.block is b.block for a, b in zip(first.systems, second.systems, strict=True))


def test_fingers_that_arrive_move_nothing() -> None:
    """design.md: the page reserves room for fingers, so their arrival repaints and never
    re-breaks."""
    bar = "C4s2f1+E4s1f0:eighth A3s3f2:eighth G#3s3f1+B3s2f0:quarter E4s1f0:half | A2s5f0:whole"
    bare = build.lesson([bar] * 9)
    fingered = with_measures(
        bare,
        lambda m: map_events(
            m,
            lambda e: structs.replace(
                e, notes=tuple(structs.replace(n, finger=FINGERS[n.id % 2]) for n in e.notes)
            ),
        ),
    )
    one, two = (engrave(lesson, PageStyle(), metrics()) for lesson in (bare, fingered))
    assert [s.body.measures for s in one.systems] == [s.body.measures for s in two.systems]
    assert [(s.x, s.y) for s in one.systems] == [(s.x, s.y) for s in two.systems]


def test_suggested_and_pinned_fingers_differ_in_shape() -> None:
    pinned, suggested = (
        engrave(
            changed(build.lesson(["C4s2f1:whole"]), {0: noted(finger=label)}),
            PageStyle(),
            metrics(),
        )
        for label in (Label(Finger.INDEX), Label(Finger.INDEX, Origin.SUGGESTED))
    )
    assert [g.role for _, g in glyphs(pinned, "fingering")] == [Role.PINNED]
    assert not glyphs(suggested, "fingering")
    words = [i for _, i in items(suggested) if isinstance(i, Text) and i.role is Role.SUGGESTED]
    assert [(w.text, w.face) for w in words] == [("1", Face.SERIF_ITALIC)]


def test_a_cache_serves_shorter_and_longer_lessons() -> None:
    """What is kept of a lesson never leaks into another, however many measures it has."""
    cache = Cache()
    bars = ["E4s1f0:whole", "C4s2f1:whole", "A3s3f2:whole"]
    for rows in ([bars], [bars[:1]], [bars, bars], [bars[:2], bars], [bars[1:], bars]):
        lesson = build.lesson(*rows)
        warm = engrave(lesson, PageStyle(), metrics(), cache)
        assert warm.sheets == engrave(lesson, PageStyle(), metrics()).sheets


def test_pages_turn_where_a_hand_is_free() -> None:
    """The costs of turns come in as data: a cheap turn is worth an emptier page."""
    lesson = build.lesson(["E4s1f0:quarter " * 4] * 48)
    style = PageStyle()
    plain = engrave(lesson, style, metrics())
    last = [system for system in plain.systems if system.page == 0][-2]
    free = last.body.measures[-1].measure
    turned = engrave(lesson, style, metrics(), turns={free: 0.0})
    ends = [s.body.measures[-1].measure for s in turned.systems if s.page == 0]
    assert ends[-1] == free
