"""The worker process: reads messages from its input, answers on its output, ends with its input.

A question that is given up while it is thought about is interrupted; the lesson known stays.
"""

from __future__ import annotations

import _thread
import os
import pickle
import signal
import sys
from queue import SimpleQueue
from threading import Thread
from types import FrameType
from typing import BinaryIO

from app.thinking.mind import Mind
from app.thinking.questions import Message, Reply
from app.thinking.wire import LENGTH, frame
from core.model.errors import FootstoolError


class GivenUp(FootstoolError):
    """The question being thought about is no longer wanted."""


class Process:
    """The loop of the worker, over two binary streams."""

    def __init__(self, source: BinaryIO, target: BinaryIO) -> None:
        self._source, self._target = source, target
        self._inbox: SimpleQueue[Message] = SimpleQueue()
        self._stopped: set[int] = set()
        self._current = 0  # the serial that may be interrupted now
        self._mind = Mind()

    def run(self) -> None:
        """Answer until the input ends, which ends the process at once."""
        signal.signal(signal.SIGINT, self._interrupted)
        Thread(target=self._listen, name="listen", daemon=True).start()
        while True:
            message = self._inbox.get()
            if message.news is not None:
                self._mind.learn(message.news)
            if message.question is not None:
                self._send(self._think(message))

    def _listen(self) -> None:
        while True:
            head = self._source.read(LENGTH)
            data = self._source.read(int.from_bytes(head, "little")) if head else b""
            if not data:
                os._exit(0)  # the bench is gone; whatever is being thought about is nobody's
            message: Message = pickle.loads(data)
            if message.stop:
                self._stopped.add(message.serial)
                _thread.interrupt_main()
            else:
                self._inbox.put(message)

    def _interrupted(self, _signal: int, _frame: FrameType | None) -> None:
        """Runs in the main thread between two of its steps, and raises once for a question. Ctrl+C
        in a terminal comes here too, and means nothing: the bench decides when to end."""
        if self._current in self._stopped:
            self._stopped.discard(self._current)
            raise GivenUp

    def _think(self, message: Message) -> Reply:
        serial = message.serial
        try:
            try:
                self._current = serial
                self._interrupted(0, None)
                return self._answered(message)
            finally:
                self._current = 0
        except GivenUp:
            self._current = 0
            return Reply(serial)

    def _answered(self, message: Message) -> Reply:
        assert message.question is not None
        try:
            return Reply(message.serial, self._mind.answer(message.question, self._tell))
        except GivenUp:
            raise
        except FootstoolError as error:
            return Reply(message.serial, failed=str(error))

    def _tell(self, words: str) -> None:
        serial, self._current = self._current, 0  # a frame is never torn
        self._send(Reply(serial, told=words))
        self._current = serial
        self._interrupted(0, None)

    def _send(self, reply: Reply) -> None:
        self._target.write(frame(reply))
        self._target.flush()


def main() -> None:
    """Talk over the standard streams; what anything prints goes to the error stream instead."""
    target = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    Process(sys.stdin.buffer, target).run()
