"""Small parts that panels are made of: labels in the three sizes, cards, rules, word buttons."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QScrollArea, QWidget


def words(text: str = "", kind: str = "", wrap: bool = False, name: str = "") -> QLabel:
    """A label; `kind` is title, heading, serif, quiet, strong or nothing for plain text.

    `name` is its object name, by which it can be found.
    """
    label = QLabel(text)
    label.setObjectName(name)
    label.setTextFormat(Qt.TextFormat.PlainText)
    if kind:
        label.setProperty("kind", kind)
    label.setWordWrap(wrap)
    return label


def card(name: str) -> QFrame:
    """A panel a shade off the ground, with a name for screen readers."""
    frame = QFrame()
    frame.setProperty("card", True)
    frame.setAccessibleName(name)
    return frame


def rule() -> QFrame:
    """A hairline between two parts of a panel."""
    line = QFrame()
    line.setProperty("rule", True)
    return line


def button(text: str, run: Callable[[], object], name: str = "", plain: bool = False,
           main: bool = False) -> QPushButton:  # fmt: skip
    """A button with words on it; `name` is for screen readers where the words are not enough."""
    made = QPushButton(text)
    made.setAutoDefault(False)
    made.setAccessibleName(name or text)
    made.setProperty("plain", plain)
    made.setProperty("main", main)
    made.clicked.connect(lambda _checked=False: run())
    return made


def set_tone(label: QLabel, tone: str) -> None:
    """Say in which tone a label speaks, and have the style sheet look again."""
    if label.property("tone") != tone:
        label.setProperty("tone", tone)
        repolish(label)


def repolish(widget: QWidget) -> None:
    """Apply the style sheet again after a property changed."""
    style = widget.style()
    style.unpolish(widget)
    style.polish(widget)


def plain_text(text: str) -> str:
    """One line of text without control characters, as a file name or a title may hold them."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def counted_measures(count: int) -> str:
    """``1 measure``, ``12 measures``."""
    return "1 measure" if count == 1 else f"{count} measures"


def scrolled(panel: QWidget) -> QScrollArea:
    """A panel that can be higher than its room."""
    area = QScrollArea()
    area.setWidget(panel)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area
