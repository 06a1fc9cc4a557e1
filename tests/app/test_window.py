"""Job card, form strip, hand panel, sheet and looks, driven as a teacher drives them."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QSpinBox

from app.caret import Caret
from app.table import A4, ONE_LINE
from app.theme import DARK, LIGHT
from core.display.items import Block
from core.model import walk
from tests import build


def ids(bench):
    return [m.id for m in walk.measures(bench.lesson().arrangement)]


def test_the_job_card_counts_and_leads_to_the_first_open_place(bench):
    card = bench.window.job_card
    # C5 on string 1, G4, C3 and D4 have a fret and no finger.
    assert card.row("fingers").state == "4 undecided"
    assert card.row("places").state == "2 unplaced"
    QTest.mouseClick(card.row("places"), Qt.MouseButton.LeftButton)
    assert bench.writing.caret.measure == ids(bench)[1]
    assert bench.writing.caret.on == "staff"
    assert bench.sheet.hasFocus()


def test_enter_on_a_line_and_n_for_the_next(bench):
    bench.press("F2")
    assert bench.window.job_card.row("fingers").hasFocus()
    bench.press("Return")
    notes = []
    for _ in range(5):
        notes.append(bench.writing.note_id())
        bench.press("N")
    assert len(set(notes[:4])) == 4
    assert notes[4] == notes[0], "and round again"


def test_counts_follow_an_edit(bench, qtbot):
    bench.window.choose("fingers")
    bench.press("1")
    qtbot.waitUntil(lambda: bench.window.job_card.row("fingers").state == "3 undecided")


def test_the_arrows_walk_the_job_card(bench):
    bench.press("F2", "Up")
    assert bench.window.job_card.row("places").hasFocus()


def test_credit_is_written_as_one_command(bench):
    bench.window.choose("credit")
    assert bench.window.credit.fields["credit"].hasFocus()
    bench.type("Trad., arr. T.")
    bench.press("Return")
    assert bench.lesson().source.credit == "Trad., arr. T."
    assert len(bench.session.history.done) == 1
    bench.window.focus_sheet()
    bench.press("Ctrl+Z")
    assert bench.lesson().source.credit == ""
    assert bench.window.credit.fields["credit"].text() in ("", "Trad., arr. T.")


def test_the_strip_is_in_proportion_to_time(bench):
    strip = bench.window.strip
    first, second = strip.block_boxes()
    assert first.width() == pytest.approx(2 * second.width(), rel=0.01)


def test_a_click_on_the_strip_goes_there(bench):
    strip = bench.window.strip
    QTest.mouseClick(strip, Qt.MouseButton.LeftButton, pos=strip.cell_box(2).center().toPoint())
    assert bench.writing.caret.measure == ids(bench)[2]
    assert strip.here == 2


def test_the_strip_by_keys(bench):
    bench.press("F3", "Right", "Ctrl+Right")
    assert bench.window.strip.here == 2
    bench.press("Ctrl+Left", "Return")
    assert bench.writing.caret.measure == ids(bench)[0]
    assert bench.sheet.hasFocus()
    cell = bench.window.strip.cell_at(1)
    assert "notes struck a second" in bench.window.strip.words(cell)


def test_the_neck_is_in_true_proportion(bench):
    """Fret n stands L(1 - 2^(-n/12)) from the nut: the 5th 163.1 mm on 650 mm."""
    neck = bench.window.hand.neck
    unit = (neck.fret_x(5) - neck.fret_x(0)) / 650.0
    for fret in range(6):
        expected = 650.0 * (1 - 2 ** (-fret / 12)) * unit / (1 - 2 ** (-5 / 12))
        assert neck.fret_x(fret) - neck.fret_x(0) == pytest.approx(expected)
    width = neck.string_y(6, neck.fret_x(0)) - neck.string_y(1, neck.fret_x(0))
    assert width / (neck.fret_x(5) - neck.fret_x(0)) == pytest.approx(43.0 / 163.06, rel=1e-3)


def test_the_hand_panel_says_what_each_finger_does(bench):
    bench.press("Right")
    words = bench.window.hand.duty_words()
    assert "1 plays F4, string 1 fret 1" in words
    assert "Measure 1, second beat" in bench.window.hand.accessibleDescription()


def test_high_places_move_the_window_of_the_neck(bench):
    bench.press("Ctrl+Right", "Right")
    assert bench.window.hand.neck.first_fret == 7


def test_a_click_places_the_caret(bench):
    bench.click(Caret(ids(bench)[1], 0, "tab", 5))
    caret = bench.writing.caret
    assert (caret.measure, caret.onset, caret.on, caret.string) == (ids(bench)[1], 0, "tab", 5)


def test_a_click_on_a_head_of_the_staff_is_on_that_note(bench):
    note = next(walk.measures(bench.lesson().arrangement)).voices[1][0].notes[0]
    column = bench.sheet.on_screen(Caret(ids(bench)[0], 0, "staff"))
    _, box = bench.session.layout.where(note.id)
    below = bench.sheet.pixels * (
        box.top + 0.5 - bench.session.layout.playhead(ids(bench)[0], 0)[2]
    )
    spot = QPointF(column.left() + bench.sheet.pixels * 0.95, column.top() + below)
    QTest.mouseClick(bench.sheet.viewport(), Qt.MouseButton.LeftButton, pos=spot.toPoint())
    assert bench.writing.caret.on == "staff"
    assert bench.writing.note_id() == note.id


def test_zoom_and_ways_to_show(bench):
    before = bench.sheet.pixels
    bench.press("Ctrl+=")
    assert bench.sheet.pixels > before
    assert not bench.sheet.fits
    bench.press("Ctrl+0")
    assert bench.sheet.pixels == pytest.approx(before)
    bench.press("Ctrl+3")
    assert bench.session.style == ONE_LINE
    bench.press("Ctrl+2")
    assert bench.session.style == A4
    bench.press("Ctrl+1", "Right", "3")
    assert not bench.sheet.caret_on_screen().isEmpty()


def test_the_caret_stays_in_sight(make_bench):
    bench = make_bench(build.lesson(["C4s5f15:quarter " * 4] * 60))
    bench.press("Ctrl+End")
    assert bench.sheet.viewport().rect().contains(bench.sheet.caret_on_screen().toRect())
    bench.press("PgUp", "PgUp")
    assert bench.sheet.viewport().rect().contains(bench.sheet.caret_on_screen().toRect())
    bench.press("Ctrl+3", "Ctrl+Home", "Ctrl+End")
    assert bench.sheet.viewport().rect().contains(bench.sheet.caret_on_screen().toRect())


def test_only_what_changed_is_painted_again(make_bench, monkeypatch):
    bench = make_bench(build.lesson(["C4s5f15:quarter " * 4] * 40))
    areas = []
    old = bench.session.layout
    viewport = bench.sheet.viewport()
    monkeypatch.setattr(viewport, "update", lambda *rect: areas.append(rect))
    bench.press("2")
    assert all(area for area in areas), "never the whole sheet"
    from app.sheet.view import changed_blocks

    changed = changed_blocks(old.sheets[0].blocks, bench.session.layout.sheets[0].blocks)
    assert 1 <= len(changed) <= 4


def test_changed_blocks_by_identity_and_value():
    a, b, c = (Block(0, y, (), key=y) for y in range(3))
    same = Block(0, 1, (), key=1)
    assert changed_blocks_of([a, b], [a, same]) == []
    assert changed_blocks_of([a, b], [a, c]) == [b, c]


def changed_blocks_of(before, after):
    from app.sheet.view import changed_blocks

    return changed_blocks(before, after)


def test_light_dark_and_larger_text(bench):
    look = bench.look
    assert look.theme is LIGHT
    bench.table["look-dark"].run()
    assert look.theme is DARK
    assert bench.window.palette().window().color().name() == DARK.ground
    bench.press("Ctrl+Alt+=")
    assert look.percent == 110
    look.scale_text(500)
    assert look.percent == 200
    look.scale_text(100)


def test_the_system_decides_unless_told(bench):
    bench.table["look-system"].run()
    assert bench.look.theme in (LIGHT, DARK)
    assert bench.table["look-system"].ticked()


def test_an_empty_measure_says_what_to_do(make_bench):
    bench = make_bench(build.lesson([""]))
    assert "type a figure" in bench.window.status.place
    bench.press("3")
    assert "fret 3" in bench.window.hand.accessibleDescription() or bench.session.modified


@pytest.mark.qt_log_ignore("This plugin does not support")
def test_the_context_menu_holds_only_what_can_be_done(bench):
    bench.sheet.asked_menu.emit(bench.sheet.mapToGlobal(QPoint(10, 10)))
    from PySide6.QtWidgets import QMenu

    menus = [m for m in bench.window.findChildren(QMenu) if m.isVisible()]
    texts = [a.text() for m in menus for a in m.actions()]
    assert any(text.startswith("Fermata") for text in texts)
    for menu in menus:
        menu.close()


def test_opening_the_demo(bench):
    bench.table["demo"].run()
    assert bench.lesson().title == "Rowing Home at Lantern Time"
    assert bench.label("saved") == "the demo, unchanged"


def test_text_at_200_percent_still_fits_a_small_window(bench):
    bench.look.scale_text(200)
    bench.window.resize(1280, 800)
    assert bench.window.minimumSizeHint().width() <= 1280
    bench.look.scale_text(100)


def test_how_often_a_section_is_played_can_be_read_in_the_form_panel(bench):
    bench.press("G")
    times = bench.window.form.findChildren(QSpinBox)
    assert [box.text() for box in times] == ["1 time", "1 time"]
    for box in times:
        assert box.lineEdit().width() > box.fontMetrics().horizontalAdvance(box.text())
