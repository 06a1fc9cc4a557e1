"""The list of words over the answer line: what fits, the arrows, Return, the mouse."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.panels.word_list import Offers, WordList
from app.table_signs import offers


def shown(bench) -> list[str]:
    """The rows that can be seen."""
    found = bench.window.findChild(WordList)
    if found is None or not found.isVisible():
        return []
    return [found.item(row).text() for row in range(found.count())]


def test_what_begins_with_the_text_comes_first():
    rows = (("half barre ", "h"), ("barre ", "b"), ("slur", "s"))
    assert Offers(rows, str).fitting("Ba") == [("barre ", "b"), ("half barre ", "h")]


def test_every_word_is_offered_when_the_line_opens(bench):
    bench.press(";")
    assert len(shown(bench)) == len(offers().rows)
    bench.type("hamm")
    assert shown(bench) == [
        "hammer-on  ·  to a higher note on the string", "no hammer-on  ·  takes it off"
    ]  # fmt: skip
    bench.type("zz")
    assert shown(bench) == []


def test_the_arrows_choose_and_return_takes(bench):
    bench.press(";")
    bench.type("stac")
    bench.press("Down")
    assert bench.window.answer.field.accessibleDescription() == "staccato  ·  short"
    bench.press("Return")
    assert bench.sheet.hasFocus()
    assert bench.message() == "Done: staccato."
    assert shown(bench) == []


def test_a_word_that_needs_more_waits_for_it(bench):
    bench.press(";")
    bench.type("chor")
    bench.press("Down", "Return")
    field = bench.window.answer.field
    assert (field.text(), field.hasFocus()) == ("chord ", True)
    assert bench.answer("Am x02310")
    assert bench.sheet.hasFocus()
    assert bench.lesson().arrangement.sections[0].measures[0].marks


def test_up_begins_at_the_end_and_a_closed_list_opens_again(bench):
    bench.press(";")
    bench.type("chord ")
    bench.press("Return")  # refused: the line stays
    assert "chord Am x02310" in bench.message()
    bench.press("Up")
    assert bench.window.answer.field.accessibleDescription() == "no chord  ·  takes it off"


def test_a_click_takes_a_row(bench):
    bench.press(";")
    bench.type("tenu")
    found = bench.window.findChild(WordList)
    spot = found.visualItemRect(found.item(0)).center()
    QTest.mouseClick(found.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    assert bench.message() == "Done: tenuto."


@pytest.mark.parametrize("key", ["Escape", "F4"])
def test_the_list_goes_with_the_line(bench, key):
    before = bench.lesson()
    bench.press(";", key)
    assert bench.sheet.hasFocus()
    assert shown(bench) == []
    assert bench.lesson() is before


def test_other_questions_have_no_list(bench):
    bench.press(";", "Escape", "Shift+Z")
    bench.type("1")
    assert shown(bench) == []
    bench.press("Down")
    assert shown(bench) == []


def test_the_list_lies_over_the_field_and_inside_the_window(bench, qtbot):
    bench.press(";")
    qtbot.wait(20)
    found, field = bench.window.findChild(WordList), bench.window.answer.field
    top = field.mapTo(bench.window, field.rect().topLeft())
    assert found.geometry().bottom() < top.y()
    assert bench.window.rect().contains(found.geometry())
