"""Sound really comes out: a private sound server with a null sink, recorded and measured."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from core.sound.bank import NoteBank
from core.sound.mixer import render
from tests.app.listening.play_probe import tune
from tests.core.sound.hearing import Signal, cents, measured_hz

RATE = 48_000
pytestmark = [
    pytest.mark.pulse,
    pytest.mark.skipif(
        not (shutil.which("pulseaudio") and shutil.which("parec")),
        reason="pulseaudio and parec are not installed (Debian: pulseaudio, pulseaudio-utils)",
    ),
]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment of a server of our own, ended with the test."""
    home = tmp_path / "pulse"
    home.mkdir(mode=0o700)
    socket = home / "native"
    places = dict.fromkeys(("HOME", "XDG_RUNTIME_DIR", "XDG_CONFIG_HOME", "PULSE_RUNTIME_PATH"))
    env = os.environ | {name: str(home) for name in places} | {"PULSE_SERVER": f"unix:{socket}"}
    modules = (
        f"module-native-protocol-unix socket={socket} auth-anonymous=1",
        f"module-null-sink sink_name=probe rate={RATE}",
    )
    loads = [word for module in modules for word in ("-L", module)]
    options = ["--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"]
    with (home / "log").open("wb") as log:
        process = subprocess.Popen(
            ["pulseaudio", "-n", *options, "--high-priority=yes", "--realtime=yes", *loads],
            env=env, stdout=log, stderr=log,
        )  # fmt: skip
        try:
            _wait_for(socket, process)
            yield env
        finally:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(10)


def _wait_for(socket: Path, process: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        if socket.exists():
            return
        assert process.poll() is None, "the sound server ended at once"
        time.sleep(0.1)
    raise AssertionError("the sound server did not come up in 30 s")


def _record(env: dict[str, str], folder: Path) -> tuple[str, Signal]:
    """Play the probe once: what it printed (stderr too), and what the server was given."""
    raw = folder / "heard.raw"
    with raw.open("wb") as out:
        recorder = subprocess.Popen(
            ["parec", "-d", "probe.monitor", "--format=float32le", f"--rate={RATE}",
             "--channels=1"],
            stdout=out, env=env,
        )  # fmt: skip
        try:
            played = subprocess.run(
                [sys.executable, "-m", "tests.app.listening.play_probe"],
                env=env | {"QT_QPA_PLATFORM": "offscreen", "OPENBLAS_NUM_THREADS": "1"},
                capture_output=True, text=True, timeout=120, check=False,
            )  # fmt: skip
        finally:
            recorder.terminate()
            recorder.wait(10)
    assert played.returncode == 0, played.stdout + played.stderr
    return played.stdout + played.stderr, np.fromfile(raw, "<f4").astype(np.float64)


def _lag(sound: Signal, wanted: Signal) -> int:
    """Where `wanted` lies in `sound` (the peak of their correlation)."""
    size = 1 << int(np.ceil(np.log2(len(sound) + len(wanted))))
    product = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(wanted, size))
    return int(np.fft.irfft(product, size)[: len(sound)].argmax())


def test_what_the_server_gets_is_what_the_offline_render_has(
    server: dict[str, str], tmp_path: Path
) -> None:
    """Onset spacing, pitch and samples. A loaded machine may drop some sound, so it is played up
    to three times; a fault of ours would show every time."""
    line = tune(RATE)
    wanted = render(line, NoteBank(RATE), 0, line.total).astype(np.float64)
    for _ in range(3):
        words, sound = _record(server, tmp_path)
        start = _lag(sound, wanted)
        heard = sound[start : start + len(wanted)]
        if len(heard) == len(wanted) and np.abs(heard - wanted).max() < 1e-4:
            break
    assert "started" in words
    assert "forward [(1, " in words
    assert "QThread" not in words
    assert "QObject" not in words
    for stroke in line.strokes:
        piece = wanted[stroke.on : stroke.on + RATE // 4]
        found = start + stroke.on - 2400 + _lag(sound[start + stroke.on - 2400 :][:20_000], piece)
        assert abs(found - (start + stroke.on)) <= 1, "an onset is displaced"
    low = line.strokes[-2]
    pitch = measured_hz(heard[low.on + 4000 : low.on + 4000 + RATE // 2], RATE, low.key.hz)
    assert abs(cents(pitch, low.key.hz)) < 2
    assert np.abs(heard - wanted).max() < 1e-4  # the server's null sink holds 16 bits
