"""How the caret walks: pure values, no window."""

from __future__ import annotations

import pytest

from app import caret as carets
from app.caret import Caret
from app.session import Outline
from core.model import Base, Value, walk
from tests import build

QUARTER = Value(Base.QUARTER).ticks
TWO_VOICES = build.lesson(
    ["E4s1f0:quarter F4s1f1:quarter G4s1f3:half | C3s5f3:half A2s5f0:half"],
    ["A4:whole"],
)


@pytest.fixture
def outline():
    return Outline(TWO_VOICES)


def start(outline, **fields):
    return Caret(outline.measures[0].id, **fields)


def test_stops_join_all_voices():
    lesson = build.lesson(["E4:half D4:half | C3:quarter D3:quarter E3:half"])
    measure = next(walk.measures(lesson.arrangement))
    assert carets.stops(measure, 0) == [0, QUARTER, 2 * QUARTER]


def test_a_short_voice_has_one_more_stop_to_go_on_from():
    lesson = build.lesson(["E4:half | C3:whole"])
    measure = next(walk.measures(lesson.arrangement))
    assert carets.stops(measure, 0) == [0, 2 * QUARTER]
    assert carets.stops(measure, 1) == [0]
    empty = next(walk.measures(build.lesson([""]).arrangement))
    assert carets.stops(empty, 0) == [0]


def test_struck_is_ordered_from_the_highest(outline):
    pitches = [str(s.note.pitch) for s in carets.struck(outline.measures[0], 0)]
    assert pitches == ["E4", "C3"]


def test_stepping_right_then_left_is_where_it_was(outline):
    caret = start(outline)
    seen = [caret]
    for _ in range(6):
        seen.append(carets.step(outline, seen[-1], 1))
    assert seen[-1] == seen[-2], "it stays at the end"
    back = carets.step(outline, seen[3], -1)
    assert (back.measure, back.onset) == (seen[2].measure, seen[2].onset)
    assert carets.step(outline, caret, -1) == caret


def test_climbing_goes_through_tab_and_staff(outline):
    caret = start(outline, string=6)
    for _ in range(6):
        caret = carets.climb(outline, caret, -1, 6)
    assert (caret.on, caret.rank) == ("staff", 1)
    assert str(carets.note_at(outline.measures[0], caret).note.pitch) == "C3"
    caret = carets.climb(outline, caret, -1, 6)
    assert caret.rank == 0
    assert carets.climb(outline, caret, -1, 6).rank == 0


def test_crossing_stays_on_the_note(outline):
    on_tab = carets.cross(outline, start(outline, on="staff", rank=1), "tab")
    assert (on_tab.on, on_tab.string) == ("tab", 5)
    assert carets.cross(outline, on_tab, "staff").rank == 1


def test_an_edit_at_a_note_means_its_voice(outline):
    measure = outline.measures[0]
    assert carets.voice_at(measure, start(outline, string=5)) == 1
    assert carets.voice_at(measure, start(outline, string=3)) == 0
    assert carets.event_at(measure, start(outline, string=5)).voice == 1


def test_the_next_note_that_needs_a_finger_skips_open_strings_and_ties():
    lesson = build.lesson(
        ["F4s1f1:half~ F4s1f1:half", "E4s1f0:half F4s1f1!1:quarter G4s1f3:quarter"]
    )
    outline = Outline(lesson)
    first = outline.measures[1].voices[0]
    caret = carets.next_unfingered(outline, Caret(outline.measures[0].id, on="staff"))
    assert carets.note_at(outline.measures[1], caret).note is first[2].notes[0]
    assert carets.next_unfingered(outline, caret) == caret


def test_mending_finds_the_nearest_place_left(outline):
    gone = Caret(9999, 0)
    assert carets.mend(outline, gone, 6, fallback=7).measure == outline.measures[-1].id
    late = start(outline, onset=3 * QUARTER, string=9)
    assert carets.mend(outline, late, 6) == start(outline, onset=2 * QUARTER, string=6)


@pytest.mark.parametrize(
    ("metre", "onset", "words"),
    [
        ("4/4", 0, "first beat"),
        ("4/4", QUARTER, "second beat"),
        ("4/4", QUARTER // 2, "after the first beat"),
        ("6/8", 3 * QUARTER // 2, "second beat"),
        ("6/8", QUARTER, "after the first beat"),
        ("3/4", 3 * QUARTER, "after the last beat"),
    ],
)
def test_beats_are_the_felt_ones(metre, onset, words):
    """6/8 is felt in two dotted quarters, 4/4 in four quarters (common practice, no source)."""
    measure = next(walk.measures(build.lesson(["E4:quarter"], metre=metre).arrangement))
    assert carets.beat_words(measure, onset) == words
