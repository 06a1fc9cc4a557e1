"""One line under the sheet for the few keys that need a word: a measure's number, a sign."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent, QMoveEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from app.messages import Messages
from app.panels.parts import words
from app.panels.word_list import MOST_ROWS, Offers, WordList
from core.model.errors import FootstoolError

MOST_CHARACTERS, MOST_WITH_WORDS = 60, 200
WIDTH, WIDTH_WITH_WORDS = 240, 400
ARROWS = {
    Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1, Qt.Key.Key_PageDown: MOST_ROWS - 1,
    Qt.Key.Key_PageUp: 1 - MOST_ROWS,
}  # fmt: skip


class AnswerLine(QWidget):
    """Hidden until something is asked. Return answers, Escape leaves it, both go back.

    What is refused keeps the line open, so that the answer can be mended. Where there are words to
    choose from a list of those that fit opens over the field: the arrows walk in it, Return takes
    the row they are on, and waits for more where more must follow.
    """

    def __init__(self, messages: Messages) -> None:
        super().__init__()
        self._messages = messages
        self._answered: Callable[[str], object] = lambda _: None
        self._back: QWidget | None = None
        self._offers: Offers | None = None
        self._list: WordList | None = None
        self._say = ""
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, 4, 0)
        row.setSpacing(8)
        self._question = words("", "strong")
        self.field = QLineEdit()
        row.addWidget(self._question)
        row.addWidget(self.field)
        self._example = words("", "quiet")
        self._example.setMinimumWidth(1)  # it gives way first in a narrow window
        row.addWidget(self._example)
        row.addStretch(1)
        self.field.returnPressed.connect(self._answer)
        self.field.textChanged.connect(self._typed)
        self.field.installEventFilter(self)
        self.hide()

    def ask(
        self, question: str, example: str, answered: Callable[[str], object], back: QWidget,
        offers: Offers | None = None,
    ) -> None:  # fmt: skip
        """Ask; `answered` gets the text, and may refuse it with a FootstoolError."""
        self._answered, self._back, self._offers = answered, back, None
        self._messages.clear()
        self._question.setText(question)
        self.field.setAccessibleName(question)
        self._say = f"{example} · Enter answers, Escape leaves it"
        self._example.setText(self._say)
        self.field.setMaxLength(MOST_CHARACTERS if offers is None else MOST_WITH_WORDS)
        self.field.setFixedWidth(WIDTH if offers is None else WIDTH_WITH_WORDS)
        self.field.clear()
        self._offers = offers
        self.show()
        self.field.setFocus(Qt.FocusReason.OtherFocusReason)
        if offers is not None:
            self._typed("")

    def _typed(self, text: str) -> None:
        if self._offers is None:
            return
        self._example.setText(self._offers.hint(text) or self._say)
        self.field.setAccessibleDescription("")
        if self._list is None:
            self._list = WordList(self.window(), self.field)
            self._list.chosen.connect(self._take)
        self._list.offer(self._offers, text)

    def _take(self, written: str) -> None:
        """A row of the list: it is the answer, or its beginning."""
        self.field.setText(written)
        if written.endswith(" "):
            self._hide_list()
        else:
            self._answer()

    def _answer(self) -> None:
        try:
            self._answered(self.field.text().strip())
        except FootstoolError as error:
            self._messages.refused(str(error))
            if self._offers is None:
                self.field.selectAll()
        else:
            self._leave()

    def _leave(self) -> None:
        self._hide_list()
        self.hide()
        if self._back is not None:
            self._back.setFocus(Qt.FocusReason.OtherFocusReason)

    def _hide_list(self) -> None:
        if self._list is not None:
            self._list.hide()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The keys of the field that the list takes; it goes when the field loses the focus."""
        if event.type() is QEvent.Type.FocusOut:
            self._hide_list()
        if isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress:
            return self._walked(Qt.Key(event.key()))
        return super().eventFilter(watched, event)

    def _walked(self, key: Qt.Key) -> bool:
        """Whether the list took a key."""
        shown = self._list
        if shown is None or self._offers is None:
            return False
        if key in ARROWS:
            if not shown.isVisible():
                shown.offer(self._offers, self.field.text())
            if shown.isVisible():
                self.field.setAccessibleDescription(shown.move_by(ARROWS[key]))
            return True
        chosen = shown.current
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and chosen is not None:
            self._take(chosen)
            return True
        return False

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_list()

    def moveEvent(self, event: QMoveEvent) -> None:
        super().moveEvent(event)
        self._place_list()

    def _place_list(self) -> None:
        if self._list is not None and self._list.isVisible():
            self._list.place()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._messages.clear()
            self._leave()
        else:
            super().keyPressEvent(event)
