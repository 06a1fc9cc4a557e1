"""One line under the sheet for the few keys that need a word: a measure's number, a metre."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import QCompleter, QHBoxLayout, QLineEdit, QWidget

from app.messages import Messages
from app.panels.parts import words
from core.model.errors import FootstoolError

MOST_CHARACTERS, MOST_WITH_WORDS = 60, 200
WIDTH, WIDTH_WITH_WORDS = 240, 420
SHOWN = 12  # rows of the list


@dataclass(frozen=True)
class Offers:
    """Words to choose from: what each row writes into the field, and what the row says.

    `hint` says how what has been typed so far goes on, or nothing.
    """

    rows: tuple[tuple[str, str], ...]
    hint: Callable[[str], str]


class AnswerLine(QWidget):
    """Hidden until something is asked. Return answers, Escape leaves it, both go back.

    What is refused keeps the line open, so that the answer can be mended. Where there are words to
    choose from they open in a list as long as nothing fits better: the arrows choose in it, Return
    takes what is chosen, Escape closes it first.
    """

    def __init__(self, messages: Messages) -> None:
        super().__init__()
        self._messages = messages
        self._answered: Callable[[str], object] = lambda _: None
        self._back: QWidget | None = None
        self._offers: Offers | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, 4, 0)
        row.setSpacing(8)
        self._question = words("", "strong")
        self.field = QLineEdit()
        row.addWidget(self._question)
        row.addWidget(self.field, 1)
        self._example = words("", "quiet")
        row.addWidget(self._example)
        row.addStretch(1)
        self.field.returnPressed.connect(self._answer)
        self.field.textChanged.connect(self._typed)
        self.hide()

    def ask(
        self, question: str, example: str, answered: Callable[[str], object], back: QWidget,
        offers: Offers | None = None,
    ) -> None:  # fmt: skip
        """Ask; `answered` gets the text, and may refuse it with a FootstoolError."""
        self._answered, self._back = answered, back
        self._messages.clear()
        self._question.setText(question)
        self.field.setAccessibleName(question)
        self._say = f"{example} · Enter answers, Escape leaves it"
        self._offer(offers)
        self.field.clear()
        self._example.setText(self._say)
        self.show()
        self.field.setFocus(Qt.FocusReason.OtherFocusReason)
        found = self.field.completer()
        if found is not None:
            found.complete()

    def _offer(self, offers: Offers | None) -> None:
        known, self._offers = self._offers, offers
        self.field.setMaxLength(MOST_CHARACTERS if offers is None else MOST_WITH_WORDS)
        self.field.setMaximumWidth(WIDTH if offers is None else WIDTH_WITH_WORDS)
        if offers is None:
            self.field.setCompleter(None)  # type: ignore[arg-type]
        elif offers is not known or self.field.completer() is None:
            self.field.setCompleter(_completer(offers, self.field))
            popup = _popup(self.field)
            if popup is not None:
                popup.setAccessibleName("Words to choose from")

    def _typed(self, text: str) -> None:
        if self._offers is not None:
            self._example.setText(self._offers.hint(text) or self._say)

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
        popup = _popup(self.field)
        if popup is not None:
            popup.hide()
        self.hide()
        if self._back is not None:
            self._back.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._messages.clear()
            self._leave()
        else:
            super().keyPressEvent(event)


def _completer(offers: Offers, field: QLineEdit) -> QCompleter:
    """The list under the field: it shows what a row says and writes what it stands for."""
    model = QStandardItemModel(field)
    for written, said in offers.rows:
        row = QStandardItem(said)
        row.setData(written, Qt.ItemDataRole.UserRole)
        model.appendRow(row)
    made = QCompleter(model, field)
    made.setCompletionRole(Qt.ItemDataRole.UserRole)
    made.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    made.setFilterMode(Qt.MatchFlag.MatchContains)
    made.setMaxVisibleItems(SHOWN)
    return made


def _popup(field: QLineEdit) -> QWidget | None:
    """The list of a field's words."""
    found = field.completer()
    return None if found is None else found.popup()
