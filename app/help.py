"""The key help: every key by the focus it needs, drawn from the table of actions."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QGridLayout, QScrollArea, QVBoxLayout, QWidget

from app.actions import Action, Focus, Table, native
from app.panels.parts import button, words

ABOUT = (
    "A workbench that turns an old tune into a beginner's guitar lesson.",
    "One lesson file holds the arrangement and everything said about it; every page, "
    "sound and word is computed from it.",
    "Our code is free under the MIT licence; the fonts are under the SIL Open Font Licence.",
)


class KeyHelp(QDialog):
    """All keys of the bench."""

    def __init__(self, parent: QWidget, table: Table) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(940, 680)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.addWidget(words("Keys", "title"))
        layout.addWidget(
            words("What a key does depends only on what has the focus; Tab moves it.", "quiet")
        )
        area = QScrollArea()
        area.setWidgetResizable(True)
        inner = QWidget()
        grid = QGridLayout(inner)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        grid.setHorizontalSpacing(14)
        row = 0
        for focus in Focus:
            row = self._add(grid, row, focus, [a for a in table.actions if a.focus is focus])
        grid.setRowStretch(row, 1)
        area.setWidget(inner)
        layout.addWidget(area, 1)
        close = button("Close", self.accept, main=True)
        close.setDefault(True)
        layout.addWidget(close)
        self.setAccessibleName("Keys")

    @staticmethod
    def _add(grid: QGridLayout, row: int, focus: Focus, actions: list[Action]) -> int:
        rows = list(_lines(actions))
        if not rows:
            return row
        grid.addWidget(words(f"Keys {focus.value}", "heading"), row, 0, 1, 4)
        half = (len(rows) + 1) // 2
        for index, (keys, title) in enumerate(rows):
            column = 2 * (index // half)
            grid.addWidget(words(keys, "strong"), row + 1 + index % half, column)
            grid.addWidget(words(title), row + 1 + index % half, column + 1)
        return row + 1 + half


def _lines(actions: list[Action]) -> list[tuple[str, str]]:
    """Keys and title of each action; the figures stand together in one line."""
    found, figures = [], False
    for action in actions:
        kind, _, which = action.id.partition("-")
        if kind in ("fret", "finger") and which.isdecimal():
            if not figures:
                what = "Fret" if kind == "fret" else "Finger"
                span = "0 to 9" if what == "Fret" else "0 to 4"
                found.append((span, what))
            figures = True
        elif action.keys:
            # A second key of an action is the same one on another keyboard.
            found.append((native(action.keys[0]), action.title))
    return found
