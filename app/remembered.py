"""What the bench remembers of its window from one day to the next: look, text size, window size.

It belongs to the user, not to a lesson: a small INI file in the platform's folder for settings.
What cannot be read or written is passed over; the bench then opens as on the first day.
"""

from __future__ import annotations

from pathlib import Path
from typing import get_args

from PySide6.QtCore import QSettings, QSize, Qt
from PySide6.QtWidgets import QWidget

from app.look import LARGEST, SMALLEST, Choice, Look

FIRST_SIZE = QSize(1280, 800)
SMALLEST_SIDE, LARGEST_SIDE = 400, 16_000


class Remembered:
    """Reads and writes the settings in one file, ``bench.ini``."""

    def __init__(self, file: Path) -> None:
        self._settings = QSettings(str(file), QSettings.Format.IniFormat)

    @property
    def choice(self) -> Choice:
        """Light, dark, or as the system is."""
        text = self._settings.value("look")
        return next((choice for choice in get_args(Choice) if choice == text), "system")

    @property
    def percent(self) -> int:
        """The size of the text."""
        return self._number("text_percent", SMALLEST, LARGEST) or 100

    def size(self, screen: QSize) -> QSize:
        """The size of the window, no larger than the screen."""
        width = self._number("window_width", SMALLEST_SIDE, LARGEST_SIDE)
        height = self._number("window_height", SMALLEST_SIDE, LARGEST_SIDE)
        wanted = QSize(width, height) if width and height else FIRST_SIZE
        return wanted.boundedTo(screen) if screen.isValid() else wanted

    def show(self, window: QWidget) -> None:
        """Show a window as large as it was when it was closed."""
        window.resize(self.size(window.screen().availableSize()))
        if self._settings.value("window_maximised") == "true":
            window.setWindowState(Qt.WindowState.WindowMaximized)
        window.show()

    def keep(self, look: Look, window: QWidget) -> None:
        """Write down how the bench is now."""
        size = window.normalGeometry().size() if window.isMaximized() else window.size()
        for name, value in (
            ("look", look.choice), ("text_percent", str(look.percent)),
            ("window_width", str(size.width())), ("window_height", str(size.height())),
            ("window_maximised", "true" if window.isMaximized() else "false"),
        ):  # fmt: skip
            self._settings.setValue(name, value)
        self._settings.sync()

    def _number(self, name: str, lowest: int, highest: int) -> int | None:
        text = self._settings.value(name)
        if not isinstance(text, str) or not text.isdecimal() or len(text) > 6:
            return None
        return max(lowest, min(highest, int(text)))
