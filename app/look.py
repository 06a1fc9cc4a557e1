"""The look of the bench: which theme, how large the text; told to every widget in one signal."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontDatabase, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from app.stylesheet import stylesheet
from app.theme import DARK, LIGHT, Theme
from core.model.errors import BadInput
from resources import faces

SERIF = "Source Serif 4"
SANS = "Source Sans 3"

# Three sizes, in pixels at 100 %.
SIZES = MappingProxyType({"small": 13, "body": 15, "title": 22})
SMALLEST, LARGEST, STEP = 80, 200, 10

Choice = Literal["system", "light", "dark"]


class Look(QObject):
    """Theme and text size. `changed` is emitted after both the application and this hold them."""

    changed = Signal()

    def __init__(self, choice: Choice = "system", percent: int = 100) -> None:
        super().__init__()
        self._choice: Choice = choice
        self._percent = percent
        _load_fonts()
        hints = QGuiApplication.styleHints()
        hints.colorSchemeChanged.connect(self._system_changed)
        self._apply()

    @property
    def choice(self) -> Choice:
        return self._choice

    @property
    def percent(self) -> int:
        """The text size, 80 to 200."""
        return self._percent

    @property
    def theme(self) -> Theme:
        if self._choice == "system":
            scheme = QGuiApplication.styleHints().colorScheme()
            return DARK if scheme is Qt.ColorScheme.Dark else LIGHT
        return DARK if self._choice == "dark" else LIGHT

    def choose(self, choice: Choice) -> None:
        """Follow the system, or stay light or dark."""
        self._choice = choice
        self._apply()

    def scale_text(self, percent: int) -> None:
        """Set the text size, held between 80 and 200 percent."""
        self._percent = max(SMALLEST, min(LARGEST, percent))
        self._apply()

    def px(self, pixels: float) -> int:
        """A length that grows with the text."""
        return round(pixels * self._percent / 100)

    def font(self, size: str = "body", serif: bool = False, bold: bool = False,
             italic: bool = False) -> QFont:  # fmt: skip
        """A font for hand-painted widgets, at the present text size."""
        font = QFont(SERIF if serif else SANS)
        font.setPixelSize(self.px(SIZES[size]))
        font.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
        font.setItalic(italic)
        return font

    def colour(self, token: str) -> QColor:
        """A colour of the theme by its name."""
        return QColor(getattr(self.theme, token))

    def section_tint(self, index: int) -> QColor:
        tints = self.theme.sections
        return QColor(tints[index % len(tints)])

    def _system_changed(self) -> None:
        if self._choice == "system":
            self._apply()

    def _apply(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.setPalette(_palette(self.theme))
            app.setFont(self.font())
            app.setStyleSheet(stylesheet(self.theme, {k: self.px(v) for k, v in SIZES.items()}))
        self.changed.emit()


def _load_fonts() -> None:
    """Make the shipped text fonts known to Qt; raises BadInput when one cannot be loaded."""
    for face, file in faces.paths().items():
        if face != "music" and QFontDatabase.addApplicationFont(str(file)) < 0:
            raise BadInput(f"The font {file.name} cannot be loaded; reinstall Footstool.")


def _palette(theme: Theme) -> QPalette:
    palette = QPalette()
    role = QPalette.ColorRole
    for name, colour in (
        (role.Window, theme.ground), (role.WindowText, theme.ink), (role.Base, theme.paper),
        (role.AlternateBase, theme.panel), (role.Text, theme.ink), (role.Button, theme.panel),
        (role.ButtonText, theme.ink), (role.Highlight, theme.accent),
        (role.HighlightedText, theme.on_accent), (role.ToolTipBase, theme.panel),
        (role.ToolTipText, theme.ink), (role.PlaceholderText, theme.pencil),
        (role.Link, theme.accent), (role.Mid, theme.hairline), (role.Dark, theme.hairline),
    ):  # fmt: skip
        palette.setColor(name, QColor(colour))
    for name in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, name, QColor(theme.pencil))
    return palette
