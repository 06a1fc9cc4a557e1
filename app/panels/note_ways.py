"""The lower half of the hand panel: ways to play the note at the caret with their prices, why not
another, and the spots that no hand can play as written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QListWidget,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.look import Look
from app.messages import Messages
from app.panels.parts import button, rule, set_tone, words
from app.suggesting import Suggesting
from app.thinking.questions import Clash, Priced
from app.weighing import Weighing, price_words, row_words

MOST_ROWS = 6  # rows seen without scrolling
MARGIN = 7  # pixels round the rows: the frame and the padding of the style sheet
MOST_CLASHES = 3  # spots told in full; the others are counted
CAUTION = (
    "Stretches are reckoned from the spans of the hand. Where a hand hurts, tingles or tires: "
    "stop and rest. A teacher in the room, or a doctor, knows better than any figure here."
)


@dataclass(frozen=True)
class Going:
    """What the panel may do beside its own: name a measure, go back to the sheet, open the
    settings of level and hand."""

    name: Callable[[int], str]
    sheet: Callable[[], None]
    level: Callable[[], None]


class WaysList(QListWidget):
    """Rows to walk with the arrows; Enter takes one, which the owner is told."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWordWrap(True)
        self.setMinimumWidth(0)

    def fit(self) -> None:
        """Just as high as the rows are, up to some."""
        rows = min(MOST_ROWS, self.count())
        if rows == 0:
            return
        self.doItemsLayout()  # rows may have wrapped
        first, last = (self.visualItemRect(self.item(row)) for row in (0, rows - 1))
        self.setFixedHeight(last.bottom() - first.top() + 2 * MARGIN)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.fit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if self.currentRow() < 0 and self.count():
            self.setCurrentRow(0)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        row = self.currentItem()
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and row is not None:
            self.itemActivated.emit(row)
        else:
            super().keyPressEvent(event)


