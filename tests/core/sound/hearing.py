"""Measuring sound, independent of the synthesis: pitch by phase, spectra, WAV reading."""

from __future__ import annotations

import io
import wave

import numpy as np
import numpy.typing as npt

Signal = npt.NDArray[np.float64]


def read_wav(data: bytes) -> tuple[int, Signal]:
    """(rate, samples from -1 to 1) of a 16-bit mono WAV, by the standard library's reader."""
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        raw = file.readframes(file.getnframes())
        return file.getframerate(), np.frombuffer(raw, "<i2") / 32768


def measured_hz(sound: Signal, rate: int, near_hz: float) -> float:
    """The frequency of the partial nearest to `near_hz`: phase advance between two windows.

    Two Hann-windowed spectra a known time apart; the phase difference, unwrapped by the bin's
    frequency, refines it (phase-vocoder analysis, J. Flanagan & R. Golden 1966, from memory).
    """
    size = 1 << int(np.log2(len(sound) // 2))
    hop = size // 8
    window = np.hanning(size)
    first, second = (np.fft.rfft(sound[at : at + size] * window) for at in (0, hop))
    low, high = (int(near_hz * factor * size / rate) for factor in (0.94, 1.06))
    bin_ = low + int(np.abs(first[low : high + 2]).argmax())
    expected = 2 * np.pi * bin_ * hop / size
    turn = np.angle(second[bin_]) - np.angle(first[bin_]) - expected
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    return float((expected + turn) * rate / (2 * np.pi * hop))


def cents(high: float, low: float) -> float:
    """1200 log2(f2 / f1) (J. Wolfe, UNSW Physics, "Note names, MIDI numbers and frequencies")."""
    return float(1200 * np.log2(high / low))


def high_band_db(sound: Signal, rate: int, above_hz: float) -> float:
    """Energy above a frequency, in dB of full scale squared samples."""
    spectrum = np.fft.rfft(sound * np.hanning(len(sound)))
    hz = np.fft.rfftfreq(len(sound), 1 / rate)
    return float(10 * np.log10((np.abs(spectrum[hz > above_hz]) ** 2).sum() + 1e-20))
