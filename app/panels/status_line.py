"""The line under the sheet: where the caret is, or a message until it is read."""

from __future__ import annotations

from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from app.messages import Messages, Tone
from app.panels.parts import button, set_tone, words

WORDS = {Tone.NOTE: "", Tone.REFUSED: "Not done.", Tone.FAILED: "Did not work."}


class StatusLine(QWidget):
    """Messages stand here until the next edit or until they are dismissed."""

    def __init__(self, messages: Messages) -> None:
        super().__init__()
        self._place = ""
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, 4, 0)
        row.setSpacing(8)
        self._tone = words("", "strong")
        self._text = words("", "quiet", wrap=True)
        self._entry = words("", "quiet")
        self._dismiss = button("Dismiss", messages.clear, "Dismiss the message", plain=True)
        row.addWidget(self._tone)
        row.addWidget(self._text, 1)
        row.addWidget(self._dismiss)
        row.addWidget(self._entry)
        # Two lines at all times: the sheet stays where it is when a sentence needs the second.
        self.setMinimumHeight(2 * self._text.fontMetrics().lineSpacing() + 2)
        self._message = ""
        messages.said.connect(self._show)
        messages.cleared.connect(self._clear)
        self._clear()

    @property
    def message(self) -> str:
        """The message that stands here; empty when there is none."""
        return self._message

    @property
    def place(self) -> str:
        """Where the caret is, in words."""
        return self._place

    @property
    def entry(self) -> str:
        """What the next figure does, in words."""
        return self._entry.text()

    def show_place(self, place: str, entry: str) -> None:
        """Where the caret is, in words, and what the next note will be."""
        self._place = place
        self._entry.setText(entry)
        if not self._message:
            self._text.setText(place)

    def _show(self, tone: str, sentence: str) -> None:
        self._message = sentence
        kind = Tone(tone)
        self._tone.setText(WORDS[kind])
        self._tone.setVisible(bool(WORDS[kind]))
        set_tone(self._tone, tone)
        set_tone(self._text, tone if kind is not Tone.NOTE else "note")
        self._text.setText(sentence)
        self._dismiss.setVisible(kind is not Tone.NOTE)
        self.setAccessibleName(f"{WORDS[kind]} {sentence}".strip())
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def _clear(self) -> None:
        self._message = ""
        self._tone.setVisible(False)
        self._dismiss.setVisible(False)
        set_tone(self._text, "")
        self._text.setText(self._place)
        self.setAccessibleName("Where the caret is")
