"""Proof of sound: the real player through a private pulseaudio null sink, recorded and measured."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from core.sound.bank import NoteBank
from core.sound.mixer import render
from tests.app.listening.play_piece import PER_MINUTE, TUNE, line
from tests.core.sound.measure import Reals, cents, onsets, pitch, rms

pytestmark = pytest.mark.pulse
ROOT = Path(__file__).parents[3]
RATE = 48_000
ATTEMPTS = 3  # a starved machine may leave gaps that say nothing about the player


def environment(folder: Path) -> dict[str, str]:
    """This process's environment with every pulseaudio path inside `folder`."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("PULSE", "XDG", "DBUS"))}
    for name in ("run", "config", "state"):
        (folder / name).mkdir(mode=0o700, exist_ok=True)
    return kept | {
        "HOME": str(folder),
        "XDG_RUNTIME_DIR": str(folder / "run"),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "PULSE_RUNTIME_PATH": str(folder / "run"),
        "PULSE_STATE_PATH": str(folder / "state"),
        "PULSE_SERVER": f"unix:{folder / 'run' / 'native'}",
        "QT_QPA_PLATFORM": "offscreen",
        "OPENBLAS_NUM_THREADS": "1",
    }


@contextmanager
def running(command: list[str], **options) -> Iterator[subprocess.Popen[bytes]]:
    """A process that is gone when the block is left, whatever happens."""
    process = subprocess.Popen(command, **options)
    try:
        yield process
    finally:
        if process.poll() is None:
            process.terminate()
        try:
            process.wait(5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        for stream in (process.stdout, process.stderr):
            if stream is not None:
                stream.close()


@pytest.fixture
def server() -> Iterator[dict[str, str]]:
    """The environment of a private sound server whose only output is the null sink `probe`."""
    if shutil.which("pulseaudio") is None or shutil.which("parec") is None:
        pytest.skip("pulseaudio and parec are not installed (pulseaudio, pulseaudio-utils)")
    with tempfile.TemporaryDirectory(prefix="fs-") as name:
        folder = Path(name)
        env = environment(folder)
        socket = folder / "run" / "native"
        log = folder / "log"
        command = [
            "pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1",
            "--disable-shm=yes", "--high-priority=yes", "--realtime=yes",
            "-L", f"module-native-protocol-unix socket={socket} auth-anonymous=1",
            "-L", f"module-null-sink sink_name=probe rate={RATE} channels=2",
        ]  # fmt: skip
        with (
            log.open("wb") as sink,
            running(command, env=env, stdout=sink, stderr=sink, stdin=subprocess.DEVNULL) as made,
        ):
            wait_until(lambda: answers(env) or made.poll() is not None, 30)
            assert made.poll() is None, log.read_text("utf-8", "replace")
            yield env


def answers(env: dict[str, str]) -> bool:
    """Whether the server is up and its null sink is there."""
    try:
        listed = subprocess.run(
            ["pactl", "list", "short", "sinks"],
            check=False,
            env=env,
            capture_output=True,
            timeout=10,
        )
    except subprocess.TimeoutExpired:
        return False
    return b"probe" in listed.stdout


def wait_until(done, seconds: float) -> None:
    limit = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < limit, "the sound server did not come up"
        time.sleep(0.1)


def recorded(env: dict[str, str]) -> Reals:
    """Play the piece in a process of its own; what the null sink heard, mono."""
    listen = [
        "parec", "-d", "probe.monitor", "--format=s16le", f"--rate={RATE}", "--channels=1",
        "--latency-msec=100",
    ]  # fmt: skip
    chunks: list[bytes] = []
    with running(listen, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as recorder:
        assert recorder.stdout is not None
        stream = recorder.stdout

        def collect() -> None:
            while chunk := stream.read1(65_536):
                chunks.append(chunk)

        collector = threading.Thread(target=collect)
        collector.start()
        wait_until(lambda: chunks or recorder.poll() is not None, 30)
        played = subprocess.run(
            [sys.executable, "-W", "error", "-m", "tests.app.listening.play_piece"],
            check=False, cwd=ROOT, env=env, capture_output=True, timeout=90,
        )  # fmt: skip
        recorder.terminate()
        collector.join(10)
    assert played.returncode == 0, played.stderr.decode("utf-8", "replace")
    data = b"".join(chunks)
    return np.frombuffer(data[: len(data) // 2 * 2], "<i2") / 32768.0


def expected() -> Reals:
    found = line()
    return render(found, NoteBank(RATE), 0, found.total).astype(np.float64)


def aligned(heard: Reals, made: Reals) -> tuple[Reals, float]:
    """The stretch of a recording that is most like `made`, and how alike they are (1: the same)."""
    size = 1 << (heard.size + made.size).bit_length()
    product = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(made, size)), size)
    start = int(np.argmax(product[: max(1, heard.size - made.size // 2)]))
    part = heard[start : start + made.size]
    part = np.concatenate((part, np.zeros(made.size - part.size)))
    likeness = float(np.dot(part, made) / np.sqrt(np.dot(part, part) * np.dot(made, made) + 1e-12))
    return part, likeness


def test_what_comes_out_is_what_was_rendered(server):
    """Onsets, pitches and the wave itself: recorded from the sink against the offline render."""
    made = expected()
    lead = np.zeros(RATE // 10)
    offline = onsets(np.concatenate((lead, made)), RATE)
    assert np.allclose(np.diff(offline), 60 / PER_MINUTE, atol=0.006)
    assert len(offline) == 8
    for _ in range(ATTEMPTS):
        heard, likeness = aligned(recorded(server), made)
        times = onsets(np.concatenate((lead, heard)), RATE)
        if likeness > 0.999 and len(times) == len(offline):
            break
    assert rms(heard) > 0.003, "nothing but silence was recorded"
    assert likeness > 0.999
    assert len(times) == len(offline)
    assert np.allclose(np.diff(times), np.diff(offline), atol=0.003)
    notes = [e.notes[0] for m in TUNE.arrangement.sections[0].measures for e in m.voices[0]]
    for n in (0, 1, 2, 6, 7):  # equal temperament from A = 440 Hz (ISO 16)
        hertz = 440 * 2 ** ((notes[n].pitch.midi - 69) / 12)
        start = round((n * 60 / PER_MINUTE + 0.02) * RATE)
        part = heard[start : start + RATE]
        assert abs(cents(pitch(part, RATE, hertz), hertz)) < 3, notes[n].pitch
