"""Measuring sound, independently of the code that makes it: pitch, onsets, level."""

from __future__ import annotations

import io
import math
import wave

import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float64]


def read_wav(data: bytes) -> tuple[int, Reals]:
    """(rate, samples between -1 and 1) as the standard library reads a mono 16-bit file."""
    with wave.open(io.BytesIO(data)) as file:
        assert file.getnchannels() == 1
        assert file.getsampwidth() == 2
        raw = file.readframes(file.getnframes())
        return file.getframerate(), np.frombuffer(raw, "<i2") / 32768.0


def cents(hz: float, reference: float) -> float:
    return 1200 * math.log2(hz / reference)


def pitch(samples: Reals, rate: int, near: float) -> float:
    """The frequency of the strongest partial within a semitone of `near`, in Hz.

    The phase of one spectral line is compared in two windows a hop apart: the line's frequency is
    its phase advance over the hop, the whole turns chosen by the peak (phase-vocoder refinement).
    """
    length = rate // 2
    hop = rate // 50
    window = np.hanning(length)
    first = np.fft.rfft(samples[:length] * window)
    second = np.fft.rfft(samples[hop : hop + length] * window)
    low, high = (round(near * 2 ** (side / 12) * length / rate) for side in (-1, 1))
    peak = low + int(np.argmax(np.abs(first[low : high + 1])))
    advance = np.angle(second[peak]) - np.angle(first[peak])
    expected = 2 * math.pi * peak * hop / length
    turns = round((expected - advance) / (2 * math.pi))
    return float((advance + 2 * math.pi * turns) * rate / (2 * math.pi * hop))


def dbfs(value: float) -> float:
    return 20 * math.log10(max(value, 1e-12))


def rms(samples: Reals) -> float:
    return float(np.sqrt(np.mean(np.square(samples.astype(np.float64)))))


def high_band_db(samples: Reals, rate: int, above: float = 12_000.0) -> float:
    """The power above a frequency in dB: a click spreads there, a string does not."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(samples.size)))
    band = spectrum[np.fft.rfftfreq(samples.size, 1 / rate) > above]
    return dbfs(float(np.sqrt(np.mean(band**2))))


def onsets(samples: Reals, rate: int, apart: float = 0.12) -> list[float]:
    """Seconds at which the spectrum suddenly grows (spectral flux), at least `apart` s apart.

    Frames of 21 ms every 2 ms; the flux is the sum of what each line between 150 Hz and 6 kHz
    gained in 10 ms; an onset is a local peak above a fifth of the largest.
    """
    length, hop, back = round(rate * 0.0213), rate // 500, 5
    frames = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
    spectrum = np.sqrt(np.abs(np.fft.rfft(frames * np.hanning(length), axis=1)))
    lines = np.fft.rfftfreq(length, 1 / rate)
    spectrum = spectrum[:, (lines > 150) & (lines < 6000)]
    flux = np.maximum(spectrum[back:] - spectrum[:-back], 0).sum(axis=1)
    reach = round(apart / 2 * 500)
    found: list[float] = []
    for n in range(flux.size):
        around = flux[max(0, n - reach) : n + reach + 1]
        if flux[n] > 0.2 * flux.max() and flux[n] == around.max():
            moment = (n * hop + back * hop / 2 + length / 2) / rate
            if not found or moment - found[-1] > apart:
                found.append(moment)
    return found
