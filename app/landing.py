"""Landing: how what the worker found gets into the lesson, a few measures at a time.

Setting a long piece anew takes longer than a key may wait, so a long answer comes in parts, and
keys are heard between them.
"""

from __future__ import annotations

from collections import deque

from PySide6.QtCore import QObject, QTimer, Signal

from app.session import Session
from app.thinking.questions import Fingering
from app.writing import Writing
from core.edit.labels import Suggest, TakeSuggestions
from core.model import Lesson, Measure, walk

PART = 16  # measures set between two looks at the keys


class Landing(QObject):
    """`done()` after the last part of an answer; `overtaken()` where a measure had changed;
    `told(words)` between the parts."""

    done = Signal()
    told = Signal(str)
    overtaken = Signal()

    def __init__(self, session: Session, writing: Writing) -> None:
        super().__init__()
        self._session, self._writing = session, writing
        self._parts: deque[tuple[Measure, ...]] = deque()
        self._answer, self._asked, self._step = Fingering(), frozenset[int](), ""
        self._made: Lesson | None = None
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self._next)

    @property
    def busy(self) -> bool:
        """Whether parts are still to come."""
        return self._soon.isActive()

    @property
    def made(self) -> Lesson | None:
        """The lesson as the latest step written here left it; None before a new one."""
        return self._made

    def forget(self) -> None:
        """What is written next is a step of its own."""
        self._made = None

    def stop(self) -> None:
        """Leave out the parts still to come."""
        self._soon.stop()
        self._parts.clear()

    def begin(self, answer: Fingering, asked: tuple[Measure, ...], step: str) -> None:
        """Write an answer for these measures: as a step of that name (part of the latest where
        that was made here), or amending the lesson without one where `step` is empty."""
        self.stop()
        self._answer, self._step = answer, step
        self._asked = frozenset(measure.id for measure in asked)
        changed = [measure for measure in asked if _changes(measure, answer)]
        if len(changed) <= PART:
            self.at_once(answer, asked, step, amend=self._is_ours())
            self.done.emit()
            return
        starts = range(0, len(changed), PART)
        self._parts.extend(tuple(changed[start : start + PART]) for start in starts)
        self._next()

    def at_once(
        self, answer: Fingering, asked: tuple[Measure, ...], step: str, amend: bool = False
    ) -> None:
        """Write an answer in one go; with `amend` as part of the latest step.

        Raises EditRefused where a measure that was asked about has changed.
        """
        dropped = frozenset(answer.unplaced)
        found = Suggest(answer.places, answer.fingers, answer.solver, asked, dropped, answer.barres)
        self._write(found, step, amend)

    def _is_ours(self) -> bool:
        return self._made is not None and self._session.lesson is self._made

    def _write(self, found: Suggest, step: str, amend: bool) -> None:
        note = self._writing.note_id()
        self._put(found, step, amend)
        if note and self._writing.note_id() != note:  # it is on another string now
            self._writing.go_to(self._writing.caret.measure, self._writing.caret.onset, note)

    def _put(self, found: Suggest, step: str, amend: bool) -> None:
        if not step:
            self._session.suggest(found.amend, "suggested fingers")
            return
        change = self._session.apply(TakeSuggestions(found, step), self, amend)
        if not change.empty:
            self._made = self._session.lesson

    def _next(self) -> None:
        answer, outline = self._answer, self._session.outline
        if self._parts:
            part = self._parts.popleft()
            if any(outline.measure(measure.id) is not measure for measure in part):
                self.stop()
                self.overtaken.emit()
                return
            dropped = frozenset(answer.unplaced)
            found = Suggest(answer.places, answer.fingers, answer.solver, part, dropped)
            self._soon.start()
            self.told.emit(f"{PART * len(self._parts)} measures to write")
            self._write(found, self._step, self._is_ours())
            return
        # The barres come last: one may reach from part to part.
        measures = tuple(m for m in outline.measures if m.id in self._asked)
        marks = Suggest({}, {}, answer.solver, measures, barres=answer.barres)
        self._write(marks, self._step, self._is_ours())
        self.done.emit()


def _changes(measure: Measure, answer: Fingering) -> bool:
    """Whether an answer says anything new about a measure."""
    if any(note.id in answer.unplaced for _, note in walk.notes(measure)):
        return True
    return not answer.stands_in(measure)
