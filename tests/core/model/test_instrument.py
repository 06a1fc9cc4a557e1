"""Strings, places on the neck, and distances in millimetres."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model import LOWERED_SIXTH, STANDARD, Instrument, Pitch, Place
from core.model.notes import HARMONIC_SEMITONES
from tests import strategies

GUITAR = Instrument()
LOWERED = Instrument(tuple(map(Pitch.parse, LOWERED_SIXTH)))


def test_the_open_strings() -> None:
    # MIDI numbers of the six strings (UNSW Physics table; OEIS A320304 gives the same pitches).
    assert [GUITAR.open_midi(string) for string in range(1, 7)] == [64, 59, 55, 50, 45, 40]
    assert LOWERED.open_midi(6) == 38
    assert GUITAR.standard
    assert not LOWERED.standard
    assert tuple(map(str, GUITAR.strings)) == STANDARD


@pytest.mark.parametrize(
    ("midi", "places"),
    [
        # Computed from the open strings, frets 0 to 19 (check-values section 1).
        (64, "s1f0 s2f5 s3f9 s4f14 s5f19"),
        (60, "s2f1 s3f5 s4f10 s5f15"),
        (69, "s1f5 s2f10 s3f14 s4f19"),
        (39, ""),
    ],
)
def test_all_places_of_a_pitch(midi: int, places: str) -> None:
    assert " ".join(map(str, GUITAR.places(midi))) == places


@pytest.mark.parametrize("instrument", [GUITAR, LOWERED, Instrument(capo=5)])
def test_the_place_on_one_string_is_the_one_of_all(instrument: Instrument) -> None:
    for midi in range(30, 100):
        places = {place.string: place for place in instrument.places(midi)}
        for string in range(8):
            assert instrument.place_on(string, midi) == places.get(string)


def test_range() -> None:
    # check-values section 1: 40 to 83 with 19 frets, 38 with the sixth string lowered.
    sounding = [midi for midi in range(128) if GUITAR.places(midi)]
    assert (min(sounding), max(sounding)) == (40, 83)
    assert min(midi for midi in range(128) if LOWERED.places(midi)) == 38


def test_the_lowered_sixth_string() -> None:
    # Common practice, no source: an octave below the open fourth, fret 7 is the open fifth, and
    # every fretted note on it moves up two frets.
    assert LOWERED.open_midi(6) == LOWERED.open_midi(4) - 12
    assert LOWERED.midi_at(Place(6, 7)) == LOWERED.open_midi(5)
    for fret in range(18):
        assert LOWERED.midi_at(Place(6, fret + 2)) == GUITAR.midi_at(Place(6, fret))


# Nut to fret at 650 mm, x = L (1 - 2^(-n/12)) (M. Koch, "The fret constant 17.817").
FRETS_650 = [36.48, 70.92, 103.42, 134.09, 163.05, 190.38, 216.18, 240.53, 263.51, 285.20, 305.67,
             325.00]  # fmt: skip

# Independent published check, 635 mm to the saddle (a luthier's page; inches rounded there).
SADDLE_635 = [599.360, 565.721, 533.969, 504.000, 475.712, 449.013, 423.812, 400.025, 377.573,
              356.382]  # fmt: skip


@pytest.mark.parametrize(("fret", "mm"), list(enumerate(FRETS_650, 1)))
def test_fret_distances(fret: int, mm: float) -> None:
    assert GUITAR.fret_mm(fret) == pytest.approx(mm, abs=0.006)


@pytest.mark.parametrize(("fret", "mm"), list(enumerate(SADDLE_635, 1)))
def test_fret_distances_published_elsewhere(fret: int, mm: float) -> None:
    short = Instrument(scale_mm=635)
    assert 635 - short.fret_mm(fret) == pytest.approx(mm, abs=0.012)


# Index to little finger, one finger a fret: S (2^(-a/12) - 2^(-(a+3)/12)), check-values section 14.
SPANS = {
    650: {1: 97.6, 2: 92.1, 3: 87.0, 5: 77.5, 7: 69.0},
    630: {1: 94.6, 2: 89.3, 3: 84.3, 5: 75.1, 7: 66.9},
    580: {1: 87.1, 2: 82.2, 3: 77.6, 5: 69.1, 7: 61.6},
    530: {1: 79.6, 2: 75.1, 3: 70.9, 5: 63.2, 7: 56.3},
}


@pytest.mark.parametrize(
    ("scale", "fret", "mm"),
    [(s, f, mm) for s, row in SPANS.items() for f, mm in row.items()],
)
def test_four_frets(scale: int, fret: int, mm: float) -> None:
    instrument = Instrument(scale_mm=scale)
    width = instrument.fret_mm(fret + 3) - instrument.fret_mm(fret)
    assert width == pytest.approx(mm, abs=0.06)


@pytest.mark.parametrize(("capo", "mm"), [(1, 613.5), (2, 579.1), (3, 546.6), (4, 515.9)])
def test_a_capo_makes_a_shorter_guitar(capo: int, mm: float) -> None:
    # check-values section 14: what is left of 650 mm (computed from the fret formula).
    shorter = Instrument(capo=capo)
    assert 2 * shorter.fret_mm(12) == pytest.approx(mm, abs=0.06)
    assert shorter.open_midi(1) == 64 + capo


@given(strategies.instruments, st.integers(30, 90))
def test_places_sound_the_pitch(instrument: Instrument, midi: int) -> None:
    found = instrument.places(midi)
    assert all(instrument.midi_at(place) == midi for place in found)
    assert len({place.string for place in found}) == len(found)
    assert all(place.fret + instrument.capo <= instrument.highest_fret for place in found)


def test_harmonics_sound_the_partials() -> None:
    # Natural harmonics: the k-th partial is touched at 1/k; fret 12 +12, 7 and 19 +19, 5 +24,
    # 4, 9 and 16 +28 semitones (a harmonics node table, check-values section 5).
    expected = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28}
    assert expected == HARMONIC_SEMITONES


@pytest.mark.parametrize("text", ["s1f0", "s6f19", "s13f24"])
def test_place_text(text: str) -> None:
    assert str(Place.parse(text)) == text


@pytest.mark.parametrize("text", ["s0f1", "s14f0", "s1f25", "s1", "1/2", "s1f-1"])
def test_what_is_no_place(text: str) -> None:
    with pytest.raises(ValueError):
        Place.parse(text)


@pytest.mark.parametrize(
    "wrong",
    [{"strings": GUITAR.strings[:3]}, {"capo": 13}, {"capo": -1}, {"scale_mm": 100.0},
     {"scale_mm": float("nan")}, {"nut_mm": -4.0}, {"nut_mm": float("nan")}],
)  # fmt: skip
def test_what_is_no_guitar(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        Instrument(**wrong)
