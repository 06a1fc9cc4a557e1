"""Selecting, the clipboard, measures, voices and modes, all through real key events."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication

from app.caret import Caret
from core.edit.clip import Selection
from core.model import Place
from tests import build
from tests.app.drafted import Q, at, measures, row, undone, values

# ------------------------------------------------------------------ selecting


def test_shift_and_arrows_select_by_event_and_measure(bench):
    first, second, third = (m.id for m in measures(bench))
    bench.press("Right", "Shift+Right")
    assert bench.selecting.selection == Selection(first, Q, first, 2 * Q)
    bench.press("Shift+Left", "Shift+Left")
    assert bench.selecting.selection == Selection(first, 0, first, Q)
    bench.press("Ctrl+Shift+Right")
    assert bench.selecting.selection == Selection(first, Q, second, 0)
    bench.press("Ctrl+Shift+End")
    assert bench.selecting.selection.last == third
    bench.press("Ctrl+Shift+Home", "Right")
    assert bench.selecting.selection is None
    bench.press("Ctrl+End", "Left", "Shift+Right")
    assert bench.selecting.selection == Selection(third, 2 * Q, third, 4 * Q)
    bench.press("Esc")
    assert bench.selecting.selection is None
    bench.press("Ctrl+Shift+Left")
    assert bench.selecting.selection.first == third


def test_measure_section_piece_and_voice_are_selected(bench):
    first, second, third = (m.id for m in measures(bench))
    bench.press("Right", "A")
    assert bench.selecting.selection == Selection(first, 0, second, 0)
    assert at(bench) == (0, 0)
    assert "1 measure selected" in bench.selecting.words()
    bench.press("A")
    assert bench.selecting.measures == (first, second)
    bench.press("Shift+V")
    assert bench.selecting.selection.voices == (0,)
    bench.press("Shift+V", "Esc", "Ctrl+A")
    assert bench.selecting.measures == (first, second)
    bench.press("Ctrl+A")
    assert bench.selecting.measures == (first, third)
    bench.press("Esc", "Ctrl+Shift+A")
    assert bench.selecting.measures == (first, third)
    bench.press("Esc", "Shift+V")
    assert "Nothing is selected" in bench.message()


def test_the_mouse_places_the_caret_and_drawing_selects(bench):
    first, second, _ = (m.id for m in measures(bench))
    bench.click(Caret(second, 2 * Q, "tab", 2))
    assert bench.writing.caret == Caret(second, 2 * Q, "tab", 2)
    bench.drag(Caret(first, Q, "tab", 1), Caret(second, 2 * Q, "tab", 1))
    assert bench.selecting.selection == Selection(first, Q, second, 2 * Q)
    bench.click(Caret(first, 0, "staff"))
    assert bench.selecting.selection is None
    bench.click(Caret(second, 0, "tab", 3), shift=True)
    assert bench.selecting.selection == Selection(first, 0, second, 0)


# ------------------------------------------------------------------ clipboard


def test_copy_and_paste_over(bench):
    bench.press("A", "Ctrl+C")
    before = bench.lesson()
    bench.press("Ctrl+End", "Left", "Left", "Ctrl+V")
    assert row(bench, 2) == row(bench, 0)
    assert row(bench, 2, 1) == row(bench, 0, 1)
    assert at(bench) == (2, 4)
    undone(bench, (2, 0), before)
    bench.press("Ctrl+Shift+Z")
    assert at(bench) == (2, 4)
    # Behind the end it goes on into a new measure, in one step.
    bench.press("Ctrl+V")
    assert row(bench, 3) == row(bench, 0)
    bench.press("Ctrl+Z")
    assert len(measures(bench)) == 3


def test_paste_in_pushes_on(bench):
    bench.press("Shift+Right", "Shift+V", "Ctrl+C")
    before = bench.lesson()
    bench.press("Esc", "Ctrl+Right", "Right", "Ctrl+Shift+V")
    assert row(bench, 1) == ["A4", "s1f0", "s1f8"]
    undone(bench, (1, 2), before)


def test_cut_leaves_rests_and_pastes_into_the_other_voice(bench):
    before = bench.lesson()
    bench.press("A", "Shift+V", "Ctrl+X")
    assert row(bench, 0) == ["r", "r", "r"]
    assert row(bench, 0, 1) == ["s5f3"]
    bench.press("Ctrl+End", "Left", "Left", "V", "Ctrl+V")
    assert row(bench, 2, 1) == ["s1f0", "s1f1", "s1f3"]
    bench.press("Ctrl+Z", "Ctrl+Z")
    assert bench.lesson() == before


def test_copy_without_a_selection_takes_the_measure(bench):
    bench.press("Right", "Ctrl+C")
    assert "the measure" in bench.message()


def test_plain_tab_goes_out_and_comes_in(bench):
    bench.press("A", "Ctrl+Shift+C")
    text = QGuiApplication.clipboard().text()
    assert text.splitlines()[:9] == [
        "   4/4",
        "   Q Q H",
        "e|-0-1-3---|",
        "B|---------|",
        "G|---------|",
        "D|---------|",
        "A|-3-------|",
        "E|---------|",
        "   W",
    ]
    assert bench.message() == "Copied as plain tab."
    before = bench.lesson()
    bench.press("Ctrl+End", "Left", "Left", "Ctrl+V")
    assert row(bench, 2) == ["s1f0", "s1f1", "s1f3"]
    assert row(bench, 2, 1) == ["s5f3"]
    assert values(bench, 2) == ["quarter", "quarter", "half"]
    fingers = [
        n.finger and n.finger.value.value for e in measures(bench)[2].voices[0] for n in e.notes
    ]
    assert fingers == [None, "1", None]
    assert "values its letters give" in bench.message()
    undone(bench, (2, 0), before)


def test_a_tab_of_two_systems_from_elsewhere_is_pasted_in_one_step(make_bench):
    bench = make_bench(build.lesson([""]))
    empty = ["|" + "-" * 16 + "|"] * 4
    lines = ["|--0---1h3-----3-|", "|----------12----|", *empty]
    QGuiApplication.clipboard().setText(
        "Found somewhere\n\n"
        + "\n".join(lines)
        + "\n\n  H   Q   Q\n"
        + "\n".join(["|-0---1---3------|", *["|" + "-" * 16 + "|"] * 5])
    )
    before = bench.lesson()
    bench.press("Ctrl+V")
    assert len(measures(bench)) == 2
    assert row(bench, 1) == ["s1f0", "s1f1", "s1f3"]
    assert values(bench, 1) == ["half", "quarter", "quarter"]
    assert "slurs" in bench.message()
    undone(bench, (0, 0), before)


def test_what_a_plain_tab_lacks_is_said(bench):
    bench.press("Ctrl+Right", "Ctrl+Shift+C")
    assert "it does not say: 2 notes without a place" in bench.message()


@pytest.mark.parametrize("text", ["", "hello", "e|-1-|\nB|-1-|\nG|-1-|\nD|-1-|\n"])
def test_what_is_no_tab_is_refused(bench, text):
    QGuiApplication.clipboard().setText(text)
    before = bench.lesson()
    bench.press("Ctrl+V")
    assert bench.message()
    assert bench.lesson() is before


# ------------------------------------------------------------------ selected notes


def test_clear_and_close_up_a_selection(bench):
    before = bench.lesson()
    bench.press("Right", "Shift+Right", "Del")
    assert row(bench, 0) == ["s1f0", "r", "s1f3"]
    bench.press("Ctrl+Z", "Ctrl+Home", "Right", "Shift+Right", "Backspace")
    assert row(bench, 0) == ["s1f0", "s1f3"]
    bench.press("Ctrl+Z")
    assert bench.lesson() == before


@pytest.mark.parametrize(
    ("key", "expected"),
    [("Alt+Up", "F4"), ("Alt+Down", "Eb4"), ("Alt+PgUp", "E5"), ("Alt+PgDown", "E3"),
     ("Alt+Shift+Up", "F4"), ("Alt+Shift+Down", "D4")],
)  # fmt: skip
def test_transpose_one_note_and_a_selection(bench, key, expected):
    before = bench.lesson()
    bench.press(key)
    assert str(measures(bench)[0].voices[0][0].notes[0].pitch) == expected
    undone(bench, (0, 0), before)
    bench.press("Shift+Right", key)
    assert str(measures(bench)[0].voices[0][0].notes[0].pitch) == expected
    assert str(measures(bench)[0].voices[0][1].notes[0].pitch) == "F4"
    assert bench.selecting.selection is not None


def test_a_selection_moves_to_the_next_string(bench):
    before = bench.lesson()
    bench.press("A", "Shift+V", "Shift+Down")
    assert row(bench, 0) == ["s2f5", "s2f6", "s2f8"]
    bench.press("Shift+Up")
    assert row(bench, 0) == ["s1f0", "s1f1", "s1f3"]
    bench.press("Shift+Up")
    assert "No selected note" in bench.message()
    bench.press("Ctrl+Z", "Ctrl+Z")
    assert bench.lesson() == before


def test_open_strings_get_their_figure(bench):
    before = bench.lesson()
    bench.press("Ctrl+Shift+A", "Shift+O")
    assert measures(bench)[0].voices[0][0].notes[0].finger.value.value == "0"
    assert measures(bench)[1].voices[0][0].notes[0].finger is None
    bench.press("Ctrl+Z")
    assert bench.lesson() == before


# ------------------------------------------------------------------ entering


def test_what_is_written_at_an_open_place_moves_the_caret_on(make_bench):
    bench = make_bench(build.lesson([""]))
    bench.press("Q", "0", "1", "R", "P", "G")
    assert row(bench, 0) == ["s1f0", "s1f1", "r", "G4"]
    assert at(bench) == (0, 4)
    before = bench.lesson()
    bench.press("3")
    assert (len(measures(bench)), at(bench)) == (2, (1, 1))
    undone(bench, (0, 4), before)
    bench.press("Ctrl+Shift+Z")
    assert at(bench) == (1, 1)
    bench.press("Backspace")
    assert (row(bench, 1), at(bench)) == ([], (1, 0))
    bench.press("Backspace")
    assert (row(bench, 0), at(bench)) == (["s1f0", "s1f1", "r"], (0, 3))


def test_on_a_note_the_caret_stays_so_that_a_chord_is_written(bench):
    bench.press("Down", "1", "Down", "0")
    assert row(bench, 0)[0] == "s3f0+s2f1+s1f0"
    assert at(bench) == (0, 0)


def test_putting_in_and_writing_over_are_two_modes(bench):
    before = bench.lesson()
    assert "WRITING OVER" in bench.window.status.entry
    bench.press("Ins")
    assert "PUTTING IN" in bench.window.status.entry
    bench.press("E", "3")
    assert row(bench, 0) == ["s1f3", "s1f0", "s1f1", "s1f3"]
    assert bench.writing.caret.onset == Q // 2
    assert "over-full by an eighth; C trims it" in bench.window.status.place
    bench.press("R")
    assert row(bench, 0)[1] == "r"
    bench.press("Ins", "2")
    assert row(bench, 0) == ["s1f3", "r", "s1f2", "s1f1", "s1f3"]
    for _ in range(3):
        bench.press("Ctrl+Z")
    assert bench.lesson() == before


def test_over_full_and_short_measures_come_out_with_one_key(bench):
    bench.press("Ins", "Q", "3", "C")
    assert measures(bench)[0].filled_ticks(0) == 4 * Q
    bench.press("Ins", "Backspace", "C")
    assert measures(bench)[0].filled_ticks(0) == 4 * Q


def test_triplets_are_written_on_and_made_of_what_is_there(make_bench):
    bench = make_bench(build.lesson([""]))
    bench.press("E", "U", "0", "1", "3")
    assert values(bench, 0) == ["eighth@3:2"] * 3
    assert at(bench) == (0, 1)
    bench.press("U", "Q", "0", "Left", "U")
    assert values(bench, 0)[3:] == ["eighth@3:2"] * 3
    bench.press("U")
    assert values(bench, 0)[3:] == ["quarter"]
    bench.press("Shift+U")
    bench.answer("5:4")
    assert values(bench, 0)[3:] == ["16th@5:4"] * 5


def test_walking_by_beat(make_bench):
    bench = make_bench(build.lesson(["E4:eighth F4:eighth G4:quarter A4:half"]))
    bench.press("Alt+Right")
    assert at(bench) == (0, 1)
    bench.press("Alt+Right", "Alt+Left")
    assert at(bench) == (0, 1)


@pytest.mark.parametrize("voice", [1, 2, 3, 4])
def test_every_voice_can_be_written_in(bench, voice):
    bench.press("M", f"Alt+{voice}", "H", "0")
    assert row(bench, 1, voice - 1) == ["s1f0"]


def test_moving_and_exchanging_voices(bench):
    before = bench.lesson()
    bench.press("Ctrl+End", "Left", "B")
    assert row(bench, 2, 1)[-1] == "s2f3"
    assert bench.writing.caret.voice == 1
    undone(bench, (2, 2), before)
    bench.press("Ctrl+Home", "Shift+B")
    assert row(bench, 0, 1) == ["s1f0", "s1f1", "s1f3"]
    undone(bench, (0, 0), before)


# ------------------------------------------------------------------ measures


def test_split_and_join(bench):
    before = bench.lesson()
    bench.press("Right", "/")
    assert [row(bench, 0), row(bench, 1)] == [["s1f0"], ["s1f1", "s1f3"]]
    assert at(bench) == (1, 0)
    bench.press("Left", "J")
    assert row(bench, 0) == ["s1f0", "s1f1", "s1f3"]
    bench.press("Ctrl+Z", "Ctrl+Z")
    assert bench.lesson() == before
    assert at(bench) == (0, 1)


def test_same_as_keeps_the_link_and_lets_it_go(bench):
    before = bench.lesson()
    bench.press("Ctrl+End", "Left", "=")
    bench.answer("1")
    assert row(bench, 2) == row(bench, 0)
    assert measures(bench)[2].same_as == measures(bench)[0].id
    assert "same as measure 1" in bench.window.status.place
    bench.press("=")
    bench.answer("0")
    assert measures(bench)[2].same_as is None
    bench.press("Ctrl+Z", "Ctrl+Z")
    assert bench.lesson() == before
    bench.press("=")
    bench.answer("99")
    assert "no measure 99" in bench.message()
    bench.press("Esc")
    assert bench.sheet.hasFocus()


def test_earlier_measures_are_written_again(bench):
    before = bench.lesson()
    bench.press("Ctrl+End", "Left", "Y")
    bench.answer("1-2")
    assert len(measures(bench)) == 5
    assert [m.same_as for m in measures(bench)[3:]] == [m.id for m in measures(bench)[:2]]
    undone(bench, (2, 2), before)


def test_selected_measures_are_written_once_more_and_deleted(bench):
    before = bench.lesson()
    bench.press("A", "A", "Shift+R")
    assert len(measures(bench)) == 5
    assert at(bench) == (2, 0)
    bench.press("A", "A", "Ctrl+Del")
    assert bench.lesson() == before


def test_metre_key_and_pickup(bench):
    bench.press("Z")
    bench.answer("3/4 D minor")
    assert str(measures(bench)[0].metre) == "3/4"
    assert str(measures(bench)[0].key) == "D minor"
    bench.press("Shift+Z")
    bench.answer("1/4")
    assert (measures(bench)[0].ticks, measures(bench)[0].counted) == (Q, False)
    bench.press("Shift+Z")
    bench.answer("0")
    assert measures(bench)[0].counted
    bench.press("Z")
    bench.answer("3/x")
    assert "not a metre" in bench.message()


def test_place_of_a_fret_over_ten(bench):
    bench.press("X", "2")
    assert measures(bench)[0].voices[0][0].notes[-1].place.value == Place(1, 12)
