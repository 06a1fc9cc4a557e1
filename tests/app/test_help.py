"""F1 lists every key of the table of actions."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel

from app.actions import native
from app.help import KeyHelp
from tests.app.conftest import Driver


def test_every_action_with_a_key_is_listed_under_its_title(bench: Driver) -> None:
    bench.press("F1")
    (dialog,) = bench.window.findChildren(KeyHelp)
    texts = [label.text() for label in dialog.findChildren(QLabel)]
    for action in bench.table.actions:
        kind, _, which = action.id.partition("-")
        if kind in ("fret", "finger") and which.isdecimal():
            continue  # the ten figures stand together as 0 to 9 and 0 to 4
        if action.keys:
            assert action.title in texts, action.id
            assert native(action.keys[0]) in texts, action.id
    assert {"0 to 9", "0 to 4", "X", "Fret ten and more, then a figure"} <= set(texts)
    dialog.accept()
