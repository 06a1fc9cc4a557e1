"""Several commands as one edit: one step to undo, and all of it or nothing."""

from __future__ import annotations

from msgspec import Struct

from core.edit.base import Command
from core.model import Lesson


class Together(Struct, frozen=True):
    """Carry commands out one after another; refused as a whole when one of them is."""

    commands: tuple[Command, ...]
    label: str = "edit"

    def apply(self, lesson: Lesson) -> Lesson:
        for command in self.commands:
            lesson = command.apply(lesson)
        return lesson
