"""What each finger does at the caret, in words."""

from __future__ import annotations

import pytest

from app.panels.duties import beats_words, duties, view
from core.model import TICKS_PER_QUARTER, Instrument, walk
from tests import build


def lines(texts, index=0, onset=0, metre="4/4"):
    lesson = build.lesson(texts, metre=metre)
    measures = tuple(walk.measures(lesson.arrangement))
    found = duties(view(Instrument(), measures, index, onset))
    return {d.finger: d.words for d in found}


def test_plays_holds_comes_and_is_free():
    tune = ["C5s2f1!1:quarter D5s2f3!3:quarter E4s1f0:half | C3s5f3!4:whole"]
    now = lines(tune)
    assert now["1"] == "plays C5, string 2 fret 1"
    assert now["4"] == "plays C3, string 5 fret 3"
    assert now["3"] == "free; needed on string 2 in 1 beat"
    assert now["2"] == "free"
    later = lines(tune, onset=TICKS_PER_QUARTER)
    assert later["3"] == "plays D5, string 2 fret 3"
    assert later["4"] == "holds C3 on string 5 for 3 beats more"


def test_a_held_note_ends_when_its_string_is_struck_again():
    tune = ["C5s2f1!1:quarter D4s2f3!3:quarter G4s1f3!4:half | C3s5f3!2:half A2s5f0:half"]
    hand = view(
        Instrument(), tuple(walk.measures(build.lesson(tune).arrangement)), 0, TICKS_PER_QUARTER
    )
    assert [(d.place.string, d.end) for d in hand.held] == [(5, TICKS_PER_QUARTER)]


def test_a_tie_holds_over_the_barline():
    tune = ["C5s2f1!1:whole~", "C5s2f1:whole"]
    held = lines(tune, index=1)
    assert held["1"] == "holds C5 on string 2 for 4 beats more"


def test_open_strings_undecided_and_unplaced_notes_are_said():
    tune = ["E4s1f0+C5s2f1+A3:whole"]
    lesson = build.lesson(tune)
    found = duties(view(Instrument(), tuple(walk.measures(lesson.arrangement)), 0, 0))
    said = [d.words for d in found]
    assert "E4, open string 1" in said
    assert "C5, string 2 fret 1: no finger yet" in said
    assert "1 note has no place yet" in said


@pytest.mark.parametrize(
    ("ticks", "beat", "words"),
    [(4, 4, "1 beat"), (6, 4, "1½ beats"), (2, 4, "½ beat"), (8, 4, "2 beats"), (4, 3, "1⅓ beats"),
     (5, 11, "0.45 beats")],
)  # fmt: skip
def test_beats(ticks, beat, words):
    assert beats_words(ticks, beat) == words
