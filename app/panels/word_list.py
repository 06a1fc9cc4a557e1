"""The list of words over a field: what fits the text so far, for those who do not know the words.

It lies in the window and never takes the focus, so that typing goes on in the field.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtWidgets import QLineEdit, QListWidget, QListWidgetItem, QWidget

MOST_ROWS = 12


@dataclass(frozen=True)
class Offers:
    """Words to choose from: what each row writes into the field, and what the row says.

    `hint` says how what has been typed so far goes on, or nothing.
    """

    rows: tuple[tuple[str, str], ...]
    hint: Callable[[str], str]

    def fitting(self, typed: str) -> list[tuple[str, str]]:
        """The rows with the text in what they write: first those that begin with it."""
        wanted = typed.strip().lower()
        found = [row for row in self.rows if wanted in row[0]]
        return sorted(found, key=lambda row: not row[0].startswith(wanted))


class WordList(QListWidget):
    """Shows what fits; `chosen(written)` when a row is clicked."""

    chosen = Signal(str)

    def __init__(self, window: QWidget, field: QLineEdit) -> None:
        super().__init__(window)
        self._window, self._field = window, field
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Words to choose from")
        self.itemClicked.connect(lambda item: self.chosen.emit(_written(item)))
        self.hide()

    @property
    def current(self) -> str | None:
        """What the row the arrows have come to writes; None where they have not."""
        item = self.currentItem() if self.isVisible() else None
        return _written(item) if item is not None else None

    def offer(self, offers: Offers, typed: str) -> None:
        """Show the rows that fit; nothing where the text is past every one of them."""
        rows = offers.fitting(typed)
        self.clear()
        for written, said in rows:
            item = QListWidgetItem(said)
            item.setData(Qt.ItemDataRole.UserRole, written)
            self.addItem(item)
        self.setVisible(bool(rows))
        self.place()

    def move_by(self, step: int) -> str:
        """The arrows: so many rows on; the words of the row there."""
        last = self.count() - 1
        row = self.currentRow()
        begin = (0 if step > 0 else last) if row < 0 else row + step
        self.setCurrentRow(max(0, min(last, begin)))
        return self.currentItem().text()

    def place(self) -> None:
        """Above the field, as high as its rows."""
        rows = min(MOST_ROWS, self.count())
        height = rows * max(1, self.sizeHintForRow(0)) + 2 * self.frameWidth() + 8
        spot = self._field.mapTo(self._window, QPoint(0, 0))
        height = min(height, spot.y())
        self.setGeometry(spot.x(), spot.y() - height - 2, self._field.width(), height)
        self.raise_()


def _written(item: QListWidgetItem) -> str:
    return str(item.data(Qt.ItemDataRole.UserRole))
