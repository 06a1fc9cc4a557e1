"""The job card: what is still to decide, each question with its count, and the way to it."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QSizePolicy, QVBoxLayout, QWidget

from app.look import Look
from app.panels.job import Question
from app.panels.parts import words


class JobRow(QAbstractButton):
    """One question: its title and, under it, what is open. Marked by a frame when chosen."""

    def __init__(self, key: str, look: Look) -> None:
        super().__init__()
        self.key = key
        self._look = look
        self._state = ""
        self._open = 0
        self.setCheckable(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def show_question(self, question: Question) -> None:
        self._state, self._open = question.state, question.open
        self.setText(question.title)
        self.setAccessibleName(f"{question.title}: {question.state}")
        self.setToolTip(
            "Enter goes to the first open place" if question.spots else "Enter opens its panel"
        )
        self.updateGeometry()
        self.update()

    @property
    def state(self) -> str:
        """The count in words, as shown."""
        return self._state

    def sizeHint(self) -> QSize:
        body = QFontMetrics(self._look.font("body", serif=True)).height()
        small = QFontMetrics(self._look.font("small")).height()
        return QSize(self._look.px(150), body + small + self._look.px(10))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        if self.isChecked() or self.hasFocus():
            accent = self._look.colour("accent")
            painter.setPen(QPen(accent, 2 if self.hasFocus() else 1.4))
            painter.setBrush(self._look.colour("paper" if self.isChecked() else "panel"))
            painter.drawRoundedRect(box, 3, 3)
        elif self.underMouse():
            painter.setPen(QPen(self._look.colour("hairline"), 1))
            painter.drawRoundedRect(box, 3, 3)
        title = self._look.font("body", serif=True, bold=self.isChecked())
        small = self._look.font("small", bold=bool(self._open))
        inner = box.adjusted(self._look.px(9), self._look.px(4), -4, 0)
        painter.setFont(title)
        painter.setPen(self._look.colour("ink"))
        painter.drawText(inner, Qt.AlignmentFlag.AlignTop, self.text())
        painter.setFont(small)
        painter.setPen(self._look.colour("accent" if self._open else "pencil"))
        inner.setTop(inner.top() + QFontMetrics(title).height())
        painter.drawText(inner, Qt.AlignmentFlag.AlignTop, self._state)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        elif event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self._to_neighbour(1 if event.key() == Qt.Key.Key_Down else -1)
        else:
            super().keyPressEvent(event)

    def _to_neighbour(self, by: int) -> None:
        group = self.group()
        rows = group.buttons() if group is not None else [self]
        index = rows.index(self) + by
        if 0 <= index < len(rows):
            rows[index].setFocus(Qt.FocusReason.OtherFocusReason)


class JobCard(QWidget):
    """`chosen(key)`: the teacher wants this question's panel and its first open place."""

    chosen = Signal(str)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.setAccessibleName("Job card: what is still to decide")
        self._rows: dict[str, JobRow] = {}
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(4, 10, 4, 10)
        self._layout.setSpacing(2)
        heading = words("Still to decide", "heading")
        heading.setContentsMargins(look.px(9), 0, 0, 4)
        self._layout.addWidget(heading)
        self._list = QVBoxLayout()
        self._list.setSpacing(2)
        self._layout.addLayout(self._list)
        self._layout.addStretch(1)
        self._hint = words("", "quiet", wrap=True)
        self._hint.setContentsMargins(look.px(9), 0, 0, 0)
        self._layout.addWidget(self._hint)
        look.changed.connect(self._look_changed)

    def show_questions(self, questions: tuple[Question, ...]) -> None:
        """Show the lines; rows stay the same widgets while the questions are the same."""
        for question in questions:
            if question.key not in self._rows:
                self._add(question.key)
            self._rows[question.key].show_question(question)

    def _add(self, key: str) -> None:
        row = JobRow(key, self._look)
        row.clicked.connect(lambda: self.chosen.emit(key))
        self._group.addButton(row)
        self._list.addWidget(row)
        self._rows[key] = row

    def row(self, key: str) -> JobRow:
        return self._rows[key]

    def mark(self, key: str) -> None:
        """Frame the question whose panel is open."""
        if key in self._rows:
            self._rows[key].setChecked(True)

    def set_hint(self, text: str) -> None:
        """The keys that act here, said at the foot of the card."""
        self._hint.setText(text)

    def _look_changed(self) -> None:
        for row in self._rows.values():
            row.updateGeometry()
            row.update()
