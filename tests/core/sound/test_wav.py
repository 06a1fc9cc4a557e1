"""WAV files read by the standard library and byte by byte."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from msgspec import structs

from core.model import BadInput
from core.sound import Plan, timeline, wav
from core.sound.bank import NoteBank
from core.sound.mixer import render
from tests import build
from tests.core.sound.hearing import read_wav

LINE = timeline(build.lesson(["C4s2f1:quarter E4s1f0:half. | C3s5f3:whole"]), Plan(), 44_100)
BANK = NoteBank(44_100)


def test_samples_come_back_within_the_dither() -> None:
    rate, sound = read_wav(wav.encode(LINE, BANK, "A"))
    assert (rate, len(sound)) == (44_100, LINE.total)
    wanted = render(LINE, BANK, 0, LINE.total)
    assert np.abs(sound * 32768 / 32767 - wanted).max() < 2 / 32767


def test_dither_leaves_no_pattern() -> None:
    """The rounding error is noise of half a step (triangular dither), unrelated to the sound."""
    _, sound = read_wav(wav.encode(LINE, BANK, "A"))
    wanted = render(LINE, BANK, 0, LINE.total).astype(np.float64)
    error = sound * 32768 - wanted * 32767
    assert np.std(error) == pytest.approx(0.5, abs=0.02)  # sqrt(1/12 + 2/12)
    assert abs(np.corrcoef(error, wanted)[0, 1]) < 0.02


def test_the_same_music_gives_the_same_bytes() -> None:
    assert wav.encode(LINE, BANK, "A") == wav.encode(LINE, NoteBank(44_100), "A")


def test_the_file_carries_its_name() -> None:
    """RIFF: every chunk padded to even length, sizes adding up, INAM in LIST/INFO."""
    data = wav.encode(LINE, BANK, "Où, 60")
    assert (data[:4], data[8:12]) == (b"RIFF", b"WAVE")
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    chunks, at = {}, 12
    while at < len(data):
        kind, size = struct.unpack("<4sI", data[at : at + 8])
        chunks[kind] = data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    assert at == len(data)
    assert list(chunks) == [b"fmt ", b"LIST", b"data"]
    assert chunks[b"LIST"].startswith(b"INFOINAM")
    assert "Où, 60".encode() + b"\0" in chunks[b"LIST"]


def test_a_sound_of_many_hours_is_refused() -> None:
    endless = structs.replace(LINE, total=4 * 3600 * 44_100)
    with pytest.raises(BadInput, match=r"4\.0 hours"):
        wav.encode(endless, BANK, "A")
