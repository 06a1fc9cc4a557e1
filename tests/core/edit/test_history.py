"""Undo and redo; what changed."""

from __future__ import annotations

import pytest

from core import edit
from core.edit import History, InsertMeasures, SetFinger, SetTitle, Suggest
from core.edit.history import MOST_STEPS
from core.model import EditRefused, Finger, Label, Lesson, Origin, Place
from tests.core.edit.kit import ids, lesson, measure, note


def test_nothing_to_undo_or_redo() -> None:
    one = lesson("C4:whole")
    with pytest.raises(EditRefused, match="nothing to undo"):
        History().undo(one)
    with pytest.raises(EditRefused, match="nothing to redo"):
        History().redo(one)


def test_labels_and_changes_of_undo_and_redo() -> None:
    one = lesson("C4:whole")
    done = edit.apply(SetFinger(ids(one)[0], note(one).id, Finger.INDEX), one)
    history = History().record(done.change.label, one)
    history, undone = history.undo(done.lesson)
    assert undone.change.label == "Undo finger 1"
    assert undone.change.replaced == (ids(one)[0],)
    assert measure(undone.lesson) is measure(one)
    history, redone = history.redo(undone.lesson)
    assert redone.change.label == "Redo finger 1"
    assert redone.lesson == done.lesson


def test_a_new_edit_forgets_what_was_undone() -> None:
    one = lesson("C4:whole")
    history = History().record("title", one)
    history, _ = history.undo(edit.apply(SetTitle("x"), one).lesson)
    assert history.undone
    assert not history.record("title", one).undone


def test_the_mark_of_ids_never_falls() -> None:
    one = lesson("C4:whole")
    more = edit.apply(InsertMeasures(ids(one)[0], 5), one).lesson
    _, undone = History().record("insert", one).undo(more)
    assert undone.lesson == one
    assert undone.lesson.next_id == more.next_id > one.next_id


def test_a_thousand_steps_are_kept() -> None:
    one, history = lesson("C4:whole"), History()
    for number in range(MOST_STEPS + 10):
        history = history.record(f"step {number}", one)
    assert len(history.done) == MOST_STEPS
    assert history.position == MOST_STEPS + 10
    assert history.done[0].label == "step 10"


def test_suggestions_leave_no_step_and_keep_redo() -> None:
    one = lesson("C4:whole")
    titled = edit.apply(SetTitle("x"), one)
    history, undone = History().record("title", one).undo(titled.lesson)
    amended = Suggest({note(one).id: Label(Place(2, 1), Origin.SUGGESTED)}).amend(undone.lesson)
    assert amended != one
    _, redone = history.redo(amended)
    assert redone.lesson.title == "x"


def test_an_edit_of_one_measure_makes_one_measure() -> None:
    one: Lesson = lesson(*["C4:whole"] * 1000)
    done = edit.apply(SetFinger(ids(one)[500], note(one, 0, 500).id, Finger.INDEX), one)
    same = [
        a is b
        for a, b in zip(
            one.arrangement.sections[0].measures,
            done.lesson.arrangement.sections[0].measures,
            strict=True,
        )
    ]
    assert same.count(False) == 1
    assert done.change == edit.Change("finger 1", replaced=(ids(one)[500],))
    assert done.lesson.arrangement.spans is one.arrangement.spans
    assert done.lesson.brief is one.brief


def test_commands_are_values() -> None:
    assert SetTitle("x") == SetTitle("x")
    with pytest.raises(AttributeError):
        SetTitle("x").title = "y"  # type: ignore[misc]
