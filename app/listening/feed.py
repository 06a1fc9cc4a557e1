"""The device the audio sink reads from: renders the present timeline block by block."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from PySide6.QtCore import QIODevice

from core.sound.bank import NoteBank
from core.sound.mixer import render
from core.sound.strings import Samples
from core.sound.timeline import Timeline

CROSSFADE_SECONDS = 0.005
STOP_SECONDS = 0.030


class View(Struct, frozen=True):
    """From frame `start` of the stream on, `timeline` is heard from its sample `first`.

    Without a timeline there is silence.
    """

    start: int
    timeline: Timeline | None = None
    first: int = 0

    def sample(self, frame: int) -> int:
        """The sample of the timeline that stands at a frame of the stream."""
        return frame - self.start + self.first

    def render(self, bank: NoteBank, begin: int, end: int) -> Samples:
        """The frames from `begin` up to `end` of the stream."""
        if self.timeline is None:
            return np.zeros(end - begin, dtype=np.float32)
        return render(self.timeline, bank, self.sample(begin), self.sample(end))


class Request(Struct, frozen=True):
    """What the player asks for: play a timeline from a sample on, follow one, or (None) stop.

    A request that follows goes on at the moment of the music that sounds now.
    """

    timeline: Timeline | None
    first: int = 0
    follows: bool = False


class Feed(QIODevice):
    """Endless mono sound, as frames of the sink's format. Read in the audio thread only.

    `ask` and `views` may be used from any thread. Changes take effect between blocks, with a
    crossfade of 5 ms (30 ms when stopping), so that nothing clicks.
    """

    def __init__(self, bank: NoteBank, channels: int, floats: bool) -> None:
        super().__init__()
        self.bank = bank
        self.frames = 0
        self.views: tuple[View, ...] = (View(0),)
        self._requests: deque[Request] = deque()
        self._channels = channels
        self._floats = floats
        self._leaving: tuple[View, int, int] | None = None  # old view, first frame, length
        self.open(QIODevice.OpenModeFlag.ReadOnly)

    @property
    def frame_bytes(self) -> int:
        return self._channels * (4 if self._floats else 2)

    def ask(self, request: Request) -> None:
        """Have a request carried out before the next block."""
        self._requests.append(request)

    def isSequential(self) -> bool:
        return True

    def bytesAvailable(self) -> int:
        return self.frame_bytes * self.bank.rate + super().bytesAvailable()

    def readData(self, most: int) -> bytes:
        """The next frames, as many as fit into `most` bytes, a tenth of a second at most."""
        self._carry_out()
        count = min(most // self.frame_bytes, self.bank.rate // 10)
        sound = self._mixed(self.frames, self.frames + count)
        self.frames += count
        return self._encoded(sound)

    def writeData(self, data: bytes | bytearray | memoryview, length: int) -> int:
        return -1

    def _carry_out(self) -> None:
        for request in self._taken():
            now = self.views[-1]
            first = request.first
            if request.follows and request.timeline and now.timeline:
                first = request.timeline.sample_at(now.timeline, now.sample(self.frames))
            seconds = CROSSFADE_SECONDS if request.timeline else STOP_SECONDS
            if now.timeline is not None or first > 0:  # a beginning keeps its attack
                self._leaving = (now, self.frames, round(seconds * self.bank.rate))
            recent = self.views[-15:]
            self.views = (*recent, View(self.frames, request.timeline, first))

    def _taken(self) -> Iterator[Request]:
        while self._requests:
            yield self._requests.popleft()

    def _mixed(self, begin: int, end: int) -> Samples:
        sound = self.views[-1].render(self.bank, begin, end)
        if self._leaving is None:
            return sound
        old, start, length = self._leaving
        last = min(end, start + length)
        if last > begin:
            falling = self.bank.fade(length)[begin - start : last - start]
            sound[: last - begin] *= 1 - falling
            sound[: last - begin] += old.render(self.bank, begin, last) * falling
        if end >= start + length:
            self._leaving = None
        return sound

    def _encoded(self, sound: Samples) -> bytes:
        framed = np.repeat(sound, self._channels)
        if self._floats:
            return bytes(framed.astype("<f4").tobytes())
        return bytes(np.rint(framed * np.float32(32767)).astype("<i2").tobytes())
