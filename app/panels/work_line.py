"""The line that shows slow work: what is being made, that it goes on, and the way to stop it."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QWidget

from app.jobs import Jobs
from app.panels.parts import button, words
from app.suggesting import Suggesting


class WorkLine(QWidget):
    """Seen only while a job runs."""

    def __init__(self, jobs: Jobs | Suggesting) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, 4, 0)
        self._title = words("", "strong")
        self._step = words("", "quiet")
        bar = QProgressBar()
        bar.setRange(0, 0)  # how long it takes is not known beforehand
        bar.setTextVisible(False)
        bar.setAccessibleName("Work in progress")
        self.stop = button("Stop", jobs.stop, "Stop what is being made")
        for part, share in ((self._title, 0), (self._step, 0), (bar, 1), (self.stop, 0)):
            row.addWidget(part, share)
        jobs.began.connect(self._begin)
        jobs.told.connect(self._step.setText)
        jobs.ended.connect(self.hide)
        self.hide()

    def _begin(self, title: str) -> None:
        self._title.setText(title)
        self._step.setText("")
        self.show()
