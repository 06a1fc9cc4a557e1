"""The form panel: every section with its letter, title and how many times it is played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QApplication,
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

    The row stays while its section does, so that the focus stays where the teacher put it.
    """

    def __init__(self, doing: Doing, look: Look) -> None:
        super().__init__()
        self._section: Section | None = None
        self._doing, self._look = doing, look
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 8)
        grid.setVerticalSpacing(4)
        self.letter, self.title = self._field("–"), self._field("no title")
        self.times = self._times()
        for column, field in enumerate((self.letter, self.title, self.times)):
            grid.addWidget(field, 0, column)
        foot = QHBoxLayout()
        self._facts = words("", "quiet")
        self.there = button("Go there", self._go, plain=True)
        self.join = button("Join up", self._join, plain=True)
        foot.addWidget(self._facts, 1)
        foot.addWidget(self.there)
        foot.addWidget(self.join)
        grid.addLayout(foot, 1, 0, 1, 3)
        self.fit()

    def fit(self) -> None:
        """Fields as wide as the present text size needs."""
        self.letter.setFixedWidth(self._look.px(44))
        self.title.setMinimumWidth(self._look.px(60))
        self.times.setFixedWidth(self._look.px(92))

    def show_section(self, section: Section, title: str, before: str) -> None:
        """Show a section; a field that is being written in is left alone.

        `before` is what the section before it is called; empty for the first.
        """
        same = self._section is not None and self._section.id == section.id
        self._section = section
        for field, text in ((self.letter, section.letter), (self.title, section.title)):
            writing = same and field.hasFocus() and field.isModified()
            if field.text() != text and not writing:
                field.setText(text)
        self.times.blockSignals(True)
        self.times.setValue(section.times)
        self.times.setSuffix(" time" if section.times == 1 else " times")
        self.times.blockSignals(False)
        self._facts.setText(_facts(section))
        self.join.setVisible(bool(before))
        for widget, name in (
            (self.letter, f"Letter of {title}"), (self.title, f"Title of {title}"),
            (self.times, f"How many times {title} is played"), (self.there, f"Go to {title}"),
            (self.join, f"Join {title} to {before}"),
        ):  # fmt: skip
            widget.setAccessibleName(name)

    def _times(self) -> QSpinBox:
        times = QSpinBox()
        times.setRange(1, 99)
        # Typed, or by the arrow keys: the stylesheet hides the buttons (NoButtons leaves no room
        # for the text beside a stylesheet).
        times.setKeyboardTracking(False)
        times.lineEdit().setTextMargins(8, 0, 0, 0)  # the stylesheet's padding does not reach it
        times.valueChanged.connect(self._played)
        return times

    def _field(self, placeholder: str) -> QLineEdit:
        field = QLineEdit()
        field.setPlaceholderText(placeholder)
        field.editingFinished.connect(self._written)
        return field

    def _go(self) -> None:
        if self._section is not None:
            self._doing.go(self._section.measures[0].id)

    def _join(self) -> None:
        if self._section is not None:
            self._doing.do(JoinSection(self._section.id))

    def _played(self, times: int) -> None:
        if self._section is not None:
            self._doing.do(SetSection(self._section.id, times=times))

    def _written(self) -> None:
        section = self._section
        letter, title = self.letter.text().strip(), self.title.text().strip()
        if section is not None and (letter, title) != (section.letter, section.title):
            self.letter.setModified(False)
            self.title.setModified(False)
            self._doing.do(SetSection(section.id, letter=letter, title=title))


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
        look.changed.connect(self._fit)
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
        """Show the sections, each in its row."""
        sections = arrangement.sections
        if _frames(self._shown) == _frames(sections):
            return
        self._shown = sections
        titles = [section_title(s, i) for i, s in enumerate(sections)]
        self._make_rows(len(sections))
        for row, section, title, before in zip(
            self.rows, sections, titles, ["", *titles], strict=False
        ):
            row.show_section(section, title, before)

    def _make_rows(self, count: int) -> None:
        """As many rows as there are sections; those that are there stay."""
        while len(self.rows) > count:
            row = self.rows.pop()
            if row.isAncestorOf(QApplication.focusWidget() or self) and self.rows:
                self.rows[-1].letter.setFocus()
            self._list.removeWidget(row)
            row.deleteLater()
        while len(self.rows) < count:
            self.rows.append(SectionRow(self._doing, self._look))
            self._list.insertWidget(len(self.rows) - 1, self.rows[-1])

    def _fit(self) -> None:
        for row in self.rows:
            row.fit()

    def set_hint(self, text: str) -> None:
        self._hint.setText(text)

    def focus_section(self, index: int) -> None:
        """Put the focus on the letter of a section."""
        if 0 <= index < len(self.rows):
            self.rows[index].letter.setFocus(Qt.FocusReason.OtherFocusReason)


def _frames(sections: tuple[Section, ...]) -> list[tuple[object, ...]]:
    return [
        (s.id, s.letter, s.title, s.times, s.endings, len(s.measures), s.measures[0].id)
        for s in sections
    ]
