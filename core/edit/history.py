"""Undo and redo as snapshots of lessons that share what did not change."""

from __future__ import annotations

from msgspec import Struct

from core.edit.base import Edit
from core.edit.change import difference
from core.model import EditRefused, Lesson

MOST_STEPS = 1000


class Step(Struct, frozen=True):
    """One step of the history: its label and the lesson before it."""

    label: str
    lesson: Lesson


class History(Struct, frozen=True):
    """The steps that can be undone (latest last) and redone (next first), as a value.

    `position` counts the steps that lie before the present lesson, those forgotten too: it names
    a step for as long as it can be undone or redone.
    """

    done: tuple[Step, ...] = ()
    undone: tuple[Step, ...] = ()
    position: int = 0

    def record(self, label: str, before: Lesson) -> History:
        """The history after an edit that started from `before`; what was undone is forgotten."""
        done = (*self.done[-MOST_STEPS + 1 :], Step(label, before))
        return History(done, position=self.position + 1)

    def undo(self, current: Lesson) -> tuple[History, Edit]:
        """Step back from the current lesson; raises EditRefused when there is nothing to undo."""
        if not self.done:
            raise EditRefused("There is nothing to undo.")
        step = self.done[-1]
        lesson = step.lesson.with_ids_from(current)
        change = difference(current, lesson, f"Undo {step.label}")
        undone = (Step(step.label, current), *self.undone)
        return History(self.done[:-1], undone, self.position - 1), Edit(lesson, change)

    def redo(self, current: Lesson) -> tuple[History, Edit]:
        """Step forward again; raises EditRefused when there is nothing to redo."""
        if not self.undone:
            raise EditRefused("There is nothing to redo.")
        step = self.undone[0]
        lesson = step.lesson.with_ids_from(current)
        change = difference(current, lesson, f"Redo {step.label}")
        done = (*self.done, Step(step.label, current))
        return History(done, self.undone[1:], self.position + 1), Edit(lesson, change)
