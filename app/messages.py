"""The one way from an error to the user: a sentence on the bench's line, never a traceback."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum

from PySide6.QtCore import QObject, Signal

from app.sentences import os_sentence
from core.model.errors import FootstoolError


class Tone(StrEnum):
    """How a message is meant; also said in a word before the sentence, not by colour alone."""

    NOTE = "note"
    REFUSED = "refused"
    FAILED = "failed"


class Messages(QObject):
    """Takes sentences for the user and hands them to whoever shows them.

    `said(tone, sentence)`: something to read now. `cleared()`: nothing any more.
    """

    said = Signal(str, str)
    cleared = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._fleeting = False
        self.said.connect(self._standing)

    def _standing(self, tone: str, _sentence: str) -> None:
        self._fleeting = tone != Tone.FAILED

    def note(self, sentence: str) -> None:
        """Something that went well, or a hint."""
        self.said.emit(Tone.NOTE, sentence)

    def refused(self, sentence: str) -> None:
        """An edit that cannot be carried out; nothing changed."""
        self.said.emit(Tone.REFUSED, sentence)

    def failed(self, sentence: str) -> None:
        """A file, a device or an export that did not work."""
        self.said.emit(Tone.FAILED, sentence)

    def clear(self) -> None:
        self._fleeting = False
        self.cleared.emit()

    @contextmanager
    def guarded(self, tone: Tone = Tone.FAILED) -> Iterator[None]:
        """Turn the family of Footstool's errors, and the system's about files, into sentences."""
        try:
            yield
        except FootstoolError as error:
            self.said.emit(tone, str(error))
        except OSError as error:
            self.said.emit(Tone.FAILED, os_sentence(error))

    def attempt(self, function: Callable[[], object]) -> None:
        """Run an action; what goes wrong becomes a sentence.

        What was said of the action before is over; what failed stays until it is dismissed.
        """
        if self._fleeting:
            self.clear()
        with self.guarded(Tone.REFUSED):
            function()
