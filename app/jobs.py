"""Slow work beside the window: jobs in a thread (exports, reading), thinking in a process.

`Jobs` runs one job at a time, with progress and a way to stop it. `Worker` is the one long-lived
process that works out fingers: it is told the lesson once, then what changes.
"""

from __future__ import annotations

import os
import pickle
import sys
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Signal

import app
from app.sentences import os_sentence
from app.thinking.questions import Message, Question, Reply
from app.thinking.wire import LENGTH, frame
from core.edit.change import difference
from core.model import Lesson
from core.model.errors import FootstoolError
from core.store.records import Record, record

Tell = Callable[[str], None]
Work = Callable[[Tell], object]


class Stopped(FootstoolError):
    """The teacher stopped the job."""


class Jobs(QObject):
    """Runs work in a thread of its own. The work calls `tell` often; it raises when stopped.

    Signals arrive in the GUI thread: `began(title)`, `told(words)`, `done(result)`,
    `failed(sentence)`, `stopped()`; `ended()` after any of the last three.
    """

    began = Signal(str)
    told = Signal(str)
    done = Signal(object)
    failed = Signal(str)
    stopped = Signal()
    ended = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._stop = Event()
        self._thread: Thread | None = None

    @property
    def busy(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def start(self, title: str, work: Work) -> None:
        """Begin a job; raises FootstoolError while another one runs."""
        if self.busy:
            raise FootstoolError("Something is still being made; wait for it or stop it first.")
        self._stop = Event()
        self.began.emit(title)
        self._thread = Thread(target=self._run, args=(work, self._stop), name="job", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Ask the job to stop at its next step."""
        self._stop.set()

    def close(self) -> None:
        """Stop and wait until the job is over."""
        self.stop()
        if self._thread is not None:
            self._thread.join()

    def _run(self, work: Work, stop: Event) -> None:
        def tell(words: str) -> None:
            if stop.is_set():
                raise Stopped("Stopped; nothing was left half-written.")
            self.told.emit(words)

        told = False
        try:
            result = work(tell)
        except Stopped:
            told = True
            self.stopped.emit()
        except FootstoolError as error:
            told = True
            self.failed.emit(str(error))
        except OSError as error:
            told = True
            self.failed.emit(os_sentence(error))
        else:
            told = True
            self.done.emit(result)
        finally:
            # A fault of ours still ends the job; its traceback goes to the error stream.
            if not told:
                self.failed.emit("A fault in Footstool stopped this; please report it.")
            self.ended.emit()


THINK = "--think"  # what `app.main` is started with to become the worker
END_MS = 2000


class Worker(QObject):
    """The process that works out fingers. Starts with the first question, and again after it died.

    Everything is asynchronous: nothing here ever waits but `close`. Signals: `answered(serial,
    answer)`, `told(serial, words)` of progress, `refused(serial, sentence)` where there is no
    answer, `given_up(serial)` after `stop`; `died(sentence)` when the process ended by itself:
    the questions that were open are lost, the lesson is untouched.
    """

    answered = Signal(int, object)
    told = Signal(int, str)
    refused = Signal(int, str)
    given_up = Signal(int)
    died = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._process: QProcess | None = None
        self._sent: Lesson | None = None
        self._serial = 0
        self._open: set[int] = set()
        self._bytes = bytearray()

    @property
    def pid(self) -> int:
        """The number of the running process; 0 where there is none."""
        return self._process.processId() if self._process is not None else 0

    def ask(self, lesson: Lesson, question: Question) -> int:
        """Ask about a lesson; the serial that the answer will carry."""
        process = self._running()
        self._serial += 1
        process.write(frame(Message(self._serial, self._news(lesson), question)))
        self._open.add(self._serial)
        return self._serial

    def stop(self, serial: int) -> None:
        """Give a question up; `given_up` tells when the worker has."""
        if self._process is not None and serial in self._open:
            self._process.write(frame(Message(serial, stop=True)))

    def close(self) -> None:
        """End the process now."""
        process, self._process = self._process, None
        self._forget()
        if process is not None:
            process.blockSignals(True)
            process.kill()
            process.waitForFinished(END_MS)
            process.deleteLater()

    def _news(self, lesson: Lesson) -> Lesson | Record | None:
        before, self._sent = self._sent, lesson
        if before is None:
            return lesson
        change = difference(before, lesson, "")
        return None if change.empty else record(change, lesson)

    def _running(self) -> QProcess:
        process = self._process
        if process is None or process.state() is QProcess.ProcessState.NotRunning:
            process = self._process = self._started()
        return process

    def _started(self) -> QProcess:
        process = QProcess(self)
        surroundings = QProcessEnvironment.systemEnvironment()
        # The same modules as here, in the same order, wherever the bench was started from.
        root = str(Path(app.__file__).parent.parent)
        paths = [path for path in sys.path if path]
        paths = paths if root in paths else [root, *paths]
        surroundings.insert("PYTHONPATH", os.pathsep.join(paths))
        surroundings.insert("OPENBLAS_NUM_THREADS", "1")  # the matrices are small
        process.setProcessEnvironment(surroundings)
        process.setProcessChannelMode(QProcess.ProcessChannelMode.ForwardedErrorChannel)
        process.readyReadStandardOutput.connect(self._read)
        process.finished.connect(self._ended)
        process.errorOccurred.connect(self._not_started)
        bundled = getattr(sys, "frozen", False)
        process.start(sys.executable, [THINK] if bundled else ["-P", "-m", "app.main", THINK])
        return process

    def _read(self) -> None:
        if self._process is None:
            return
        self._bytes += self._process.readAllStandardOutput().data()
        while len(self._bytes) >= LENGTH:
            end = LENGTH + int.from_bytes(self._bytes[:LENGTH], "little")
            if len(self._bytes) < end:
                return
            reply: Reply = pickle.loads(bytes(self._bytes[LENGTH:end]))
            del self._bytes[:end]
            self._take(reply)

    def _take(self, reply: Reply) -> None:
        if reply.told:
            self.told.emit(reply.serial, reply.told)
            return
        self._open.discard(reply.serial)
        if reply.failed:
            self.refused.emit(reply.serial, reply.failed)
        elif reply.answer is None:
            self.given_up.emit(reply.serial)
        else:
            self.answered.emit(reply.serial, reply.answer)

    def _forget(self) -> None:
        self._sent = None
        self._open.clear()
        self._bytes.clear()

    def _not_started(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._ended()

    def _ended(self) -> None:
        process, self._process = self._process, None
        self._forget()
        if process is not None:
            process.deleteLater()
            self.died.emit(
                "What works out the fingers stopped by itself; it starts again when you next ask. "
                "The lesson is unharmed."
            )
