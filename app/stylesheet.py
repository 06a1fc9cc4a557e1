"""The style sheet of the bench, from the tokens of a theme."""

from __future__ import annotations

from collections.abc import Mapping
from string import Template

from app.theme import Theme

_TEXT = Template("""
* { font-family: "Source Sans 3"; font-size: ${body}px; color: $ink; outline: none; }
QMainWindow, QDialog, #bench { background: $ground; }
QToolTip { background: $panel; color: $ink; border: 1px solid $hairline; padding: 4px; }
QMenuBar { background: $ground; }
QMenuBar::item { padding: 4px 10px; border-radius: 3px; background: transparent; }
QMenuBar::item:selected { background: $panel; }
QMenu { background: $paper; border: 1px solid $hairline; padding: 4px; }
QMenu::item { padding: 4px 24px 4px 24px; border-radius: 3px; }
QMenu::item:selected { background: $accent; color: $on_accent; }
QMenu::item:disabled { color: $pencil; }
QMenu::separator { height: 1px; background: $hairline; margin: 4px 8px; }
QMenu::indicator { width: 12px; height: 12px; left: 6px; }
QMenu::indicator:checked { image: none; background: $accent; border-radius: 6px;
    width: 8px; height: 8px; }

QFrame[card="true"] { background: $panel; border: 1px solid $hairline; border-radius: 4px; }
QFrame[card="true"] QLabel, QFrame[card="true"] QCheckBox { background: transparent; border: none; }
QFrame[rule="true"] { background: $hairline; border: none; max-height: 1px; min-height: 1px; }
#listening { background: $panel; border-top: 1px solid $hairline; }

QLabel[kind="title"] { font-family: "Source Serif 4"; font-size: ${title}px; font-weight: 700; }
QLabel[kind="heading"] { font-family: "Source Serif 4"; font-weight: 700; }
QLabel[kind="serif"] { font-family: "Source Serif 4"; }
QLabel[kind="quiet"] { color: $pencil; font-size: ${small}px; }
QLabel[kind="strong"] { font-weight: 600; }
QLabel[tone="warning"] { color: $warning; font-weight: 600; }
QLabel[tone="failed"], QLabel[tone="refused"] { color: $error; font-weight: 600; }
QLabel[tone="note"] { color: $accent; font-weight: 600; }

QPushButton { background: $paper; border: 1px solid $hairline; border-radius: 4px;
    padding: 4px 10px; min-height: ${line}px; }
QPushButton:hover { border-color: $pencil; }
QPushButton:focus { border: 2px solid $accent; padding: 3px 9px; }
QPushButton:checked { background: $ink; color: $paper; border-color: $ink; }
QPushButton:disabled { color: $pencil; background: $panel; }
QPushButton[main="true"] { background: $accent; color: $on_accent; border-color: $accent;
    font-family: "Source Serif 4"; font-weight: 700; padding: 6px 16px; }
QPushButton[main="true"]:focus { border: 2px solid $ink; padding: 5px 15px; }
QPushButton[narrow="true"] { padding: 4px 2px; }
QPushButton[narrow="true"]:focus { padding: 3px 1px; }
QPushButton[plain="true"] { background: transparent; border: 1px solid transparent;
    color: $accent; padding: 2px 6px; min-height: 0; }
QPushButton[plain="true"]:focus { border: 1px solid $accent; }
QPushButton[plain="true"]:hover { border: 1px solid $hairline; }

QLineEdit, QSpinBox, QComboBox, QPlainTextEdit, QListWidget { background: $paper;
    border: 1px solid $hairline; border-radius: 4px; padding: 3px 6px;
    selection-background-color: $accent; selection-color: $on_accent; min-height: ${line}px; }
QLineEdit:focus, QSpinBox:focus, QComboBox:focus, QPlainTextEdit:focus, QListWidget:focus {
    border: 2px solid $accent; padding: 2px 5px; }
QComboBox::drop-down { border: none; width: 22px; }
QComboBox QAbstractItemView { background: $paper; border: 1px solid $hairline;
    selection-background-color: $accent; selection-color: $on_accent; }
QSpinBox { padding: 2px 2px 2px 6px; }
QSpinBox:focus { padding: 1px 1px 1px 5px; }
QSpinBox QLineEdit, QSpinBox QLineEdit:focus { border: none; padding: 0; min-height: 0;
    background: transparent; }
QSpinBox::up-button, QSpinBox::down-button { width: 0; border: none; }
QCheckBox { spacing: 8px; padding: 3px; border-radius: 3px; }
QCheckBox:focus { border: 1px solid $accent; padding: 2px; }
QCheckBox::indicator { width: ${tick}px; height: ${tick}px; border: 1px solid $pencil;
    border-radius: 3px; background: $paper; }
QCheckBox::indicator:checked { background: $accent; border-color: $accent; }
QSlider::groove:horizontal { height: 4px; border-radius: 2px; background: $hairline; }
QSlider { background: transparent; border: 1px solid transparent; border-radius: 3px; }
QSlider:focus { border: 1px solid $accent; }
QSlider::sub-page:horizontal { background: $ink; border-radius: 2px; }
QSlider::handle:horizontal { background: $ink; width: 12px; margin: -5px 0; border-radius: 6px; }
QProgressBar { background: $paper; border: 1px solid $hairline; border-radius: 4px;
    text-align: center; min-height: ${line}px; }
QProgressBar::chunk { background: $accent; border-radius: 3px; }

QScrollArea, QScrollArea > QWidget > QWidget { background: transparent; border: none; }
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 10px; margin: 0; }
QScrollBar::handle { background: $hairline; border-radius: 5px; min-height: 24px; min-width: 24px; }
QScrollBar::handle:hover { background: $pencil; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QAbstractScrollArea::corner { background: transparent; }
""")


def stylesheet(theme: Theme, sizes: Mapping[str, int]) -> str:
    """The sheet for the whole application; `sizes` are pixels by name (small, body, title)."""
    tokens = {name: getattr(theme, name) for name in theme.__struct_fields__}
    lengths = {name: str(pixels) for name, pixels in sizes.items()}
    line = round(sizes["body"] * 1.3)
    return _TEXT.substitute({**tokens, **lengths, "line": line, "tick": sizes["body"]})
