"""The sections panel: what is written reaches the lesson, and the focus stays where it was put."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLineEdit, QSpinBox

from tests import build
from tests.app.conftest import Driver


@pytest.fixture
def form(bench: Driver) -> Driver:
    bench.session.open(build.lesson(["E4:whole"], ["F4:whole"], ["G4:whole"]), None)
    bench.window.choose("form")
    return bench


def sections(bench: Driver) -> list[tuple[str, str, int]]:
    return [(s.letter, s.title, s.times) for s in bench.lesson().arrangement.sections]


def test_tab_after_a_changed_title_goes_on_to_the_times(form: Driver) -> None:
    row = form.window.form.rows[0]
    row.title.setFocus()
    form.type("Verse")
    form.press("Tab")
    assert sections(form)[0] == ("A", "Verse", 1)
    assert form.focused is form.window.form.rows[0].times
    form.press("Up")
    assert sections(form)[0][2] == 2
    assert form.focused is form.window.form.rows[0].times
    assert form.window.form.rows[0].times.text() == "2 times"
    form.press("Tab")
    assert form.focused is form.window.form.rows[0].there


def test_enter_in_a_letter_keeps_the_focus(form: Driver, qtbot) -> None:
    row = form.window.form.rows[1]
    row.letter.setFocus()
    row.letter.selectAll()
    form.type("R")
    form.press("Return")
    assert sections(form)[1][0] == "R"
    assert form.focused is form.window.form.rows[1].letter
    form.table["undo"].run()
    assert sections(form)[1][0] == "B"
    qtbot.waitUntil(lambda: form.window.form.rows[1].letter.text() == "B")


def test_sections_that_go_and_come_are_shown(form: Driver, qtbot) -> None:
    form.window.form.rows[2].title.setFocus()
    form.window.form.rows[1].join.click()
    qtbot.waitUntil(lambda: [row.letter.text() for row in form.window.form.rows] == ["A", "C"])
    form.table["undo"].run()
    qtbot.waitUntil(lambda: [row.letter.text() for row in form.window.form.rows] == ["A", "B", "C"])
    assert not form.window.form.rows[0].join.isVisible()


def test_an_unnamed_section_does_not_look_like_a(form: Driver) -> None:
    row = form.window.form.rows[1]
    row.letter.setFocus()
    row.letter.clear()
    form.press("Tab")
    assert sections(form)[1][0] == ""
    assert row.letter.placeholderText() == "–"


@pytest.mark.parametrize("panel", ["form", "credit"])
@pytest.mark.parametrize("percent", [100, 150])
def test_what_an_empty_field_says_fits_into_it(form: Driver, panel: str, percent: int) -> None:
    form.look.scale_text(percent)
    form.window.choose(panel)
    for field in getattr(form.window, panel).findChildren(QLineEdit):
        if isinstance(field.parent(), QSpinBox) or not field.placeholderText():
            continue
        needed = field.fontMetrics().horizontalAdvance(field.placeholderText())
        assert needed <= field.contentsRect().width() - 14, field.placeholderText()
    form.look.scale_text(100)


def test_the_times_do_not_touch_their_border(form: Driver) -> None:
    inner = form.window.form.rows[0].times.findChild(QLineEdit)
    picture = inner.parent().grab().toImage()
    rows, ground = range(6, picture.height() - 6), picture.pixelColor(4, picture.height() // 2)
    empty = [x for x in range(2, 9) if all(picture.pixelColor(x, y) == ground for y in rows)]
    assert empty == [*range(2, 9)]
    needed = inner.fontMetrics().horizontalAdvance("99 times")
    assert needed + inner.textMargins().left() <= inner.width() - 8
