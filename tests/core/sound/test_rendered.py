"""The samples themselves: in tune, without clicks, the same however they are cut."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.model import Arpeggio, BadInput, Harmonic, Instrument, Pitch, frequency
from core.model.instrument import LOWERED_SIXTH
from core.sound import Plan, timeline
from core.sound.bank import NoteBank
from core.sound.mixer import CEILING, bend, render
from core.sound.strings import NoteKey, note, note_samples
from core.sound.wav import encode, pieces
from tests import build
from tests.core.sound.measure import cents, dbfs, high_band_db, onsets, pitch, read_wav, rms

RATE = 48_000
USUAL = Plan()
TUNE = build.lesson(
    ["E4s1f0:quarter G4s1f3:eighth A4s1f5:eighth B3s2f0:half | A2s5f0:half C3s5f3:half",
     "C4s2f1+E4s1f0:half. r:quarter | A2s5f0:whole"]
)  # fmt: skip
LOWERED = Instrument(strings=tuple(Pitch.parse(text) for text in LOWERED_SIXTH))


def wav_of(lesson, plan=USUAL, rate=RATE):
    return encode(timeline(lesson, plan, rate), NoteBank(rate), lesson.title)


# Names, MIDI numbers and hertz: ISO 16:1975 (A = 440 Hz) with f = 440 * 2^((n - 69) / 12),
# J. Wolfe, UNSW Physics, "Note names, MIDI numbers and frequencies". E5 is the first string's
# twelfth fret, D2 the lowered sixth string.
PITCHES = [
    ("D2", "s6f0", 73.4162), ("E2", "s6f2", 82.4069), ("A2", "s5f0", 110.0000),
    ("D3", "s4f0", 146.8324), ("G3", "s3f0", 195.9977), ("B3", "s2f0", 246.9417),
    ("E4", "s1f0", 329.6276), ("E5", "s1f12", 659.2551),
]  # fmt: skip


@pytest.mark.parametrize(("name", "place", "hertz"), PITCHES)
def test_pitch_of_the_wav_is_equal_tempered_within_two_cents(name, place, hertz):
    lesson = build.lesson([f"{name}{place}:whole"], instrument=LOWERED)
    rate, samples = read_wav(wav_of(lesson))
    found = pitch(samples[rate // 20 :], rate, hertz)
    assert abs(cents(found, hertz)) < 2
    # one octave up, the second partial is sharp by the string's stiffness, but not by much
    assert -1 < cents(pitch(samples[rate // 20 :], rate, 2 * hertz), 2 * hertz) < 5


def test_every_semitone_from_d2_to_e5_is_in_tune():
    worst = 0.0
    for midi in range(38, 77):
        key = NoteKey(frequency(midi), 0, 0, 4)
        found = pitch(note(key, 24_000).astype(np.float64)[1200:], 24_000, frequency(midi))
        worst = max(worst, abs(cents(found, 440 * 2 ** ((midi - 69) / 12))))
    assert worst < 2


def test_the_measuring_tool_knows_a_sine_from_its_neighbour():
    """So that the tests above can fail: 5 cents off is seen as 5 cents off."""
    n = np.arange(RATE)
    sine = np.sin(2 * np.pi * 110 * 2 ** (5 / 1200) * n / RATE)
    assert cents(pitch(sine, RATE, 110), 110) == pytest.approx(5, abs=0.05)


def test_lowered_sixth_sounds_an_octave_below_the_open_fourth():
    """Common practice, no source: 6 open = 4 open less an octave; 6 fret 7 = 5 open; all fretted
    notes on it move up two frets (G2 3 -> 5, F#2 2 -> 4, E2 0 -> 2)."""
    assert LOWERED.open_midi(6) == LOWERED.open_midi(4) - 12
    assert LOWERED.midi_at(build.Place.parse("s6f7")) == LOWERED.open_midi(5)
    usual = Instrument()
    for name, before, after in (("G2", 3, 5), ("F#2", 2, 4), ("E2", 0, 2)):
        midi = Pitch.parse(name).midi
        assert (
            usual.midi_at(build.Place(6, before)) == midi == LOWERED.midi_at(build.Place(6, after))
        )
    lesson = build.lesson(["D2s6f0:whole D3s4f0:whole"], metre="8/4", instrument=LOWERED)
    rate, samples = read_wav(wav_of(lesson))
    low = pitch(samples[rate // 20 :], rate, 73.4162)
    high = pitch(samples[4 * rate + rate // 20 :], rate, 146.8324)
    assert cents(high, low) == pytest.approx(1200, abs=1)


# Natural harmonics: node fret, partial (a table of harmonic nodes): 12 -> 2, 7 and 19 -> 3,
# 5 and 24 -> 4, 4 (3.863), 9, 16 -> 5; they are whole multiples, so the seventh fret gives
# +1901.96 cents, never open + 7.
@pytest.mark.parametrize(
    ("touched", "name", "above"),
    [(12, "E3", 1200.0), (7, "B3", 1901.96), (19, "B3", 1901.96), (5, "E4", 2400.0),
     (4, "G#4", 2786.3)],
)  # fmt: skip
def test_natural_harmonics(touched, name, above):
    lesson = build.lesson([f"{name}s6f0:whole"])
    lesson = _with_note(lesson, harmonic=Harmonic("natural", touched))
    rate, samples = read_wav(wav_of(lesson))
    found = pitch(samples[rate // 20 :], rate, 82.4069 * 2 ** (above / 1200))
    assert cents(found, 82.4069) == pytest.approx(above, abs=1)


def test_an_artificial_harmonic_sounds_above_its_stopped_note():
    """Fret 2 of the first string (F#4, 66) touched at 14: an octave above (F#5, 739.99 Hz)."""
    lesson = _with_note(build.lesson(["F#5s1f2:whole"]), harmonic=Harmonic("artificial", 14))
    [stroke] = timeline(lesson, Plan()).strokes
    assert cents(stroke.key.hz, 739.9888) == pytest.approx(0, abs=0.01)


def _with_note(lesson, **changes):
    [section] = lesson.arrangement.sections
    [measure] = section.measures
    [event] = measure.voices[0]
    event = structs.replace(event, notes=(structs.replace(event.notes[0], **changes),))
    measure = structs.replace(measure, voices=((event,),))
    section = structs.replace(section, measures=(measure,))
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    return structs.replace(lesson, arrangement=arrangement)


# ---------------------------------------------------------------- cut into blocks


@pytest.mark.parametrize("block", [64, 441, 1024, 5000])
def test_block_sizes_make_the_same_bits(block):
    line = timeline(TUNE, Plan(click=True, count_in=1, per_minute=200), 16_000)
    bank = NoteBank(16_000)
    whole = render(line, bank, 0, line.total)
    cut = [render(line, bank, s, min(s + block, line.total)) for s in range(0, line.total, block)]
    assert np.array_equal(whole, np.concatenate(cut))


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_any_range_and_any_fresh_bank_make_the_same_bits(data):
    line = timeline(TUNE, Plan(per_minute=240), 16_000)
    whole = render(line, NoteBank(16_000), 0, line.total)
    s0 = data.draw(st.integers(-500, line.total + 500))
    s1 = data.draw(st.integers(s0, line.total + 900))
    small = NoteBank(16_000, most_bytes=300_000)  # forgets notes all the time
    found = render(line, small, s0, s1)
    padded = np.concatenate((np.zeros(500), whole, np.zeros(1400))).astype(np.float32)
    assert np.array_equal(found, padded[s0 + 500 : s1 + 500])


def test_a_bank_of_another_rate_is_refused():
    with pytest.raises(ValueError):
        render(timeline(TUNE, Plan(), 16_000), NoteBank(48_000), 0, 10)


# ---------------------------------------------------------------- no clicks


def test_the_end_of_a_note_does_not_click():
    """Where a finger lifts, where a string is restruck, and where the piece is over, the power
    above 12 kHz (where no partial reaches) stays far below that of a hard cut."""
    lesson = build.lesson(["G4s1f3:half r:half"])
    line, bank = timeline(lesson, Plan(per_minute=120)), NoteBank(RATE)
    samples = render(line, bank, 0, line.total).astype(np.float64)
    [stroke] = line.strokes
    around = slice(stroke.off - 2048, stroke.off + 2048)
    cut = samples.copy()
    cut[stroke.off :] = 0
    assert high_band_db(samples[around], RATE) < high_band_db(cut[around], RATE) - 30


def test_a_restruck_string_fades_quickly_and_softly():
    lesson = build.lesson(["E4s1f0:half F4s1f1:half"])
    line, bank = timeline(lesson, Plan(per_minute=120)), NoteBank(RATE)
    first = structs.replace(line, strokes=line.strokes[:1])
    samples = render(first, bank, 0, line.total).astype(np.float64)
    stroke = line.strokes[0]
    assert 0 < stroke.end - stroke.off <= 0.010 * RATE
    cut = samples.copy()
    cut[stroke.off :] = 0
    around = slice(stroke.off - 2048, stroke.off + 2048)
    assert high_band_db(samples[around], RATE) < high_band_db(cut[around], RATE) - 30


def test_the_last_ring_ends_in_silence():
    """The low strings would ring for five seconds: the fade is over where the file ends."""
    line = timeline(build.lesson(["E2s6f0:whole"]), Plan(per_minute=240))
    samples = render(line, NoteBank(RATE), 0, line.total)
    assert rms(samples[-480:]) < 1e-4
    assert rms(samples[-RATE : -RATE // 2]) > 1e-3  # it did ring until shortly before
    assert line.strokes[-1].end <= line.total


def test_notes_begin_softly_and_end_in_silence():
    for midi in (38, 64, 83):
        sound = note(NoteKey(frequency(midi), 0, 0, 7), RATE)
        assert sound.size == note_samples(NoteKey(frequency(midi), 0, 0, 7), RATE)
        assert abs(sound[0]) < 1e-6
        assert abs(sound[-1]) < 1e-4
        assert np.abs(sound).max() == pytest.approx(1)


def test_softer_is_duller():
    """A soft stroke has less of the high partials than a hard one (spectral centroid)."""

    def centre(layer):
        sound = note(NoteKey(110.0, 5, 0, layer), RATE)[:RATE].astype(np.float64)
        power = np.abs(np.fft.rfft(sound)) ** 2
        return float((np.fft.rfftfreq(sound.size, 1 / RATE) * power).sum() / power.sum())

    assert centre(1) < centre(4) < centre(7)


# ---------------------------------------------------------------- WAV


def test_wav_is_what_the_standard_library_reads():
    data = wav_of(TUNE)
    line = timeline(TUNE, Plan())
    with wave.open(io.BytesIO(data)) as file:
        assert file.getframerate() == 48_000
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        assert file.getnframes() == line.total
    assert int.from_bytes(data[4:8], "little") == len(data) - 8
    assert b"INAM" in data
    assert data == wav_of(TUNE)
    _, samples = read_wav(data)
    direct = render(line, NoteBank(RATE), 0, line.total)
    assert np.abs(samples - direct * 32767 / 32768).max() < 2 / 32768  # dither and rounding


def test_wav_pieces_make_the_file_and_the_length_is_limited():
    line, bank = timeline(TUNE, Plan(), 8000), NoteBank(8000)
    assert b"".join(pieces(line, bank, "A test")) == encode(line, bank, "A test")
    with pytest.raises(BadInput, match="hours"):
        encode(structs.replace(line, total=4 * 3600 * 8000), bank, "")


def test_level_is_sensible_and_nothing_clips():
    """Six strings hard at once stay under the ceiling; an ordinary tune has headroom."""
    hard = build.lesson(["E2s6f0+B2s5f2+E3s4f2+G#3s3f1+B3s2f0+E4s1f0:whole"])
    event = hard.arrangement.sections[0].measures[0].voices[0][0]
    assert len(event.notes) == 6
    loud = _with_mark(hard)
    _, samples = read_wav(wav_of(loud))
    assert 0.3 < np.abs(samples).max() < CEILING
    _, usual = read_wav(wav_of(TUNE))
    assert -24 < dbfs(float(np.abs(usual).max())) < -6
    assert -45 < dbfs(rms(usual)) < -18


def _with_mark(lesson):
    from core.model import Dynamic

    [section] = lesson.arrangement.sections
    [measure] = section.measures
    [event] = measure.voices[0]
    event = structs.replace(event, marks=(Dynamic("fff"),))
    section = structs.replace(section, measures=(structs.replace(measure, voices=((event,),)),))
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
    )


def test_the_knee_bends_and_never_clips():
    rising = np.linspace(-40, 40, 10_001).astype(np.float32)
    bent = bend(rising.copy())
    assert np.abs(bent).max() < CEILING
    assert np.all(np.diff(bent) >= 0)
    quiet = np.linspace(-0.69, 0.69, 101).astype(np.float32)
    assert np.array_equal(bend(quiet.copy()), quiet)


def test_heard_onsets_stand_where_the_tempo_says():
    """Eighths at 80 are 375 ms apart (60 / bpm s a beat)."""
    lesson = build.lesson(["E4s1f0:eighth G4s1f3:eighth A4s1f5:eighth G4s1f3:eighth E4s1f0:half"])
    _, samples = read_wav(wav_of(lesson, Plan(per_minute=80)))
    found = onsets(np.concatenate((np.zeros(4800), samples)), RATE)
    assert np.allclose(np.diff(found), 0.375, atol=0.006)
    assert len(found) == 5


def test_a_broken_chord_is_heard_string_by_string():
    lesson = _with_note(build.lesson(["E4s1f0:whole"]))
    [section] = build.lesson(["E3s4f2+G#3s3f1+B3s2f0:whole"]).arrangement.sections
    [measure] = section.measures
    [event] = measure.voices[0]
    for direction, order in (("", [52, 56, 59]), ("down", [59, 56, 52])):
        broken = structs.replace(event, marks=(Arpeggio(direction),))
        one = structs.replace(section, measures=(structs.replace(measure, voices=((broken,),)),))
        line = timeline(
            structs.replace(
                lesson, arrangement=structs.replace(lesson.arrangement, sections=(one,))
            ),
            Plan(),
        )
        assert [s.midi for s in line.strokes] == order
        assert len({s.on for s in line.strokes}) == 3
        assert line.strokes[0].on == 0  # the first one on the beat
