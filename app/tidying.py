"""Python's collector of rings runs when the teacher pauses, never between two keys.

A full collection of a long lesson's layouts takes a tenth of a second, which would be felt while
typing. Almost everything here is freed without it: values hold no rings.
"""

from __future__ import annotations

import gc
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer

from app.session import OPENED, Session
from core.edit.change import Change

PAUSE_MS = 1500  # nothing changed for so long: a pause
MOST_NEW = 1_000_000  # new objects after which it is done even without a pause


class Tidying(QObject):
    """Takes the collector over as long as it lives; `busy` tells when a pause is none.

    What has survived a collection is not looked at again until another lesson is opened.
    """

    def __init__(self, session: Session, busy: Callable[[], bool]) -> None:
        super().__init__()
        self._busy = busy
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(PAUSE_MS)
        self._timer.timeout.connect(self._pause)
        session.changed.connect(self._changed)
        gc.disable()
        gc.freeze()

    def finish(self) -> None:
        """Give the collector back."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()

    def _changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields:
            gc.unfreeze()
        if gc.get_count()[0] > MOST_NEW:
            self._collect()
        self._timer.start()

    def _pause(self) -> None:
        if self._busy():
            self._timer.start()
        else:
            self._collect()

    @staticmethod
    def _collect() -> None:
        gc.collect()
        gc.freeze()
