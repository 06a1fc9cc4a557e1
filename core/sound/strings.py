"""One plucked string: a sum of decaying partials, exactly in tune.

Partial k of a stiff string stands at k f0 sqrt((1 + B k^2) / (1 + B)) (H. Fletcher, JASA 36:203,
1964, from memory), scaled so that the first partial is f0 itself. Its strength is that of a string
pulled aside at a point, sin(k pi beta) / k, softened by the width of the finger. The body is five
resonance filters (peaking filters of R. Bristow-Johnson's cookbook, from memory) applied to each
partial's amplitude, so that nothing moves its frequency. The timbre is our own taste.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy.typing as npt
from msgspec import Struct

Samples = npt.NDArray[np.float32]

LAYERS = 8
MOST_PARTIALS = 64
HIGHEST_HZ = 9_000.0
_BLOCK = 512
_PLUCK_AT = 0.19  # of the open string's length from the bridge
_LOW_HZ = 82.4069  # the open sixth string
_LOW_T60 = 5.5  # seconds to -60 dB there
_HIGH_LOSS = 2.6e-6  # more decay for higher partials, per second and Hz^2
_END_SECONDS = 0.06
# Body: centre Hz, gain dB, quality.
_BODY = (
    (98.0, 4.0, 3.0),
    (196.0, 5.0, 4.0),
    (390.0, 2.5, 3.0),
    (1100.0, 2.0, 1.2),
    (4200, -9, 0.7),
)
# Stiffness B of strings 1 to 6, and of a note without a place.
_STIFFNESS = (4e-5, 3.2e-5, 5e-5, 1.2e-5, 1.5e-5, 2e-5)
_LOOSE_STIFFNESS = 3e-5


Kind = Literal["plucked", "slurred", "harmonic"]


class NoteKey(Struct, frozen=True):
    """Everything a note's sound depends on: hertz, string (0: none), fret, layer 0 to 7, kind."""

    hz: float
    string: int
    fret: int
    layer: int
    kind: Kind = "plucked"


def layer_of(velocity: int) -> int:
    """The brightness layer of a velocity from 1 to 127."""
    return velocity * LAYERS // 128


def decay_seconds(hz: float) -> float:
    """Seconds in which a note of this pitch falls by 60 dB."""
    return float(_LOW_T60 * (_LOW_HZ / hz) ** 0.6)


def note_samples(key: NoteKey, rate: int) -> int:
    """How many samples a note rings if nobody stops it."""
    return round(min(decay_seconds(key.hz), 7.0) * rate)


def note(key: NoteKey, rate: int) -> Samples:
    """The samples of a note from its stroke on: mono float32, peak 1, read-only.

    Ends in silence after `note_samples` samples.
    """
    poles, strengths = _partials(key, rate)
    length = note_samples(key, rate)
    sound = _decaying(poles, strengths, length)
    rise = _attack(key, rate)
    sound[: rise.size] *= rise
    tail = _half_cosine(round(_END_SECONDS * rate))[::-1]
    sound[length - tail.size :] *= tail
    sound /= np.abs(sound).max()
    sound.flags.writeable = False
    return sound


Poles = npt.NDArray[np.complex128]
Reals = npt.NDArray[np.float64]


def _partials(key: NoteKey, rate: int) -> tuple[Poles, Poles]:
    """Per partial: its pole (per sample: decay and angle) and complex strength."""
    top = min(HIGHEST_HZ, 0.45 * rate)
    k = np.arange(1, max(2, min(MOST_PARTIALS, int(top / key.hz)) + 1), dtype=np.float64)
    stiff = _STIFFNESS[key.string - 1] if 1 <= key.string <= 6 else _LOOSE_STIFFNESS
    hz = k * key.hz * np.sqrt((1 + stiff * k**2) / (1 + stiff))
    decay = 6.9 / decay_seconds(key.hz) + _HIGH_LOSS * (hz**2 - key.hz**2)
    poles = np.asarray((-decay + 2j * math.pi * hz) / rate, dtype=np.complex128)
    beta = min(0.45, _PLUCK_AT * 2 ** (key.fret / 12))
    width = 0.034 - 0.0032 * key.layer
    if key.kind == "slurred":
        beta, width = 0.4, width + 0.012  # struck by the left hand: duller
    if key.kind == "harmonic":
        beta, width = 0.3, width + 0.02
    strength = np.sin(k * math.pi * beta) / k * np.exp(-((k * math.pi * width) ** 2) / 2)
    heard = hz < top
    strengths = strength * _body(hz, rate) * -1j
    return poles[heard], strengths[heard]


def _body(hz: Reals, rate: int) -> Poles:
    """The complex response of the body at the given frequencies."""
    z = np.exp(-2j * math.pi * hz / rate)
    response: Poles = np.ones_like(z)
    for centre, gain_db, quality in _BODY:
        a = 10 ** (gain_db / 40)
        angle = 2 * math.pi * centre / rate
        alpha, cosine = math.sin(angle) / (2 * quality), math.cos(angle)
        upper = (1 + alpha * a) - 2 * cosine * z + (1 - alpha * a) * z**2
        lower = (1 + alpha / a) - 2 * cosine * z + (1 - alpha / a) * z**2
        response = response * (upper / lower)
    return response


def _decaying(poles: Poles, strengths: Poles, length: int) -> Samples:
    """The real part of sum(strength * exp(pole * n)) for n = 0 .. length - 1.

    exp(pole (a + b)) = exp(pole a) exp(pole b), so one matrix product makes all samples.
    """
    starts = np.arange(0, length, _BLOCK)
    rows = strengths * np.exp(np.outer(starts, poles))
    columns = np.exp(np.outer(poles, np.arange(_BLOCK)))
    left = np.concatenate((rows.real, -rows.imag), axis=1).astype(np.float32)
    right = np.concatenate((columns.real, columns.imag)).astype(np.float32)
    made: Samples = np.ascontiguousarray((left @ right).ravel()[:length])
    return made


def _attack(key: NoteKey, rate: int) -> Samples:
    """The finger lets go: a rise of 1 to 3 ms, 5 ms where the left hand sounds the note."""
    seconds = 0.005 if key.kind == "slurred" else 0.003 - 0.00025 * key.layer
    return _half_cosine(round(seconds * rate))


def _half_cosine(length: int) -> Samples:
    """A smooth rise from 0 to 1 in so many samples."""
    n = np.arange(length, dtype=np.float64)
    rise: Samples = (0.5 - 0.5 * np.cos(math.pi * n / length)).astype(np.float32)
    return rise


def fade(length: int) -> Samples:
    """A smooth fall from 1 to 0 in so many samples; read-only."""
    curve = np.ascontiguousarray(1 - _half_cosine(length))
    curve.flags.writeable = False
    return curve


# Clicks: hertz, and gain, for the first beat, a beat, between beats (house defaults).
CLICKS = ((2000.0, 0.6), (1500.0, 0.4), (1000.0, 0.25))
CLICK_SECONDS = 0.03


def click(rank: int, rate: int) -> Samples:
    """A short soft-edged tick of rank 0, 1 or 2; its onset is its first sample; read-only."""
    hz, gain = CLICKS[rank]
    n = np.arange(round(CLICK_SECONDS * rate), dtype=np.float64)
    made = gain * np.sin(2 * math.pi * hz * n / rate) * np.exp(-n / (0.006 * rate))
    sound: Samples = (made * fade(n.size)).astype(np.float32)
    sound.flags.writeable = False
    return sound
