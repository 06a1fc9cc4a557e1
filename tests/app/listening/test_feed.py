"""The feed and the player without a sound server."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QThread
from PySide6.QtMultimedia import QAudioDevice
from pytestqt.qtbot import QtBot

from app.listening import Player, output
from app.listening.feed import Feed, Request
from core.sound import Plan, timeline
from core.sound.bank import NoteBank
from core.sound.mixer import render
from core.sound.strings import Samples
from tests import build

RATE = 48_000
BANK = NoteBank(RATE)
TUNE = build.lesson(["C4s2f1:quarter E4s1f0:quarter G4s1f3:half | C3s5f3:whole", "D4s2f3:whole"])
LINE = timeline(TUNE, Plan(), RATE)
SLOW = timeline(TUNE, Plan(percent=50), RATE)


def feed(channels: int = 1, floats: bool = True) -> Feed:
    return Feed(BANK, channels, floats)


def read(device: Feed, frames: int) -> Samples:
    """Exactly so many frames of a mono float feed."""
    parts, left = [], frames
    while left:
        part = np.frombuffer(device.readData(4 * left), "<f4")
        parts.append(part)
        left -= len(part)
    return np.concatenate(parts)


@pytest.mark.usefixtures("qapp")
class TestFeed:
    def test_it_is_silent_until_asked(self) -> None:
        assert not read(feed(), 10_000).any()

    def test_it_plays_the_very_samples_of_the_mixer(self) -> None:
        device = feed()
        read(device, 777)
        device.ask(Request(LINE))
        assert (read(device, 30_000) == render(LINE, BANK, 0, 30_000)).all()

    def test_stereo_and_16_bit_frames(self) -> None:
        device = feed(2, floats=False)
        device.ask(Request(LINE))
        frames = np.frombuffer(device.readData(4000), "<i2").reshape(-1, 2)
        assert (frames[:, 0] == frames[:, 1]).all()
        wanted = np.rint(render(LINE, BANK, 0, 1000) * np.float32(32767))
        assert (frames[:, 0] == wanted).all()

    def test_a_tempo_change_goes_on_at_the_same_place_with_a_crossfade(self) -> None:
        device = feed()
        device.ask(Request(LINE))
        read(device, 2 * RATE)
        device.ask(Request(SLOW, follows=True))
        sound = read(device, RATE)
        fade = round(0.005 * RATE)
        wanted = render(SLOW, BANK, 4 * RATE, 5 * RATE)
        assert (sound[fade:] == wanted[fade:]).all()
        leaving = render(LINE, BANK, 2 * RATE, 2 * RATE + fade)
        assert abs(sound[0] - leaving[0]) < 1e-6

    def test_stopping_fades_in_30_ms(self) -> None:
        device = feed()
        device.ask(Request(LINE))
        before = read(device, RATE + RATE // 2)  # between two notes
        device.ask(Request(None))
        after = read(device, RATE)
        fade = round(0.030 * RATE)
        assert not after[fade:].any()
        joined = np.concatenate((before[-100:], after[:fade]))
        steady = np.abs(np.diff(before[-4000:])).max()
        assert np.abs(np.diff(joined)).max() < 1.5 * steady

    def test_qt_reads_it_as_an_endless_device(self) -> None:
        device = feed()
        assert device.isSequential()
        assert device.bytesAvailable() >= 4 * RATE
        assert len(device.read(4000).data()) == 4000


@pytest.fixture
def player(qtbot: QtBot) -> Iterator[Player]:
    made = Player()
    yield made
    made.close()


@pytest.fixture
def deaf(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without any sound output."""
    none = SimpleNamespace(defaultAudioOutput=QAudioDevice, audioOutputs=list)
    monkeypatch.setattr(output, "QMediaDevices", none)


@pytest.mark.usefixtures("deaf")
class TestWithoutADevice:
    def test_one_sentence_and_everything_goes_on(self, player: Player, qtbot: QtBot) -> None:
        for _ in range(2):
            with qtbot.waitSignal(player.failed, timeout=10_000) as caught:
                player.play(LINE)
            sentence = caught.args[0]
            assert "No sound output" in sentence
            assert "WAV" in sentence
            assert not player.playing

    def test_stop_and_follow_are_harmless(self, player: Player, qtbot: QtBot) -> None:
        player.stop()
        with qtbot.waitSignal(player.failed, timeout=10_000):
            player.follow(LINE)


def test_nothing_starts_by_itself(player: Player) -> None:
    assert not player.playing
    assert not player.audio_thread.isRunning()


def test_another_rate_is_refused(player: Player) -> None:
    with pytest.raises(ValueError, match="44100"):
        player.play(timeline(TUNE, Plan(), 44_100))


@pytest.mark.usefixtures("deaf")
def test_closing_ends_the_thread_and_may_be_said_twice(player: Player, qtbot: QtBot) -> None:
    with qtbot.waitSignal(player.failed, timeout=10_000):
        player.play(LINE)
    assert player.audio_thread.isRunning()
    player.close()
    player.close()
    assert not player.audio_thread.isRunning()


@pytest.mark.usefixtures("deaf")
def test_the_sink_lives_in_the_audio_thread(player: Player, qtbot: QtBot) -> None:
    with qtbot.waitSignal(player.failed, timeout=10_000):
        player.play(LINE)
    assert player._output.thread() is player.audio_thread
    assert player.thread() is QThread.currentThread()
