"""The player: play, stop, follow, and where the music is; lives in the GUI thread."""

from __future__ import annotations

import time
from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, QObject, Qt, QThread, QTimer, Signal, Slot
from PySide6.QtMultimedia import QAudioDevice, QMediaDevices

from app.listening.feed import Request, View
from app.listening.output import Output, ask
from core.sound.bank import NoteBank
from core.sound.timeline import DEFAULT_RATE, Timeline

TICK_MS = 15


class Player(QObject):
    """Plays timelines of `rate` samples a second through the built-in strings.

    The device is opened at the first `play` and fed silence between plays. Nothing plays by
    itself. Call `close` (or quit the application) before it is destroyed.
    """

    started = Signal()
    stopped = Signal()
    moved = Signal(int, object, int)  # measure id, ticks in the measure, occurrence index
    failed = Signal(str)
    _opening = Signal(QAudioDevice)
    _closing = Signal()

    def __init__(self, parent: QObject | None = None, rate: int = DEFAULT_RATE) -> None:
        super().__init__(parent)
        self.rate = rate
        self._device = QAudioDevice()
        self._playing: Timeline | None = None
        self._waiting: Request | None = None
        self._ready = False
        self._heard = 0  # frames of the stream, as far as the playhead has followed
        self._offset = 0.0  # frames heard at moment 0 of the clock
        self._thread = QThread()
        self._thread.setObjectName("audio")
        self._output = Output(NoteBank(rate))
        self._output.moveToThread(self._thread)
        self._output.opened.connect(self._on_opened)
        self._output.failed.connect(self._on_failed)
        self._opening.connect(self._output.open_sink)
        self._closing.connect(self._output.close_sink, Qt.ConnectionType.BlockingQueuedConnection)
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._follow_sound)
        application = QCoreApplication.instance()
        if application is not None:
            application.aboutToQuit.connect(self.close)

    @property
    def audio_thread(self) -> QThread:
        """The thread that feeds the device; runs from the first sound until `close`."""
        return self._thread

    @property
    def playing(self) -> bool:
        """Whether something is being played."""
        return self._playing is not None

    def play(self, timeline: Timeline, first: int = 0) -> None:
        """Play a timeline from one of its samples on; what plays now gives way."""
        self._ask(Request(timeline, first))

    def follow(self, timeline: Timeline) -> None:
        """Go on with another timeline at the same moment of the music (tempo, loop, voices)."""
        self._ask(Request(timeline, follows=self._playing is not None))

    @Slot()
    def stop(self) -> None:
        """Fall silent; says `stopped` if something was playing."""
        self._waiting = None
        if self._playing is None:
            return
        ask(self._output, Request(None))
        self._end()

    def outputs(self) -> Sequence[QAudioDevice]:
        """The sound outputs there are now."""
        return QMediaDevices.audioOutputs()

    def set_output(self, device: QAudioDevice) -> None:
        """Use another output from the next play on; a null device is the usual one."""
        self.stop()
        self._device = device
        self._ready = False

    @Slot()
    def close(self) -> None:
        """Stop, let go of the device and end the audio thread."""
        self.stop()
        if self._thread.isRunning():
            self._closing.emit()
            self._thread.quit()
            self._thread.wait()

    def _ask(self, request: Request) -> None:
        timeline = request.timeline
        assert timeline is not None
        if timeline.rate != self.rate:
            raise ValueError(f"the player plays {self.rate} samples a second, not {timeline.rate}")
        if not self._ready or not ask(self._output, request):
            self._waiting = request
            self._ready = False
            if not self._thread.isRunning():
                self._thread.start(QThread.Priority.TimeCriticalPriority)
            self._opening.emit(self._device)
            return
        self._begin(timeline)

    def _begin(self, timeline: Timeline) -> None:
        fresh = self._playing is None
        self._playing = timeline
        self._timer.start()
        if fresh:
            self.started.emit()

    def _end(self) -> None:
        self._playing = None
        self._timer.stop()
        self.stopped.emit()

    @Slot()
    def _on_opened(self) -> None:
        self._ready = True
        self._heard = 0
        request, self._waiting = self._waiting, None
        if request is not None:
            self._ask(request)

    @Slot(str)
    def _on_failed(self, sentence: str) -> None:
        self._ready = False
        self._waiting = None
        if self._playing is not None:
            self._end()
        self.failed.emit(sentence)

    @Slot()
    def _follow_sound(self) -> None:
        feed = self._output.feed
        if feed is None or self._playing is None:
            return
        frame = self._heard_frame(feed.frames)
        view = _view_at(feed.views, frame)
        if view.timeline is None or view.timeline is not self._playing:
            return
        sample = view.sample(frame)
        if sample >= view.timeline.total:
            ask(self._output, Request(None))
            self._end()
            return
        occurrence, measure, ticks = view.timeline.at(sample)
        self.moved.emit(measure, ticks, occurrence)

    def _heard_frame(self, rendered: int) -> int:
        """The frame that is heard now; it never goes back.

        The sink reports in jumps: between reports our clock goes on, corrected a tenth of the
        difference at a time, at once where it is more than 50 ms.
        """
        heard, now = self._output.heard, time.monotonic()
        offset = heard.frames - heard.moment * self.rate if heard.moment else -now * self.rate
        away = offset - self._offset
        self._offset = offset if abs(away) > 0.05 * self.rate else self._offset + away / 10
        frame = min(rendered, round(now * self.rate + self._offset))
        self._heard = max(self._heard, frame)
        return self._heard


def _view_at(views: Sequence[View], frame: int) -> View:
    return next((view for view in reversed(views) if view.start <= frame), views[0])
