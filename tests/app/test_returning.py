"""Where the caret goes at undo and redo, where the table of every command does not show it."""

from __future__ import annotations

from app.caret import Caret
from app.returning import Returning
from app.session import Session
from core.edit import history
from core.edit.lesson_fields import SetTitle
from core.edit.notes import PutFret
from tests.app.shorthand import place

HERE, THERE = Caret(1), Caret(2, 480, "staff", 1, 1, 1)


def at(bench) -> str:
    return place(bench.session.outline, bench.writing.caret)


def test_undo_goes_to_where_the_edit_was_made_and_redo_to_where_it_left_the_caret():
    returning = Returning()
    returning.made(1, HERE, HERE)
    returning.left(1, THERE)
    assert (returning.undone(1), returning.redone(1)) == (HERE, THERE)
    assert returning.undone(2) is None


def test_an_edit_made_elsewhere_keeps_no_place():
    returning = Returning()
    returning.made(1, HERE, THERE)
    returning.elsewhere(1)
    assert (returning.undone(1), returning.redone(1)) == (None, None)
    returning.left(1, THERE)
    assert returning.redone(1) is None


def test_an_older_edit_of_the_same_number_is_not_remembered(bench):
    """An edit at the caret is undone, then a field of a panel is written: another first step."""
    bench.press("Right", "3", "Ctrl+Z", "Ctrl+End", "Left")
    bench.session.apply(SetTitle("Another"), initiator=bench.window)
    bench.press("Ctrl+Z")
    assert bench.lesson().title == "A test"
    assert at(bench) == "3 2 s1"
    bench.press("Ctrl+Shift+Z")
    assert at(bench) == "3 2 s1"


def test_from_elsewhere_the_caret_goes_to_what_changed(bench):
    session: Session = bench.session
    first = bench.writing.measure.id
    session.apply(PutFret(first, 0, 0, 1, 5), initiator=bench.window)
    assert at(bench) == "1 0 s1"
    bench.press("Ctrl+End", "Left", "Ctrl+Z")
    assert at(bench) == "1 0 s1"


def test_a_command_that_changes_nothing_moves_no_kept_caret(bench):
    """The finger that a note has already is set again: only the caret goes on, as it does."""
    bench.press("Ctrl+Up", "Right", "1")
    assert at(bench) == "1 2 n0"
    assert not bench.session.history.done
    bench.press("3", "Ctrl+Home", "Right", "1")
    assert len(bench.session.history.done) == 1
    bench.press("Ctrl+Z")
    assert at(bench) == "1 2 n0"
    bench.press("Ctrl+Shift+Z")
    assert at(bench) == "2 0 n0"


def test_the_caret_comes_back_after_more_edits_than_are_kept(bench, monkeypatch):
    """Steps that are forgotten do not shift what is known of the others."""
    monkeypatch.setattr(history, "MOST_STEPS", 4)
    for number in range(3):
        bench.session.apply(SetTitle(f"Title {number}"), initiator=bench.window)
    bench.press("3", "Right", "3", "Right", "3")
    assert len(bench.session.history.done) == 4
    bench.press("Ctrl+End", "Left")
    for expected in ("1 2 s1", "1 1 s1", "1 0 s1"):
        bench.press("Ctrl+Z")
        assert at(bench) == expected
