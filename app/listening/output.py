"""The audio thread's object: owns the sink, opens it once and feeds it for good."""

from __future__ import annotations

import time

from msgspec import Struct
from PySide6.QtCore import QObject, QThread, QTimer, Signal, Slot
from PySide6.QtMultimedia import QAudioDevice, QAudioFormat, QAudioSink, QMediaDevices, QtAudio

from app.listening.feed import Feed, Request
from core.sound.bank import NoteBank
from core.sound.timeline import Timeline

BUFFER_SECONDS = 0.25
NO_DEVICE = (
    "No sound output was found: connect or switch one on and press Hear again. "
    "Everything else, WAV files too, works without it."
)
REFUSED = (
    "The sound output {name} could not be opened: close other programs that use it or choose "
    "another output. Everything else, WAV files too, works without it."
)


class Heard(Struct, frozen=True):
    """So many frames had been heard at a moment of the monotonic clock (seconds)."""

    frames: int
    moment: float


class Output(QObject):
    """Lives in the audio thread; everything but `feed` and `heard` is used through its slots."""

    failed = Signal(str)
    opened = Signal()

    def __init__(self, bank: NoteBank) -> None:
        super().__init__()
        self.bank = bank
        self.feed: Feed | None = None
        self.heard = Heard(0, 0.0)
        self._sink: QAudioSink | None = None
        self._ticker: QTimer | None = None
        self._closing = False
        self._made: Timeline | None = None  # the timeline whose notes are all in the bank

    @Slot(QAudioDevice)
    def open_sink(self, device: QAudioDevice) -> None:
        """Open a device (a null one: the usual output); says `opened` or `failed`."""
        assert QThread.currentThread() is self.thread(), "the sink belongs to the audio thread"
        self.close_sink()
        self._closing = False
        self.heard = Heard(0, 0.0)
        chosen = QMediaDevices.defaultAudioOutput() if device.isNull() else device
        if chosen.isNull():
            self.failed.emit(NO_DEVICE)
            return
        form = _format(chosen, self.bank.rate)
        if form is None:
            self.failed.emit(REFUSED.format(name=chosen.description()))
            return
        floats = form.sampleFormat() == QAudioFormat.SampleFormat.Float
        self.feed = Feed(self.bank, form.channelCount(), floats)
        self._sink = QAudioSink(chosen, form)
        self._sink.setBufferSize(round(BUFFER_SECONDS * self.bank.rate) * self.feed.frame_bytes)
        self._sink.stateChanged.connect(self.look_at_state)
        self._sink.start(self.feed)
        if self._sink.error() != QtAudio.Error.NoError:
            self.close_sink()
            self.failed.emit(REFUSED.format(name=chosen.description()))
            return
        self._ticker = QTimer(self)
        self._ticker.timeout.connect(self.look_at_clock)
        self._ticker.start(20)
        self.opened.emit()

    @Slot()
    def close_sink(self) -> None:
        """Let go of the device."""
        self._closing = True
        if self._ticker is not None:
            self._ticker.stop()
            self._ticker.deleteLater()
            self._ticker = None
        if self._sink is not None:
            self._sink.stop()
            self._sink.deleteLater()
            self._sink = None
        if self.feed is not None:
            self.feed.close()
            self.feed = None

    @Slot()
    def look_at_clock(self) -> None:
        """Note down how much has been heard, for the playhead; make a note that will be needed."""
        if self._sink is None or self.feed is None:
            return
        micros = self._sink.processedUSecs()
        self.heard = Heard(micros * self.bank.rate // 1_000_000, time.monotonic())
        timeline = self.feed.views[-1].timeline
        if timeline is None or timeline is self._made:
            return
        key = next(self.bank.missing(timeline), None)
        if key is None:
            self._made = timeline
        else:
            self.bank.note(key)

    @Slot()
    def look_at_state(self) -> None:
        """A sink that stops by itself has lost its device."""
        if self._sink is None or self._closing:
            return
        if self._sink.state() == QtAudio.State.StoppedState and (
            self._sink.error() != QtAudio.Error.NoError
        ):
            self.close_sink()
            self.failed.emit(NO_DEVICE)


def ask(output: Output, request: Request) -> bool:
    """Hand a request to the feed; False where no sink is open."""
    feed = output.feed
    if feed is None:
        return False
    feed.ask(request)
    return True


def _format(device: QAudioDevice, rate: int) -> QAudioFormat | None:
    """A format of our rate that the device takes: float or 16 bit, stereo or its own channels."""
    preferred = device.preferredFormat()
    for channels in (2, 1, preferred.channelCount()):
        for kind in (QAudioFormat.SampleFormat.Float, QAudioFormat.SampleFormat.Int16):
            form = QAudioFormat()
            form.setSampleRate(rate)
            form.setChannelCount(channels)
            form.setSampleFormat(kind)
            if channels > 0 and device.isFormatSupported(form):
                return form
    return None
