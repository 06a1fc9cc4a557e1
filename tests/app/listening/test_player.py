"""The player without a device: one sentence, no noise, no threads left; the feed by itself."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from msgspec import structs
from PySide6.QtCore import QThread
from PySide6.QtMultimedia import QAudioDevice, QMediaDevices

from app.listening import Player
from app.listening.feed import Feed, Request
from app.listening.output import NO_DEVICE
from core.sound import Plan, timeline
from core.sound.bank import NoteBank
from core.sound.mixer import render
from tests import build

RATE = 16_000
TUNE = build.lesson(
    ["E4s1f0:quarter G4s1f3:quarter B3s2f0:half | A2s5f0:whole", "C4s2f1:whole | A2s5f0:whole"]
)
LINE = timeline(TUNE, Plan(per_minute=240), RATE)


@pytest.fixture
def no_device(monkeypatch):
    """No sound output, whatever this machine has."""
    monkeypatch.setattr(QMediaDevices, "defaultAudioOutput", staticmethod(QAudioDevice))


@pytest.fixture
def player(qtbot, qtlog):
    made = Player(rate=RATE)
    yield made
    made.close()
    assert [r.message for r in qtlog.records] == []


def read_all(feed: Feed, frames: int, block: int = 700) -> np.ndarray:
    """The next frames as the sink would read them, mono floats."""
    parts = []
    while frames > 0:
        data = feed.readData(min(block, frames) * feed.frame_bytes)
        parts.append(np.frombuffer(data, "<f4"))
        frames -= len(data) // feed.frame_bytes
    return np.concatenate(parts)


# ---------------------------------------------------------------- the player


def test_without_a_device_there_is_one_sentence(player, qtbot, no_device):
    told, started, stopped = [], [], []
    player.failed.connect(told.append)
    player.started.connect(lambda: started.append(1))
    player.stopped.connect(lambda: stopped.append(1))
    with qtbot.waitSignal(player.failed, timeout=20_000):
        player.play(LINE)
    assert told == [NO_DEVICE]
    assert not player.playing
    assert not started
    assert not stopped
    with qtbot.waitSignal(player.failed, timeout=20_000):  # it may be tried again
        player.play(LINE)
    assert told == [NO_DEVICE] * 2


def test_stopping_and_closing_what_never_played(player, qtbot):
    stopped = []
    player.stopped.connect(lambda: stopped.append(1))
    player.stop()
    player.close()
    player.close()
    assert not stopped


def test_no_thread_is_left(qtbot, no_device):
    before = threading.active_count()
    made = Player(rate=RATE)
    thread = made.audio_thread
    with qtbot.waitSignal(made.failed, timeout=20_000):
        made.play(LINE)
    assert thread.isRunning()
    made.close()
    assert thread.isFinished()
    assert threading.active_count() == before
    with qtbot.waitSignal(made.failed, timeout=20_000):  # closed is not dead
        made.play(LINE)
    made.close()
    assert thread.isFinished()


def test_another_rate_is_refused(player):
    with pytest.raises(ValueError):
        player.play(timeline(TUNE, Plan(), 8000))


def test_the_sink_is_opened_in_the_audio_thread(player, qtbot, monkeypatch):
    """A slot that ran in the GUI thread would feed the sink from there, and stutter."""
    seen = []

    def nothing_there():
        seen.append(QThread.currentThread().objectName())
        return QAudioDevice()

    monkeypatch.setattr(QMediaDevices, "defaultAudioOutput", staticmethod(nothing_there))
    with qtbot.waitSignal(player.failed, timeout=20_000):
        player.play(LINE)
    assert seen == ["audio"]


# ---------------------------------------------------------------- the feed


def test_the_feed_plays_what_the_mixer_renders_bit_for_bit(qtbot):
    feed = Feed(NoteBank(RATE), 1, True)
    assert not read_all(feed, 1000).any()
    feed.ask(Request(LINE))
    heard = read_all(feed, LINE.total + 500, block=333)
    assert np.array_equal(heard[: LINE.total], render(LINE, NoteBank(RATE), 0, LINE.total))
    assert not heard[LINE.total :].any()
    assert feed.views[-1].sample(feed.frames) == LINE.total + 500


def test_channels_and_formats(qtbot):
    stereo = Feed(NoteBank(RATE), 2, False)
    assert stereo.frame_bytes == 4
    assert stereo.isSequential()
    assert stereo.bytesAvailable() >= RATE * 4
    stereo.ask(Request(LINE))
    data = np.frombuffer(stereo.readData(1000 * 4 + 3), "<i2").reshape(-1, 2)
    assert data.shape == (1000, 2)
    assert np.array_equal(data[:, 0], data[:, 1])
    exact = render(LINE, NoteBank(RATE), 0, 1000)
    assert np.abs(data[:, 0] / 32767 - exact).max() < 1 / 32767
    assert stereo.readData(0) == b""
    assert stereo.writeData(b"", 0) == -1


def test_stopping_fades_and_seeking_crosses_over(qtbot):
    """No step between neighbouring samples is larger than the music's own."""
    feed = Feed(NoteBank(RATE), 1, True)
    feed.ask(Request(LINE, first=2000))  # into the middle of notes
    parts = [read_all(feed, 3000)]
    feed.ask(Request(LINE, first=9000))
    parts.append(read_all(feed, 3000))
    feed.ask(Request(None))
    parts.append(read_all(feed, 3000))
    heard = np.concatenate(parts)
    music = render(LINE, NoteBank(RATE), 0, LINE.total)
    own = float(np.abs(np.diff(music)).max())
    assert np.abs(np.diff(heard)).max() < 1.2 * own
    assert not heard[-2000:].any()
    assert abs(heard[0]) < 1e-6


def test_following_goes_on_at_the_same_moment(qtbot):
    """At half the tempo the same music sounds at twice the sample."""
    feed = Feed(NoteBank(RATE), 1, True)
    feed.ask(Request(LINE))
    read_all(feed, 6000)
    slow = timeline(TUNE, Plan(per_minute=120), RATE)
    feed.ask(Request(slow, follows=True))
    read_all(feed, 10)
    assert feed.views[-1].first == pytest.approx(12_000, abs=2)


def test_only_the_last_views_are_kept(qtbot):
    feed = Feed(NoteBank(RATE), 1, True)
    for n in range(40):
        feed.ask(Request(LINE, first=n))
    read_all(feed, 100)
    assert len(feed.views) <= 16
    assert feed.views[-1].first == 39
    quiet = structs.replace(feed.views[-1], timeline=None)
    assert not quiet.render(feed.bank, 0, 10).any()
