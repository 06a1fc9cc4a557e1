"""Finger figures: beside their heads, outside where crowded, other ways in parentheses."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.display.items import Glyph, Text
from core.model import Finger, Fingering, Label, Lesson, Origin, Place
from core.page.engrave import engrave
from core.page.fingering import APART, FAR, spread
from core.page.layout import Layout
from core.page.style import PageStyle
from tests import build
from tests.core.page.cases import CASES, changed, events_of, noted
from tests.core.page.kit import NAMES, items, metrics


def laid(lesson: Lesson) -> Layout:
    return engrave(lesson, PageStyle(title=False, footer=False), metrics())


def figures(layout: Layout) -> dict[int, Glyph]:
    """Note id -> its pinned finger figure."""
    return {
        i.source: i for _, i in items(layout)
        if isinstance(i, Glyph) and NAMES[i.code].startswith("fingering")
    }  # fmt: skip


def head(layout: Layout, note: int) -> Glyph:
    return next(i for _, i in items(layout) if isinstance(i, Glyph) and i.source == note
                and NAMES[i.code].startswith("notehead"))  # fmt: skip


@pytest.mark.parametrize(
    ("notes", "outside", "side"),
    [
        ("A3s3f2!2+C4s2f1!1", False, 0),  # a third has room on the left
        ("C3s5f3!3+E3s4f2!2+G3s3f0!0+B3s2f0!0", False, 0),  # so have stacked thirds
        ("C4s2f1!1+D4s3f7!4", True, -1),  # a second has not: stem down, so above
        ("E3s4f2!2+F3s5f8!4", True, 1),  # stem up, so below
        ("G#3s3f1!1+B3s2f0!0", False, 0),  # one accidental is no crowd
        ("Ab3s3f1!1+Bb3s4f8!4+Db4s2f2!2", True, -1),
    ],
)  # fmt: skip
def test_where_the_figures_of_a_chord_stand(notes: str, outside: bool, side: int) -> None:
    """The rule of `core.page.fingering`, with the bounds as it states them."""
    lesson = build.lesson([f"{notes}:half r:half"])
    layout = laid(lesson)
    chord = events_of(lesson)[0].notes
    found = figures(layout)
    heads = {n.id: head(layout, n.id) for n in chord}
    for note in chord:
        figure, at = found[note.id], heads[note.id]
        middle = figure.y - 0.5 * figure.size
        if outside:
            everywhere = [h.y for h in heads.values()]
            clear = min(everywhere) - middle if side < 0 else middle - max(everywhere)
            assert clear > 0.5
        else:
            assert figure.x < at.x
            assert abs(middle - at.y) <= 0.5
            assert at.x - figure.x < 1.3 + FAR + 1.0
    order = sorted(chord, key=lambda n: found[n.id].y)
    assert [n.pitch.midi for n in order] == sorted((n.pitch.midi for n in chord), reverse=True)


def test_of_two_voices_fingers_go_out_on_their_own_side() -> None:
    lesson = build.lesson(["C4s2f1!1+D4s3f7!4:whole | A2s5f0!0+B2s6f7!3:whole"])
    layout = laid(lesson)
    upper, lower = (event.notes for event in events_of(lesson))
    found = figures(layout)
    assert all(found[n.id].y < head(layout, n.id).y - 1 for n in upper)
    assert all(found[n.id].y > head(layout, n.id).y + 1 for n in lower)


@given(st.lists(st.integers(-8, 8), max_size=6))
def test_figures_are_spread_no_more_than_needed(steps: list[int]) -> None:
    ys = sorted(step / 2 for step in steps)
    found = spread(ys, APART)
    assert all(b - a >= APART - 1e-9 for a, b in itertools.pairwise(found))
    assert sum(found) == pytest.approx(sum(ys))  # as far up as down
    if all(b - a >= APART for a, b in itertools.pairwise(ys)):
        assert found == pytest.approx(ys)


def test_another_way_stands_in_parentheses() -> None:
    other = Fingering(Place(3, 5), Finger.LITTLE, "keeps the bass")
    lesson = build.lesson(["C4s2f1!1:quarter D4s2f3!3:half."])
    lesson = changed(lesson, {0: noted(alternative=other)})
    layout = laid(lesson)
    note = events_of(lesson)[0].notes[0]
    mine = [i for _, i in items(layout) if i.source == note.id]
    words = [i for i in mine if isinstance(i, Text)]
    assert {"(", "4", ")", "(5)", "1"} == {t.text for t in words}
    assert any(isinstance(i, Glyph) and NAMES[i.code] == "guitarString3" for i in mine)
    main = figures(layout)[note.id]
    assert max(t.x for t in words if t.text in ("(", "4")) < main.x
    fret = {t.text: t for t in words}
    assert fret["(5)"].size < fret["1"].size
    assert fret["(5)"].x < fret["1"].x
    assert fret["(5)"].y > fret["1"].y + 1  # on string 3
    assert "(" not in [i.text for _, i in items(laid(build.lesson(["C4s2f1!1:whole"])))
                       if isinstance(i, Text)]  # fmt: skip


def test_the_case_of_the_gallery_shows_both() -> None:
    layout = laid(CASES["crowded_fingers"]())
    out = {n for box in layout.made.score.boxes for c in box.columns for n in c.outside}
    assert len(out) == 5


def test_one_figure_of_a_second_stays_beside_its_head() -> None:
    """Outside, nobody could tell which of the two notes it is for."""
    lesson = build.lesson(["C4s2f1!1+D4s3f7:half r:half"])
    layout = laid(lesson)
    note = events_of(lesson)[0].notes[0]
    figure = figures(layout)[note.id]
    assert abs(figure.y - 0.5 * figure.size - head(layout, note.id).y) < 0.1


@pytest.mark.parametrize("name", ["seconds", "dense_fingers", "barre", "unisons"])
def test_suggestions_that_arrive_leave_the_columns_where_they_are(name: str) -> None:
    bare = CASES[name]()
    light = Label(Finger.RING, Origin.SUGGESTED)
    every = range(len(events_of(bare)))
    bare = changed(bare, {n: noted(finger=None) for n in every})
    told = changed(bare, {n: noted(finger=light) for n in every})
    rows, others = (
        [x for s in laid(lesson).systems for m in s.body.measures for _, x in m.columns]
        for lesson in (bare, told)
    )
    assert rows == pytest.approx(others, abs=1e-6)
