"""The pitch that comes out, measured from WAV files, against equal temperament."""

from __future__ import annotations

import pytest

from core.model import LOWERED_SIXTH, Harmonic, Instrument, Label, Pitch, Place
from core.sound import Plan, timeline, wav
from core.sound.bank import NoteBank
from tests import build
from tests.core.sound import lessons
from tests.core.sound.hearing import Signal, cents, measured_hz, read_wav

RATE = 48_000
BANK = NoteBank(RATE)
LOWERED = Instrument(tuple(Pitch.parse(text) for text in LOWERED_SIXTH))

# Strings 6 lowered, 6 to 1, and fret 12 of string 1: note and Hz to four places, by
# f = 440 * 2^((n - 69) / 12), A4 = 440 Hz (ISO 16:1975; UNSW Physics): table of check-values 1.
OPEN_STRINGS = [
    ("E2s6f0", 82.4069), ("A2s5f0", 110.0), ("D3s4f0", 146.8324), ("G3s3f0", 195.9977),
    ("B3s2f0", 246.9417), ("E4s1f0", 329.6276), ("E5s1f12", 659.2551),
]  # fmt: skip


def heard(note: str, instrument: Instrument | None = None, **changes: object) -> Signal:
    tune = build.lesson([f"{note}:whole"], instrument=instrument)
    if changes:
        tune = lessons.with_note(tune, 0, 0, **changes)
    rate, sound = read_wav(wav.encode(timeline(tune, Plan(), RATE), BANK, note))
    assert rate == RATE
    return sound


@pytest.mark.parametrize(("note", "hz"), OPEN_STRINGS)
def test_the_strings_sound_their_published_frequencies(note: str, hz: float) -> None:
    assert abs(cents(measured_hz(heard(note), RATE, hz), hz)) < 0.2


@pytest.mark.parametrize("midi", range(38, 77))
def test_every_pitch_from_d2_to_e5_is_within_two_cents(midi: int) -> None:
    """Equal temperament at A4 = 440 Hz (ISO 16:1975; formula of UNSW Physics)."""
    places = LOWERED.places(midi, 12)
    place = places[-1]
    note = f"{Pitch.from_midi(midi)}s{place.string}f{place.fret}"
    hz = 440 * 2 ** ((midi - 69) / 12)
    assert abs(cents(measured_hz(heard(note, LOWERED), RATE, hz), hz)) < 2


def test_the_measure_itself_tells_two_cents() -> None:
    """The measurement finds a detuned sine where it is, so the tests above can fail."""
    import numpy as np

    for detune in (-5.0, -2.0, 2.0, 5.0):
        hz = 110 * 2 ** (detune / 1200)
        sine = np.sin(2 * np.pi * hz * np.arange(4 * RATE) / RATE)
        assert cents(measured_hz(sine, RATE, 110), 110) == pytest.approx(detune, abs=0.02)


def test_a_lowered_sixth_sounds_an_octave_below_the_open_fourth() -> None:
    """Common practice, no source; 73.4162 Hz in check-values 1."""
    low = measured_hz(heard("D2s6f0", LOWERED), RATE, 73.4162)
    fourth = measured_hz(heard("D3s4f0", LOWERED), RATE, 146.8324)
    assert cents(fourth, low) == pytest.approx(1200, abs=0.3)
    assert abs(cents(low, 73.4162)) < 0.2


def test_a_note_on_the_lowered_sixth_moves_up_two_frets() -> None:
    """G2: fret 3 in standard tuning, fret 5 lowered; the same pitch (common practice)."""
    standard = measured_hz(heard("G2s6f3"), RATE, 97.9989)
    lowered = measured_hz(heard("G2s6f5", LOWERED), RATE, 97.9989)
    assert abs(cents(standard, lowered)) < 0.2


@pytest.mark.parametrize(
    ("fret", "above_cents"), [(12, 1200.0), (7, 1901.96), (19, 1901.96), (5, 2400.0), (9, 2786.3)]
)
def test_natural_harmonics_sound_their_partial(fret: int, above_cents: float) -> None:
    """k-th harmonic touched at L/k (check-values 5): 7 sounds a twelfth above the open string."""
    sound = heard(
        f"D3s4f{fret}",
        place=Label(Place(4, fret)),
        harmonic=Harmonic("natural", fret),
    )
    hz = 146.8324 * 2 ** (above_cents / 1200)
    assert cents(measured_hz(sound, RATE, hz), 146.8324) == pytest.approx(above_cents, abs=0.3)


def test_an_artificial_harmonic_sounds_an_octave_above_the_stopped_note() -> None:
    sound = heard(
        "A4s1f5", place=Label(Place(1, 5)), harmonic=Harmonic("artificial", 17)
    )  # fmt: skip
    assert cents(measured_hz(sound, RATE, 880), 440) == pytest.approx(1200, abs=0.3)


def test_a_capo_raises_what_sounds() -> None:
    capo = Instrument(capo=2)
    assert abs(cents(measured_hz(heard("F#4s1f0", capo), RATE, 369.9944), 369.9944)) < 0.2
