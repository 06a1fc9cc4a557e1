"""One line under the sheet for the few keys that need a word: a measure's number, a metre."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from app.messages import Messages
from app.panels.parts import words
from core.model.errors import FootstoolError

MOST_CHARACTERS = 60


class AnswerLine(QWidget):
    """Hidden until something is asked. Return answers, Escape leaves it, both go back.

    What is refused keeps the line open, so that the answer can be mended.
    """

    def __init__(self, messages: Messages) -> None:
        super().__init__()
        self._messages = messages
        self._answered: Callable[[str], object] = lambda _: None
        self._back: QWidget | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, 4, 0)
        row.setSpacing(8)
        self._question = words("", "strong")
        self.field = QLineEdit()
        self.field.setMaxLength(MOST_CHARACTERS)
        self.field.setMaximumWidth(240)
        row.addWidget(self._question)
        row.addWidget(self.field)
        self._example = words("", "quiet")
        row.addWidget(self._example)
        row.addStretch(1)
        self.field.returnPressed.connect(self._answer)
        self.hide()

    def ask(
        self, question: str, example: str, answered: Callable[[str], object], back: QWidget
    ) -> None:
        """Ask; `answered` gets the text, and may refuse it with a FootstoolError."""
        self._answered, self._back = answered, back
        self._messages.clear()
        self._question.setText(question)
        self.field.setAccessibleName(question)
        self._example.setText(f"{example} · Enter answers, Escape leaves it")
        self.field.clear()
        self.show()
        self.field.setFocus(Qt.FocusReason.OtherFocusReason)

    def _answer(self) -> None:
        try:
            self._answered(self.field.text().strip())
        except FootstoolError as error:
            self._messages.refused(str(error))
            self.field.selectAll()
        else:
            self._leave()

    def _leave(self) -> None:
        self.hide()
        if self._back is not None:
            self._back.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._messages.clear()
            self._leave()
        else:
            super().keyPressEvent(event)
