"""WAV files: RIFF, PCM 16 bit mono, with the name of the music in ``LIST``/``INFO``.

Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991), from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

import numpy as np

from core.model import BadInput
from core.sound.bank import NoteBank
from core.sound.mixer import render
from core.sound.strings import Samples
from core.sound.timeline import Timeline

BLOCK = 65_536
MOST_SECONDS = 3 * 3600
_SEED = 1742


def encode(timeline: Timeline, bank: NoteBank, name: str) -> bytes:
    """A timeline as a WAV file, the ring of its last strings included.

    The same timeline and name give the same bytes. Raises BadInput for more than three hours.
    """
    return b"".join(pieces(timeline, bank, name))


def pieces(timeline: Timeline, bank: NoteBank, name: str) -> Iterator[bytes]:
    """The bytes of `encode` in pieces of about a second, so that long work can be stopped."""
    if timeline.total > MOST_SECONDS * timeline.rate:
        hours = timeline.total / timeline.rate / 3600
        raise BadInput(f"The sound would last {hours:.1f} hours; a WAV file here holds three.")
    info = _information(name)
    size = 2 * timeline.total
    yield _header(size, len(info), timeline.rate) + info + b"data" + struct.pack("<I", size)
    dither = np.random.Generator(np.random.PCG64(_SEED))
    for s0 in range(0, timeline.total, BLOCK):
        s1 = min(s0 + BLOCK, timeline.total)
        yield quantised(render(timeline, bank, s0, s1), dither)


def quantised(samples: Samples, dither: np.random.Generator) -> bytes:
    """16-bit little-endian samples, with triangular dither of two steps' width."""
    noise = dither.random((2, samples.size))
    steps = np.rint(samples.astype(np.float64) * 32767 + noise[0] - noise[1])
    return bytes(np.clip(steps, -32768, 32767).astype("<i2").tobytes())


def _header(data_bytes: int, info_bytes: int, rate: int) -> bytes:
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, rate, 2 * rate, 2, 16)
    total = 4 + len(form) + info_bytes + 8 + data_bytes
    return struct.pack("<4sI4s", b"RIFF", total, b"WAVE") + form


def _information(name: str) -> bytes:
    rows = b"".join(_text(kind, text) for kind, text in ((b"INAM", name), (b"ISFT", "Footstool")))
    return struct.pack("<4sI4s", b"LIST", 4 + len(rows), b"INFO") + rows


def _text(kind: bytes, text: str) -> bytes:
    data = text.replace("\0", " ").encode() + b"\0"
    return struct.pack("<4sI", kind, len(data)) + data + b"\0" * (len(data) % 2)
