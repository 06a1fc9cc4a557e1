"""The table of actions: no two keys clash, Tab always moves the focus, everything has a name."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QAbstractButton, QLineEdit, QSlider, QSpinBox, QWidget

from app.actions import RESERVED, Action, Focus, Table, clashes
from app.help import KeyHelp


def act(name: str, key: str, focus: Focus) -> Action:
    return Action(name, name, (key,), focus, lambda: None)


def test_the_real_table_has_no_clash(bench):
    assert list(clashes(bench.table.actions)) == []


def test_clashes_are_found_where_keys_act_together():
    with pytest.raises(ValueError, match="3 means both a and b"):
        Table([act("a", "3", Focus.TAB), act("b", "3", Focus.SHEET)])
    with pytest.raises(ValueError, match="Ctrl"):
        Table([act("a", "Ctrl+A", Focus.STRIP), act("b", "Ctrl+A", Focus.ANYWHERE)])
    assert Table([act("a", "3", Focus.TAB), act("b", "3", Focus.STAFF)])


@pytest.mark.parametrize("key", RESERVED)
def test_tab_cannot_be_taken(key):
    with pytest.raises(ValueError, match="moves the focus"):
        Table([act("a", key, Focus.SHEET)])


def test_every_key_is_written_as_qt_writes_it(bench):
    for action in bench.table.actions:
        for key in action.keys:
            portable = QKeySequence(key).toString(QKeySequence.SequenceFormat.PortableText)
            assert portable == key, (action.id, key, portable)


def test_keys_without_a_modifier_act_only_where_something_has_the_focus(bench):
    for action in bench.table.actions:
        if action.focus is Focus.ANYWHERE:
            for key in action.keys:
                assert "+" in key or key.startswith("F"), (action.id, key)


def test_tab_moves_the_focus_everywhere(bench, qtbot):
    """Once round with Tab and back with Shift+Tab: every stop takes and gives the focus."""
    window = bench.window
    seen = [window.focusWidget()]
    for _ in range(80):
        bench.press("Tab")
        seen.append(window.focusWidget())
        if seen[-1] is seen[0]:
            break
    assert seen[-1] is seen[0]
    names = {w.accessibleName() for w in seen if w is not None}
    assert bench.sheet in seen
    assert window.strip in seen
    assert "Loop" in names
    bench.press("Shift+Tab")
    assert window.focusWidget() is seen[-2]


def test_every_control_has_a_name_for_screen_readers(bench):
    for key in ("credit", "form", "fingers"):
        bench.window.choose(key)
        for widget in bench.window.findChildren(QWidget):
            kinds = (QAbstractButton, QLineEdit, QSlider, QSpinBox)
            inner = widget.objectName().startswith("qt_") or isinstance(widget.parent(), QSpinBox)
            if isinstance(widget, kinds) and widget.isVisible() and not inner:
                assert widget.accessibleName(), widget


def test_menus_hold_what_the_table_says(bench):
    titles = [action.text() for action in bench.window.menuBar().actions()]
    assert titles == list(bench.table.menus())
    undo = bench.window.findChild(QAction, "undo")
    assert not undo.isEnabled()
    bench.press("3")
    assert undo.isEnabled()
    assert undo.shortcut().toString() == "Ctrl+Z"


def test_key_help_shows_every_key(bench, qtbot):
    bench.press("F1")
    help_window = bench.window.findChild(KeyHelp)
    texts = {label.text() for label in help_window.findChildren(QWidget) if hasattr(label, "text")}
    for action in bench.table.actions:
        if action.keys and not action.id.startswith(("fret-", "finger-")):
            assert any(action.title == text for text in texts), action.id
    help_window.close()


def test_hints_name_the_real_keys(bench):
    assert bench.table.hint("next", "next open place") == "N next open place"
