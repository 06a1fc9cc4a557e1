"""The form panel: every section with its letter, title and how many times it is played."""

from __future__ import annotations

from collections.abc import Callable

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

from app.panels.course import section_title
from app.panels.parts import button, counted_measures, words
from core.edit.base import Command
from core.edit.form import JoinSection, SetSection
from core.model import Arrangement, Section


class SectionRow(QWidget):
    """One section: its fields write a command when they are left or Enter is pressed."""

    def __init__(self, section: Section, index: int, do: Callable[[Command], None],
                 go: Callable[[int], None]) -> None:  # fmt: skip
        super().__init__()
        self._section, self._do = section, do
        title = section_title(section, index)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 8)
        grid.setVerticalSpacing(4)
        self.letter = self._field(section.letter, f"Letter of {title}", "letter")
        self.letter.setMaximumWidth(64)
        self.title = self._field(section.title, f"Title of {title}", "title")
        self.times = QSpinBox()
        self.times.setRange(1, 99)
        self.times.setValue(section.times)
        self.times.setSuffix(" time" if section.times == 1 else " times")
        self.times.setAccessibleName(f"How many times {title} is played")
        self.times.setKeyboardTracking(False)
        self.times.valueChanged.connect(
            lambda value: self._do(SetSection(self._section.id, times=value))
        )
        grid.addWidget(self.letter, 0, 0)
        grid.addWidget(self.title, 0, 1)
        grid.addWidget(self.times, 0, 2)
        foot = QHBoxLayout()
        foot.addWidget(words(_facts(section), "quiet"), 1)
        first = section.measures[0].id
        foot.addWidget(button("Go there", lambda: go(first), f"Go to {title}", plain=True))
        if index:
            foot.addWidget(
                button(
                    "Join to the one before", lambda: do(JoinSection(section.id)),
                    f"Join {title} to the section before", plain=True,
                )
            )  # fmt: skip
        grid.addLayout(foot, 1, 0, 1, 3)

    def _field(self, text: str, name: str, placeholder: str) -> QLineEdit:
        field = QLineEdit(text)
        field.setAccessibleName(name)
        field.setPlaceholderText(placeholder)
        field.editingFinished.connect(self._written)
        return field

    def _written(self) -> None:
        letter, title = self.letter.text().strip(), self.title.text().strip()
        if (letter, title) != (self._section.letter, self._section.title):
            self._do(SetSection(self._section.id, letter=letter, title=title))


def _facts(section: Section) -> str:
    text = counted_measures(len(section.measures))
    endings = len(section.endings)
    return text + (f", {endings} endings" if endings > 1 else ", 1 ending" if endings else "")


class FormPanel(QWidget):
    """The list of sections. `do` carries out a command, `go` puts the caret on a measure id."""

    def __init__(self, do: Callable[[Command], None], go: Callable[[int], None]) -> None:
        super().__init__()
        self._do, self._go = do, go
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
        self.rows = [
            SectionRow(section, index, self._do, self._go)
            for index, section in enumerate(arrangement.sections)
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
