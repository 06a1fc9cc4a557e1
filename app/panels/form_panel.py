"""The form panel: every section with its letter, title and how many times it is played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from app.look import Look
from app.panels.course import section_title
from app.panels.parts import button, counted_measures, words
from core.edit.base import Command
from core.edit.form import JoinSection, SetSection
from core.model import Arrangement, Section


@dataclass(frozen=True)
class Doing:
    """What the panel may do: carry out a command, put the caret on a measure id."""

    do: Callable[[Command], None]
    go: Callable[[int], None]


class SectionRow(QWidget):
    """One section: its fields write a command when they are left or Enter is pressed.

    `before` is what the section before it is called; empty for the first.
    """

    def __init__(self, section: Section, title: str, before: str, doing: Doing, look: Look) -> None:
        super().__init__()
        self._section, self._doing = section, doing
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 8)
        grid.setVerticalSpacing(4)
        self.letter = self._field(section.letter, f"Letter of {title}", "A")
        self.letter.setFixedWidth(look.px(40))
        self.title = self._field(section.title, f"Title of {title}", "title")
        self.title.setMinimumWidth(look.px(60))
        self.times = self._times(section, title)
        self.times.setFixedWidth(look.px(92))
        for column, field in enumerate((self.letter, self.title, self.times)):
            grid.addWidget(field, 0, column)
        grid.addLayout(self._foot(section, title, before), 1, 0, 1, 3)

    def _times(self, section: Section, title: str) -> QSpinBox:
        times = QSpinBox()
        times.setRange(1, 99)
        # Typed, or by the arrow keys: the stylesheet hides the buttons (NoButtons leaves no room
        # for the text beside a stylesheet).
        times.setValue(section.times)
        times.setSuffix(" time" if section.times == 1 else " times")
        times.setAccessibleName(f"How many times {title} is played")
        times.setKeyboardTracking(False)
        times.valueChanged.connect(
            lambda value: self._doing.do(SetSection(self._section.id, times=value))
        )
        return times

    def _foot(self, section: Section, title: str, before: str) -> QHBoxLayout:
        foot = QHBoxLayout()
        foot.addWidget(words(_facts(section), "quiet"), 1)
        first, doing = section.measures[0].id, self._doing
        foot.addWidget(button("Go there", lambda: doing.go(first), f"Go to {title}", plain=True))
        if before:
            foot.addWidget(
                button(
                    "Join up", lambda: doing.do(JoinSection(section.id)),
                    f"Join {title} to {before}", plain=True,
                )
            )  # fmt: skip
        return foot

    def _field(self, text: str, name: str, placeholder: str) -> QLineEdit:
        field = QLineEdit(text)
        field.setAccessibleName(name)
        field.setPlaceholderText(placeholder)
        field.editingFinished.connect(self._written)
        return field

    def _written(self) -> None:
        letter, title = self.letter.text().strip(), self.title.text().strip()
        if (letter, title) != (self._section.letter, self._section.title):
            self._doing.do(SetSection(self._section.id, letter=letter, title=title))


def _facts(section: Section) -> str:
    text = counted_measures(len(section.measures))
    endings = len(section.endings)
    return text + (f", {endings} endings" if endings > 1 else ", 1 ending" if endings else "")


class FormPanel(QWidget):
    """The list of sections."""

    def __init__(self, doing: Doing, look: Look) -> None:
        super().__init__()
        self._doing, self._look = doing, look
        self._shown: tuple[Section, ...] = ()
        self.rows: list[SectionRow] = []
        self.setAccessibleName("Form panel: the sections")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.addWidget(words("Sections", "heading"))
        layout.addWidget(
            words("A section is what is repeated. Letters print above its first measure.",
                  "quiet", wrap=True)
        )  # fmt: skip
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._inner = QWidget()
        self._list = QVBoxLayout(self._inner)
        self._list.setContentsMargins(0, 4, 6, 0)
        self._list.addStretch(1)
        area.setWidget(self._inner)
        layout.addWidget(area, 1)
        self._hint = words("", "quiet", wrap=True)
        layout.addWidget(self._hint)

    def show_arrangement(self, arrangement: Arrangement) -> None:
        """Show the sections; rows are made anew only when a section's own fields changed."""
        if _frames(self._shown) == _frames(arrangement.sections):
            return
        self._shown = arrangement.sections
        focused = next((i for i, row in enumerate(self.rows) if _has_focus(row)), None)
        for row in self.rows:
            self._list.removeWidget(row)
            row.deleteLater()
        titles = [section_title(s, i) for i, s in enumerate(arrangement.sections)]
        self.rows = [
            SectionRow(section, title, before, self._doing, self._look)
            for section, title, before in zip(
                arrangement.sections, titles, ["", *titles], strict=False
            )
        ]
        for index, row in enumerate(self.rows):
            self._list.insertWidget(index, row)
        if focused is not None and focused < len(self.rows):
            self.rows[focused].title.setFocus()

    def set_hint(self, text: str) -> None:
        self._hint.setText(text)

    def focus_section(self, index: int) -> None:
        """Put the focus on the letter of a section."""
        if 0 <= index < len(self.rows):
            self.rows[index].letter.setFocus(Qt.FocusReason.OtherFocusReason)


def _has_focus(row: SectionRow) -> bool:
    return row.letter.hasFocus() or row.title.hasFocus() or row.times.hasFocus()


def _frames(sections: tuple[Section, ...]) -> list[tuple[object, ...]]:
    return [
        (s.id, s.letter, s.title, s.times, s.endings, len(s.measures), s.measures[0].id)
        for s in sections
    ]
