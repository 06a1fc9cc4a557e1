"""Safekeeping: the journal of the open lesson, and what a killed bench left behind."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QLockFile, QObject, QTimer

from app.asking import Asking
from app.messages import Messages
from app.reading import LESSON_SUFFIX, read
from app.session import OPENED, Session
from core.edit.change import Change
from core.model import BadInput, Lesson
from core.store import (
    Journal,
    journal_path,
    mark,
    marked,
    recover,
    recover_unsaved,
    unmark,
    unsaved_path,
)

IDLE_MS = 800


class Safekeeping(QObject):
    """Writes every change of the session to a journal and offers what an earlier one holds.

    `state_folder` keeps the journals of lessons that have no file yet. A journal is begun at the
    first change and locked, so that two benches never write one journal, nor does one offer what
    another still has open.
    """

    def __init__(
        self, session: Session, messages: Messages, asking: Asking, state_folder: Path
    ) -> None:
        super().__init__()
        self._session, self._messages, self._asking = session, messages, asking
        self._state_folder = state_folder
        self._lesson = session.lesson
        self._journal: Journal | None = None
        self._lock: QLockFile | None = None
        self._beside: Path | None = None  # the lesson file whose journal is marked
        self._told = False
        self._recovering = False
        self._idle = QTimer(self)
        self._idle.setSingleShot(True)
        self._idle.setInterval(IDLE_MS)
        self._idle.timeout.connect(self._flush)
        session.changed.connect(self._session_changed)
        session.saved_changed.connect(self._saved_changed)

    def offer_unsaved(self) -> bool:
        """Offer the latest lesson without a file that a killed bench left; whether it is open now.

        A lesson that is refused is thrown away, and the one before it is offered.
        """
        for path, lesson in reversed(recover_unsaved(self._state_folder)):
            lock = _locked(path)
            if lock is None:
                continue
            if self._asking.keep_recovered(lesson.title):
                self._go_on(lesson, None, path, lock)
                return True
            _throw_away(path)
            lock.unlock()
        return False

    def offer(self, path: Path, naming_file: bool = False) -> bool:
        """Offer what a killed bench left beside a lesson that was just opened; whether taken."""
        place = journal_path(path)
        lesson = recover(path)
        lock = None if lesson is None else _locked(place)
        if lesson is None or lock is None:
            return False
        title = lesson.title or "the lesson"
        if self._asking.keep_recovered(f"{title}, in {path}," if naming_file else lesson.title):
            self._go_on(lesson, path, place, lock)
            return True
        _throw_away(place)
        unmark(self._state_folder, path)
        lock.unlock()
        return False

    def offer_beside(self) -> bool:
        """Offer what killed benches left beside lesson files, the latest first, where no file was
        named; whether one is open now."""
        for path in marked(self._state_folder):
            try:
                read(path)
            except BadInput as error:
                if self.rescue(path, str(error)):
                    return True
            else:
                if self.offer(path, naming_file=True):
                    return True
        return False

    def rescue(self, path: Path, why: str) -> bool:
        """Offer what the journal beside a lesson that cannot be read has kept; whether taken.

        It is open then as a lesson without a file: the damaged one stays as it is, and when the
        offer is refused the journal stays too.
        """
        lesson = recover(path) if path.suffix.lower() == LESSON_SUFFIX else None
        lock = None if lesson is None else _locked(journal_path(path))
        if lesson is None or lock is None:
            return False
        if not self._asking.open_kept(path.name, why):
            lock.unlock()
            return False
        self._go_on(lesson, None, journal_path(path), lock)
        self._mark(path)
        self._messages.note(f"What was kept of {path.name} is open, not saved yet; save it anew.")
        return True

    def finish(self) -> None:
        """The bench closes in good order: the lesson is saved, or was let go."""
        self._let_go()

    def _go_on(self, lesson: Lesson, path: Path | None, place: Path, lock: QLockFile) -> None:
        """Open a recovered lesson; its old journal stays until the next change or a save."""
        self._let_go()
        self._recovering = True
        self._session.open(lesson, path, saved=False)
        self._recovering = False
        self._journal, self._lock = Journal(place, lesson), lock
        self._lesson = lesson
        self._mark(path)

    def _session_changed(self, change: Change, _initiator: object) -> None:
        before, lesson = self._lesson, self._session.lesson
        self._lesson = lesson
        if OPENED in change.fields:
            if not self._recovering:
                self._let_go()  # saved or given up before another lesson was opened
        elif lesson is not before:
            self._append(change, before, lesson)

    def _append(self, change: Change, before: Lesson, lesson: Lesson) -> None:
        try:
            if self._journal is None:
                self._begin(before)
            if self._journal is not None:
                self._journal.append(change, lesson)
        except BadInput as error:
            self._tell(str(error))
            return
        self._idle.start()

    def _begin(self, before: Lesson) -> None:
        path = self._session.path
        place = unsaved_path(self._state_folder) if path is None else journal_path(path)
        with suppress(OSError):  # the journal itself tells why its folder cannot be used
            place.parent.mkdir(parents=True, exist_ok=True)
        self._lock = _locked(place)
        if self._lock is not None:
            self._journal = Journal(place, before)
            self._mark(path)
            return
        self._tell(
            f"Changes cannot be kept safe in {place.parent} until you save: the lesson is open in "
            "another bench, or nothing may be written there."
        )

    def _mark(self, path: Path | None) -> None:
        """The journal lies beside this lesson file: a start without a file must find it."""
        self._beside = path
        if path is not None:
            mark(self._state_folder, path)

    def _tell(self, sentence: str) -> None:
        """Say once that nothing is kept safe: the work itself goes on."""
        if not self._told:
            self._messages.failed(sentence)
        self._told = True

    def _saved_changed(self) -> None:
        if not self._session.modified:
            self._let_go()

    def _let_go(self) -> None:
        """What the journal holds is not needed any more."""
        self._idle.stop()
        self._told = False
        if self._journal is not None:
            self._journal.saved(self._lesson)
        if self._lock is not None:
            self._lock.unlock()
        if self._beside is not None:
            unmark(self._state_folder, self._beside)
        self._journal = self._lock = self._beside = None

    def _flush(self) -> None:
        if self._journal is not None:
            with suppress(OSError):  # a full disk was told at the write itself
                self._journal.sync()


def _locked(journal: Path) -> QLockFile | None:
    """The lock of a journal, or None while another live bench has it. Locks of the dead yield."""
    lock = QLockFile(f"{journal}.lock")
    lock.setStaleLockTime(0)
    return lock if lock.tryLock(0) else None


def _throw_away(path: Path) -> None:
    with suppress(OSError):
        path.unlink(missing_ok=True)
