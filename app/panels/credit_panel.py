"""The credit panel: title, credit and where the tune comes from, and for whom the lesson is."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import structs
from PySide6.QtWidgets import QGridLayout, QLineEdit, QVBoxLayout, QWidget

from app.panels.parts import rule, words
from core.edit.base import Command
from core.edit.lesson_fields import SetBrief, SetSourceCard, SetTitle
from core.model import Lesson

# Field -> its label and what an empty one says.
FIELDS = (
    ("title", "Title", "printed on the first page"),
    ("credit", "Credit", "such as Trad., arr. by …"),
    ("composer", "Composer", "who made the tune"),
    ("year", "Year", "of the source"),
    ("edition", "Edition", "the book and page"),
    ("rights", "Rights", "free, or by leave of …"),
    ("notes", "Story", "what to tell the student"),
    ("student", "Student", "for whom the lesson is"),
    ("goal", "Goal", "what it should teach"),
)
SOURCE = ("credit", "composer", "year", "edition", "rights", "notes")
BRIEF = ("student", "goal")


class CreditPanel(QWidget):
    """Fields that write a command when they are left or Enter is pressed."""

    def __init__(self, do: Callable[[Command], None]) -> None:
        super().__init__()
        self._do = do
        self._lesson: Lesson | None = None
        self.setAccessibleName("Credit panel: title, source and student")
        self.fields: dict[str, QLineEdit] = {}
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.addWidget(words("Credit and story", "heading"))
        layout.addWidget(
            words("Say where the tune comes from; the credit goes on every copy.", "quiet", True)
        )
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        for index, (name, label, empty) in enumerate(FIELDS):
            row = index + (1 if name in BRIEF else 0)
            field = self._field(name, label, empty)
            caption = words(label)
            caption.setBuddy(field)
            grid.addWidget(caption, row, 0)
            grid.addWidget(field, row, 1)
        grid.addWidget(rule(), len(SOURCE) + 1, 0, 1, 2)
        layout.addLayout(grid)
        layout.addStretch(1)

    def _field(self, name: str, label: str, empty: str) -> QLineEdit:
        field = QLineEdit()
        field.setAccessibleName(label)
        field.setPlaceholderText(empty)
        field.editingFinished.connect(lambda: self._written(name))
        self.fields[name] = field
        return field

    def show_lesson(self, lesson: Lesson) -> None:
        """Fill the fields; one that is being written in is left alone."""
        self._lesson = lesson
        for name, field in self.fields.items():
            text = _value(lesson, name)
            if field.text() != text and not (field.hasFocus() and field.isModified()):
                field.setText(text)
                field.setCursorPosition(0)
            field.setToolTip(text)  # longer ones are cut by the edge

    def focus_first_empty(self) -> None:
        """Put the focus on what is still open: the title or the credit."""
        open_fields = [n for n in ("title", "credit") if not self.fields[n].text().strip()]
        self.fields[(open_fields or ["title"])[0]].setFocus()

    def _written(self, name: str) -> None:
        lesson, text = self._lesson, self.fields[name].text().strip()
        if lesson is None or text == _value(lesson, name):
            return
        self.fields[name].setModified(False)
        if name == "title":
            self._do(SetTitle(text))
        elif name in SOURCE:
            self._do(SetSourceCard(structs.replace(lesson.source, **{name: text})))
        else:
            self._do(SetBrief(structs.replace(lesson.brief, **{name: text})))


def _value(lesson: Lesson, name: str) -> str:
    if name == "title":
        return lesson.title
    return str(getattr(lesson.source if name in SOURCE else lesson.brief, name))
