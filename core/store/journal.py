"""The journal: unsaved changes, written as they are made, so that a killed process loses none."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from core.edit.change import Change
from core.formats.lesson_json import MOST_BYTES
from core.model import BadInput, Lesson
from core.model.validate import problems
from core.store.files import read_whole, reason, write_atomically
from core.store.lessons import load
from core.store.records import FORMAT, VERSION, Chain, Start, record, replay

SUFFIX = ".journal"
COMPACT_BYTES = 4 * 2**20


def journal_path(lesson_path: Path) -> Path:
    """Where the journal of a lesson file lies: beside it."""
    target = Path(os.path.realpath(lesson_path))
    return target.with_name(target.name + SUFFIX)


def unsaved_path(state_folder: Path) -> Path:
    """A free place for the journal of a lesson that has no file yet."""
    number = 1
    while (path := state_folder / f"unsaved-{number}.footstool{SUFFIX}").exists():
        number += 1
    return path


class Journal:
    """The changes made since `lesson` was opened or saved.

    Nothing is written before the first change. What an earlier, killed process left at `path`
    stays there until then, so recover it first.
    """

    def __init__(self, path: Path, lesson: Lesson) -> None:
        self.path = path
        self._base = lesson
        self._chain = Chain()
        self._handle: int | None = None
        self._size = 0
        self._start_size = 0

    def append(self, change: Change, lesson: Lesson) -> None:
        """Write down one change, given the lesson after it.

        It survives this process once the call returns, and a power cut after `sync`. Raises
        BadInput when it cannot be written; the next change then begins the journal anew.
        """
        if change.empty:
            return
        if self._handle is not None and self._size > self._start_size + COMPACT_BYTES:
            self.close()
        try:
            if self._handle is None:
                self._begin()
            self._write(self._chain.line(record(change, lesson)))
        except (OSError, BadInput) as error:
            self.close()
            self._base = lesson
            why = str(error) if isinstance(error, BadInput) else f"{reason(error)}."
            raise BadInput(
                f"Unsaved changes cannot be kept safe beside the lesson: {why} Save soon."
            ) from error
        self._base = lesson

    def saved(self, lesson: Lesson) -> None:
        """The lesson is in its file now: forget the changes."""
        self.close()
        self._base = lesson
        with suppress(OSError):  # what stays there equals the file, and recover sees that
            self.path.unlink(missing_ok=True)

    def sync(self) -> None:
        """Flush to the disk; call it when nobody waits."""
        if self._handle is not None:
            os.fsync(self._handle)

    def close(self) -> None:
        """Let go of the file; what is written stays for `recover`."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def _begin(self) -> None:
        self._chain = Chain()
        line = self._chain.line(Start(FORMAT, VERSION, self._base))
        self.path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(self.path, line)
        self._handle = os.open(self.path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
        self._size = self._start_size = len(line)

    def _write(self, line: bytes) -> None:
        assert self._handle is not None
        rest = memoryview(line)
        while rest:
            rest = rest[os.write(self._handle, rest) :]
        self._size += len(line)


def recover(path: Path) -> Lesson | None:
    """The unsaved lesson a killed process left beside a lesson file; None when there is none.

    The latest sound state is given, and only if it differs from what the file holds. Never raises:
    a lesson file that is lost or damaged does not keep the journal from being read.
    """
    lesson = _latest(journal_path(path))
    if lesson is None:
        return None
    try:
        return None if load(path) == lesson else lesson
    except BadInput:
        return lesson


def recover_unsaved(state_folder: Path) -> list[tuple[Path, Lesson]]:
    """The lessons without a file that killed processes left, with their journals."""
    found = []
    for path in sorted(state_folder.glob(f"unsaved-*{SUFFIX}")):
        lesson = _latest(path)
        if lesson is not None:
            found.append((path, lesson))
    return found


def _latest(path: Path) -> Lesson | None:
    try:
        states = replay(read_whole(path, 2 * MOST_BYTES))
    except BadInput:
        return None
    return next((lesson for lesson in reversed(states) if not problems(lesson)), None)
