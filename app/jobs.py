"""Slow work beside the window: one job at a time, with progress, and a way to stop it."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread

from PySide6.QtCore import QObject, Signal

from app.sentences import os_sentence
from core.model.errors import FootstoolError

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
