"""The left hand's side of the window: the panels of suggesting and weighing, joined to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from app.jobs import Worker
from app.panels.level_panel import LevelPanel, level_words
from app.panels.note_ways import Going, NoteWays
from app.panels.work_line import WorkLine
from app.suggesting import Suggesting
from app.weighing import Weighing
from app.window import Parts, Window
from core.edit.base import Command
from core.edit.change import Change


@dataclass(frozen=True)
class HandSide:
    """What suggests and weighs, and the panels that show it."""

    worker: Worker
    suggesting: Suggesting
    weighing: Weighing
    ways: NoteWays
    level: LevelPanel
    show_level: Callable[[], None]


def join_hand(parts: Parts, window: Window) -> HandSide:
    """Build the panels, put them into the window, and end the worker with it."""
    session, writing, messages = parts.session, parts.writing, parts.messages
    worker = Worker()
    suggesting = Suggesting(session, writing, parts.selecting, messages, worker)
    weighing = Weighing(session, writing, messages, worker, suggesting)

    def do(command: Command) -> None:
        with messages.guarded():
            session.apply(command, initiator=window)

    level = LevelPanel(do)

    def name(measure: int) -> str:
        return session.outline.name(measure)

    def show_level() -> None:
        window.show_panel("level")
        level.level.setFocus()

    going = Going(name, window.focus_sheet, show_level)
    ways = NoteWays(weighing, suggesting, messages, parts.look, going)

    def show(_change: Change | None = None, _initiator: object = None) -> None:
        level.show_lesson(session.lesson)
        ways.show_level(level_words(session.lesson.brief))

    window.hand.add(ways)
    window.add_panel("level", level)
    window.lines.addWidget(WorkLine(suggesting))
    weighing.wanted = ways.isVisible
    session.changed.connect(show)
    parts.files.came_in.connect(partial(messages.attempt, suggesting.came_in))
    window.closed.connect(weighing.close)
    window.closed.connect(worker.close)
    show()
    return HandSide(worker, suggesting, weighing, ways, level, show_level)
