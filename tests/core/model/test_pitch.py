"""Pitches, MIDI numbers and frequencies against published values."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given

from core.model import Key, Pitch, frequency
from core.model.pitch import MODES
from tests import strategies

# f = 440 * 2^((n - 69) / 12) with A4 = 440 Hz (ISO 16:1975): J. Wolfe, UNSW Physics, "Note names,
# MIDI numbers and frequencies"; whole numbers: OEIS A320304 (rounded hertz per MIDI number).
STRINGS = [
    ("E4", 64, 329.6276, 330),
    ("B3", 59, 246.9417, 247),
    ("G3", 55, 195.9977, 196),
    ("D3", 50, 146.8324, 147),
    ("A2", 45, 110.0000, 110),
    ("E2", 40, 82.4069, 82),
    ("D2", 38, 73.4162, 73),
    ("B5", 83, 987.7666, 988),
]


@pytest.mark.parametrize(("name", "midi", "hertz", "rounded"), STRINGS)
def test_published_pitches(name: str, midi: int, hertz: float, rounded: int) -> None:
    pitch = Pitch.parse(name)
    assert pitch.midi == midi
    assert pitch.frequency == pytest.approx(hertz, abs=5e-5)
    assert round(pitch.frequency) == rounded
    assert Pitch.from_midi(midi) == pitch


def test_the_twelfth_fret_of_the_first_string() -> None:
    # Computed from the same formula: fret 12 of string 1 is E5, 659.2551 Hz.
    assert Pitch.parse("E5").midi == 76
    assert frequency(76) == pytest.approx(659.2551, abs=5e-5)


def test_concert_pitch_and_middle_c() -> None:
    # ISO 16:1975: A = 440 Hz. MIDI 60 is middle C, here C4 (common practice, no source).
    assert Pitch.parse("A4").frequency == 440.0
    assert Pitch.parse("C4").midi == 60


def test_an_octave_doubles() -> None:
    assert frequency(81) == 2 * frequency(69)


@pytest.mark.parametrize(
    ("name", "midi"),
    [("B#3", 60), ("Cb4", 59), ("Fb4", 64), ("E#4", 65), ("C##4", 62), ("Bbb3", 57)],
)
def test_spelling_counts_from_the_note_name(name: str, midi: int) -> None:
    # Common practice, no source: the octave number belongs to the letter, not to the sound.
    assert Pitch.parse(name).midi == midi


@given(strategies.pitches)
def test_text_is_the_pitch(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch
    assert hash(Pitch.parse(str(pitch))) == hash(pitch)
    assert pickle.loads(pickle.dumps(pitch)) == pitch


@pytest.mark.parametrize("text", ["H4", "c4", "C", "C####4", "C#b4", "", "C-2", "A4 "])
def test_what_is_no_pitch(text: str) -> None:
    with pytest.raises(ValueError, match="is not a pitch"):
        Pitch.parse(text)


@pytest.mark.parametrize("arguments", [("H", 0, 4), ("C", 4, 4), ("C", 0, 99)])
def test_what_no_pitch_can_be(arguments: tuple[str, int, int]) -> None:
    with pytest.raises(ValueError):
        Pitch(*arguments)


def test_pitches_never_change() -> None:
    pitch = Pitch.parse("A3")
    with pytest.raises(AttributeError):
        pitch.octave = 5
    with pytest.raises(AttributeError):
        del pitch.step


@pytest.mark.parametrize(
    ("key", "names"),
    [
        # Leading notes and raised sixths of minor, common practice (no source).
        ("A minor", {68: "G#4", 66: "F#4", 70: "Bb4"}),
        ("D minor", {61: "C#4", 59: "B3", 63: "Eb4"}),
        ("E minor", {63: "D#4", 61: "C#4"}),
        ("C major", {66: "F#4", 70: "Bb4", 61: "Db4"}),
        ("E major", {68: "G#4", 63: "D#4", 58: "A#3"}),
        ("Eb major", {63: "Eb4", 68: "Ab4", 70: "Bb4"}),
    ],
)
def test_a_key_spells(key: str, names: dict[int, str]) -> None:
    for midi, name in names.items():
        assert str(Pitch.from_midi(midi, Key.parse(key))) == name


@given(strategies.keys, strategies.pitches)
def test_spelling_keeps_the_sound(key: Key, pitch: Pitch) -> None:
    assert Pitch.from_midi(pitch.midi, key).midi == pitch.midi


@given(strategies.keys)
def test_the_scale_of_a_key_needs_no_accidental(key: Key) -> None:
    for step in "CDEFGAB":
        pitch = Pitch(step, key.alter_of(step), 4)
        assert Pitch.from_midi(pitch.midi, key) == pitch


@pytest.mark.parametrize(
    ("key", "fifths", "tonic"),
    [
        # Circle of fifths (common practice, no source).
        ("C major", 0, "C"), ("A minor", 0, "A"), ("G major", 1, "G"), ("F major", -1, "F"),
        ("D minor", -1, "D"), ("E minor", 1, "E"), ("F# minor", 3, "F#"), ("Eb major", -3, "Eb"),
        ("C# major", 7, "C#"), ("Cb major", -7, "Cb"), ("D dorian", 0, "D"),
        ("E phrygian", 0, "E"), ("F lydian", 0, "F"), ("G mixolydian", 0, "G"),
        ("B locrian", 0, "B"),
    ],
)  # fmt: skip
def test_signatures(key: str, fifths: int, tonic: str) -> None:
    assert Key.parse(key).fifths == fifths
    assert Key.parse(key).tonic == tonic


def test_signature_order() -> None:
    # F C G D A E B for sharps, backwards for flats (common practice, no source).
    assert [s for s in "FCGDAEB" if Key(3).alter_of(s) == 1] == ["F", "C", "G"]
    assert [s for s in "BEADGCF" if Key(-4).alter_of(s) == -1] == ["B", "E", "A", "D"]


@given(strategies.keys)
def test_key_text(key: Key) -> None:
    assert Key.parse(str(key)) == key


@pytest.mark.parametrize("text", ["H major", "C", "C majeur", "G# major", "Fb major"])
def test_what_is_no_key(text: str) -> None:
    with pytest.raises(ValueError):
        Key.parse(text)


def test_modes_share_a_signature() -> None:
    assert {mode: Key(0, mode).tonic for mode in MODES} == {
        "major": "C", "ionian": "C", "minor": "A", "aeolian": "A", "dorian": "D",
        "phrygian": "E", "lydian": "F", "mixolydian": "G", "locrian": "B",
    }  # fmt: skip
