"""The session: the only mutable document. One lesson, its history, its layout, one signal."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import Literal, Protocol

from msgspec import Struct
from PySide6.QtCore import QObject, Signal

from core.edit import base
from core.edit.base import Command
from core.edit.change import Change, difference
from core.edit.history import History
from core.model import EditRefused, Lesson, Section, walk
from core.model.measure import Measure
from core.model.roadmap import Occurrence, played
from core.page.fingered import Shift, shift_of
from core.page.layout import Layout
from core.page.style import PageStyle

OPENED = "lesson"
Cause = Literal["edit", "undo or redo", "suggestion", "opened", "style"]


class Engraver(Protocol):
    """Makes the layout of a lesson; `previous` is what may be reused."""

    def __call__(self, lesson: Lesson, style: PageStyle, previous: Layout | None) -> Layout: ...

    def apart(self) -> Engraver:
        """Another one that shares nothing kept, for other music or another thread."""
        ...


class Prepared(Struct, frozen=True):
    """A layout made beside the window, with the engraver that keeps what it may reuse."""

    engraver: Engraver
    style: PageStyle
    layout: Layout


class Outline:
    """What is often asked of one snapshot: order, numbers, sections, the road map.

    Made once for each snapshot, every part when it is first asked for, and thrown away with it.
    """

    def __init__(self, lesson: Lesson) -> None:
        self._arrangement = lesson.arrangement
        self.measures: tuple[Measure, ...] = tuple(walk.measures(lesson.arrangement))
        sounding = lesson.settings.sounding  # what the staff shows against what sounds
        self.shift = Shift() if sounding else shift_of(lesson.arrangement)

    @cached_property
    def index(self) -> dict[int, int]:
        """Measure id -> its place among all written measures."""
        return {measure.id: i for i, measure in enumerate(self.measures)}

    @cached_property
    def numbers(self) -> dict[int, int]:
        """Measure id -> printed number."""
        return walk.numbers(self._arrangement)

    @cached_property
    def section_of(self) -> dict[int, Section]:
        """Measure id -> its section."""
        sections = self._arrangement.sections
        return {measure.id: section for section in sections for measure in section.measures}

    @cached_property
    def played(self) -> tuple[Occurrence, ...]:
        """The measures as they are played; none where their order has no end."""
        try:
            return played(self._arrangement)
        except ValueError:
            # An order without end is drawn as written; the job card says what is wrong with it.
            return ()

    def measure(self, measure_id: int) -> Measure | None:
        position = self.index.get(measure_id)
        return None if position is None else self.measures[position]

    def name(self, measure_id: int) -> str:
        """``measure 7`` or ``the pickup``."""
        return walk.called(self.numbers.get(measure_id, 0))


class Session(QObject):
    """Holds the open lesson. Everything that changes it goes through here.

    `changed(change, initiator)` is emitted once for each edit, undo, redo or opened lesson;
    an opened lesson has a Change whose `fields` hold `OPENED`. `saved_changed` tells that the
    file name or the saved state is another.
    """

    changed = Signal(object, object)
    saved_changed = Signal()

    def __init__(
        self, lesson: Lesson, engraver: Engraver, style: PageStyle, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._engraver = engraver
        self._style = style
        self._start(lesson, None, saved=True)

    def _start(self, lesson: Lesson, path: Path | None, saved: bool) -> None:
        self._lesson = lesson
        self._saved: Lesson | None = lesson if saved else None
        self._history = History()
        self._path = path
        self._cause: Cause = "opened"
        self._outline: Outline | None = None
        self._layout: Layout | None = None
        self._laid_out = 0
        self._revision = getattr(self, "_revision", 0) + 1

    @property
    def lesson(self) -> Lesson:
        return self._lesson

    @property
    def history(self) -> History:
        return self._history

    @property
    def revision(self) -> int:
        """Grows with every change; results of slow work carry the one they started from."""
        return self._revision

    @property
    def cause(self) -> Cause:
        """What brought the latest change."""
        return self._cause

    @property
    def path(self) -> Path | None:
        """The lesson file, where there is one."""
        return self._path

    @property
    def style(self) -> PageStyle:
        return self._style

    @property
    def modified(self) -> bool:
        """Whether the lesson differs from its file."""
        return self._saved is None or not (
            self._saved is self._lesson or self._saved == self._lesson
        )

    @property
    def outline(self) -> Outline:
        if self._outline is None:
            self._outline = Outline(self._lesson)
        return self._outline

    @property
    def layout(self) -> Layout:
        """The layout of the present snapshot, made when first asked for."""
        if self._layout is None or self._laid_out != self._revision:
            self._layout = self._engraver(self._lesson, self._style, self._layout)
            self._laid_out = self._revision
        return self._layout

    def apply(self, command: Command, initiator: object = None, amend: bool = False) -> Change:
        """Carry out a command. Raises EditRefused and leaves everything as it was.

        With `amend` it becomes part of the latest step: one undo takes both back.
        """
        edit = base.apply(command, self._lesson)
        if edit.change.empty:
            return edit.change
        if not (amend and self._history.done and not self._history.undone):
            self._history = self._history.record(command.label, self._lesson)
        self._set(edit.lesson, edit.change, initiator, "edit")
        return edit.change

    def undo(self, initiator: object = None) -> Change:
        """Take back the latest edit. Raises EditRefused when there is none."""
        self._history, edit = self._history.undo(self._lesson)
        self._set(edit.lesson, edit.change, initiator, "undo or redo")
        return edit.change

    def redo(self, initiator: object = None) -> Change:
        """Do the edit again that was taken back. Raises EditRefused when there is none."""
        self._history, edit = self._history.redo(self._lesson)
        self._set(edit.lesson, edit.change, initiator, "undo or redo")
        return edit.change

    def suggest(self, improve: Callable[[Lesson], Lesson], label: str) -> Change:
        """Amend the snapshot with suggestions: no undo step, what was undone can be redone."""
        amended = improve(self._lesson)
        change = difference(self._lesson, amended, label)
        if not change.empty:
            self._set(amended, change, None, "suggestion")
        return change

    def prepare(self, lesson: Lesson) -> Prepared:
        """Lay a lesson out that is not open yet; may be called beside the window's thread."""
        engraver, style = self._engraver.apart(), self._style
        return Prepared(engraver, style, engraver(lesson, style, None))

    def open(
        self, lesson: Lesson, path: Path | None, saved: bool = True,
        prepared: Prepared | None = None,
    ) -> None:  # fmt: skip
        """Show another lesson. `saved` is false for one that has no lesson file yet.

        A `prepared` layout of it saves laying it out now.
        """
        self._start(lesson, path, saved)
        if prepared is not None and prepared.style == self._style:
            self._engraver, self._layout = prepared.engraver, prepared.layout
            self._laid_out = self._revision
        self.changed.emit(Change(f"Open {lesson.title}", fields=(OPENED,)), None)
        self.saved_changed.emit()

    def mark_saved(self, lesson: Lesson, path: Path) -> None:
        """Remember that this snapshot is what the file holds."""
        self._saved, self._path = lesson, path
        self.saved_changed.emit()

    def set_style(self, style: PageStyle) -> None:
        """Show the pages another way; an empty Change tells the sheet to lay out again."""
        self._style = style
        self._layout = None
        self._cause = "style"
        self._revision += 1
        self.changed.emit(Change("Page style", fields=("style",)), None)

    def _set(self, lesson: Lesson, change: Change, initiator: object, cause: Cause) -> None:
        was = self.modified
        self._cause = cause
        self._lesson = lesson
        self._outline = None
        self._revision += 1
        self.changed.emit(change, initiator)
        if was != self.modified:
            self.saved_changed.emit()


def require_measure(outline: Outline, measure_id: int) -> Measure:
    """The measure, or EditRefused when it is gone."""
    measure = outline.measure(measure_id)
    if measure is None:
        raise EditRefused("That measure is no longer there; choose another.")
    return measure