class NoteWays(QWidget):
    """Shows what `Weighing` and `Suggesting` know. The arrows ask why, Enter pins."""

    def __init__(
        self, weighing: Weighing, suggesting: Suggesting, messages: Messages, look: Look,
        going: Going,
    ) -> None:  # fmt: skip
        super().__init__()
        self._weighing, self._suggesting = weighing, suggesting
        self._messages, self._look, self._going = messages, look, going
        self._rows: tuple[Priced, ...] = ()
        self._clashes: tuple[Clash, ...] = ()
        self._told: list[QWidget] = []
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.timeout.connect(self._reveal)
        self.setAccessibleName("Ways to play the note at the caret")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        self._add_rows(layout)
        self._add_spots(layout)
        self._level_line(layout)
        layout.addWidget(words(CAUTION, "quiet", wrap=True))
        weighing.changed.connect(self._show)
        suggesting.changed.connect(self._show_clashes)
        self._show()
        self._show_clashes()

    def _add_rows(self, layout: QVBoxLayout) -> None:
        self.title = words("", "heading")
        layout.addWidget(self.title)
        self.hint = words("", "quiet", wrap=True)
        layout.addWidget(self.hint)
        self.list = WaysList("Ways to play the note, the easiest first")
        self.list.setToolTip("The figure is how much dearer the measures around it become")
        self.list.currentRowChanged.connect(self._row_chosen)
        self.list.itemActivated.connect(lambda _: self._pin())
        layout.addWidget(self.list)
        self.reason = words("", "serif", wrap=True)
        layout.addWidget(self.reason)

    def _add_spots(self, layout: QVBoxLayout) -> None:
        self.spots = QWidget()
        self._spots = QVBoxLayout(self.spots)
        self._spots.setContentsMargins(0, 0, 0, 0)
        self._spots.setSpacing(2)
        layout.addWidget(self.spots)

    def _level_line(self, layout: QVBoxLayout) -> None:
        self._parting = rule()
        layout.addWidget(self._parting)
        self.level = words("", "quiet", wrap=True)
        layout.addWidget(self.level)
        change = button("Level and hand", self._going.level, plain=True)
        layout.addWidget(change, 0, Qt.AlignmentFlag.AlignLeft)

    # ------------------------------------------------------------------ showing

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._weighing.refresh()

    def _show(self) -> None:
        note = self._weighing.note
        self.title.setText(self._weighing.title)
        self.title.setVisible(note is not None)
        self.list.fit()
        self.reason.setText(self._weighing.reason)
        self.reason.setVisible(bool(self._weighing.reason))
        self.list.setAccessibleDescription(self._weighing.reason)
        if self._rows != self._weighing.rows:
            self._rows = self._weighing.rows
            self._fill()
        self.list.setVisible(bool(self._rows))
        self._part()
        self.hint.setVisible(note is not None)
        known = "Easiest first. The arrows ask why, Enter pins."
        self.hint.setText(known if self._rows else "No other way is known yet.")
        if self.reason.text() and self.list.hasFocus():
            self._later.start()  # after the new words have their place

    def _reveal(self) -> None:
        area = self._area()
        if area is not None:
            area.ensureWidgetVisible(self.reason, 0, 8)

    def _area(self) -> QScrollArea | None:
        """The scrolled area this stands in."""
        parent = self.parentWidget()
        while parent is not None and not isinstance(parent, QScrollArea):
            parent = parent.parentWidget()
        return parent

    def _fill(self) -> None:
        kept = self.list.hasFocus()
        self.list.blockSignals(True)
        self.list.clear()
        for row in self._rows:
            now = ", as it is" if row.now else ""
            self.list.addItem(f"{price_words(row)}:  {row_words(row)}{now}")
        self.list.setCurrentRow(0 if kept else -1)
        self.list.blockSignals(False)
        self.list.fit()

    def _show_clashes(self) -> None:
        found = self._suggesting.clashes
        if found != self._clashes:
            self._clashes = found
            for shown in self._told:
                self._spots.removeWidget(shown)
                shown.deleteLater()
            self._fill_spots(found)
        self.spots.setVisible(bool(found))
        self._part()

    def _part(self) -> None:
        """A rule over the level, where something stands between it and what the hand does."""
        self._parting.setHidden(self._weighing.note is None and not self._clashes)

    def _fill_spots(self, found: tuple[Clash, ...]) -> None:
        number = "1 spot" if len(found) == 1 else f"{len(found)} spots"
        head = words(f"! {number} cannot be played as written", "strong", wrap=True)
        set_tone(head, "warning")
        self._told = [head] if found else []
        for clash in found[:MOST_CLASHES]:
            name = self._going.name(clash.measure)
            told = f"{name[:1].upper()}{name[1:]}: {clash.words} {clash.way_out}"
            self._told.append(words(told, wrap=True))
            self._told.append(button(f"Go to {name}", partial(self._go, clash), plain=True))
        if len(found) > MOST_CLASHES:
            self._told.append(words(f"and {len(found) - MOST_CLASHES} more", "quiet"))
        for widget in self._told:
            self._spots.addWidget(widget)
            if isinstance(widget, QPushButton):
                self._spots.setAlignment(widget, Qt.AlignmentFlag.AlignLeft)

    def show_level(self, text: str) -> None:
        """The level and the hand in a line."""
        self.level.setText(text)

    # ------------------------------------------------------------------ doing

    def _row_chosen(self, index: int) -> None:
        if 0 <= index < len(self._rows):
            self._weighing.why_row(self._rows[index])

    def _pin(self) -> None:
        index = self.list.currentRow()
        if 0 <= index < len(self._rows):
            row = self._rows[index]
            self._messages.attempt(lambda: self._weighing.pin(row))
            self._going.sheet()

    def _go(self, clash: Clash) -> None:
        self._messages.attempt(lambda: self._suggesting.go_to(clash))
        self._going.sheet()
