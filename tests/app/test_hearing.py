"""Hearing through a player of the tests' own: what is asked of it, and what the window shows."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QPushButton

from core.model import walk


class StandIn(QObject):
    """Takes timelines as the player does; plays in the test's own time."""

    started = Signal()
    stopped = Signal()
    moved = Signal(int, object, int)
    failed = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.playing = False
        self.played: list = []
        self.followed: list = []

    def play(self, timeline, first=0):
        self.playing = True
        self.played.append(timeline)
        self.started.emit()

    def follow(self, timeline):
        self.followed.append(timeline)

    def stop(self):
        if self.playing:
            self.playing = False
            self.stopped.emit()

    def close(self):
        self.stop()


@pytest.fixture
def player(qapp):
    return StandIn()


@pytest.fixture
def bench(make_bench, player):
    return make_bench(player=lambda: player)


def step(bench, percent: int) -> QPushButton:
    """The button of the listening bar for a practice tempo."""
    return bench.window.listening.findChild(QPushButton, f"tempo-{percent}")


def ids(bench):
    return [m.id for m in walk.measures(bench.lesson().arrangement)]


def heard(timeline):
    return [p.measure for p in timeline.positions]


def test_space_hears_the_section_and_stops(bench, player):
    bench.press("Space")
    assert heard(player.played[0]) == ids(bench)[:2]
    assert bench.window.listening.play.text() == "Stop"
    bench.press("Space")
    assert not player.playing
    assert bench.window.listening.play.text() == "Hear section A"


def test_measure_and_piece(bench, player):
    bench.press("Ctrl+Right", "Shift+Space")
    assert heard(player.played[-1]) == ids(bench)[1:2]
    bench.press("Ctrl+F9")
    assert heard(player.played[-1]) == ids(bench)


def test_the_tempo_is_a_fraction_and_beats_a_minute(bench, player):
    assert bench.label("tempo-share") == "70 % of the goal"
    assert bench.label("tempo") == "42 a minute"
    step(bench, 50).click()
    assert bench.lesson().settings.practice_percent == 50
    assert bench.label("tempo") == "30 a minute"
    bench.press("]", "]")
    assert bench.lesson().settings.practice_percent == 60
    assert [s.label for s in bench.session.history.done].count(
        bench.session.history.done[-1].label
    ) == 1


def test_seconds_follow_from_the_tempo(bench, player):
    """Two measures of 4/4 at 60 quarters a minute take 8 s; at half the tempo 16 s."""
    bench.press("I")  # no count-in
    step(bench, 100).click()
    bench.press("Space")
    assert player.played[-1].seconds == pytest.approx(8.0)
    step(bench, 50).click()
    assert player.followed[-1].seconds == pytest.approx(16.0)


def test_loop_count_in_and_click_change_what_is_heard(bench, player):
    bench.press("O", "K", "Shift+Space")
    timeline = player.played[-1]
    assert len(timeline.positions) > 10
    assert timeline.clicks
    assert bench.window.listening.loop.isChecked()
    assert timeline.music_start > 0


def test_the_melody_alone(bench, player):
    bench.window.listening.bass.setValue(0)
    bench.press("Space")
    assert bench.hearing.choices.bass == 0


def test_an_edit_is_heard_at_once(bench, player):
    bench.press("Space", "3")
    assert len(player.followed) == 1


def test_the_playhead_follows_on_sheet_and_strip(bench, player):
    bench.press("Ctrl+F9")
    second = ids(bench)[1]
    player.moved.emit(second, 0, 1)
    assert bench.sheet.playhead is not None
    assert bench.window.strip.playhead == (1, 0.0)
    player.stop()
    assert bench.sheet.playhead is None
    assert bench.window.strip.playhead is None


def test_no_sound_output_is_one_sentence(bench, player):
    bench.press("Space")
    player.failed.emit("No sound output was found: connect or switch one on.")
    player.stop()
    assert "No sound output" in bench.message()
    bench.press("3")
    assert bench.message().startswith("Fret") or bench.message() == ""


@pytest.mark.qt_log_ignore("(?i)pulse", "(?i)pipewire", "propagateSizeHints")
def test_no_device_with_the_real_player(make_bench, qtbot):
    """Where the machine has an output this plays silence's neighbour; either way nothing raises."""
    from PySide6.QtMultimedia import QMediaDevices

    if QMediaDevices.audioOutputs():
        pytest.skip("this machine has a sound output")
    bench = make_bench()
    bench.press("Space")
    qtbot.waitUntil(lambda: "No sound output" in bench.message(), timeout=10_000)
    assert not bench.hearing.playing


def test_opening_another_lesson_stops(bench, player):
    from tests import build

    bench.press("Space")
    bench.session.open(build.lesson(["C4s5f15:whole"]), None)
    assert not player.playing
