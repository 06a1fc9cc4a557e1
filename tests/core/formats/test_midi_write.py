"""MIDI files against published bytes, and read back by two other libraries."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest
from msgspec import structs

from core.formats import midi
from core.model import (
    TICKS_PER_QUARTER,
    BadInput,
    Fermata,
    Length,
    Lesson,
    Measure,
    Tempo,
    Value,
)
from core.sound.performance import perform
from core.sound.plan import Plan
from tests import build


def at_tempo(lesson: Lesson, beat: str, per_minute: float) -> Lesson:
    tempo = Tempo(Value.parse(beat), per_minute)
    return structs.replace(lesson, arrangement=structs.replace(lesson.arrangement, tempo=tempo))


def parsed(lesson: Lesson, **options: object) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi.write(lesson, **options)), charset="utf-8")


def notes_of(file: mido.MidiFile) -> list[tuple[int, int, int]]:
    """(onset, length, pitch) in ticks of the file, all tracks."""
    found = []
    for track in file.tracks:
        now, sounding = 0, {}
        for message in track:
            now += message.time
            if message.type == "note_on":
                assert message.note not in sounding, "struck twice without an end"
                sounding[message.note] = now
            elif message.type == "note_off":
                start = sounding.pop(message.note)
                found.append((start, now - start, message.note))
        assert not sounding
    return sorted(found)


TUNE = build.lesson(["C4:quarter E4:quarter G4:half | C3:whole", "B3:whole | G2:half G2:half"])


def test_header_is_that_of_the_specification() -> None:
    """SMF 1.1: header of format 1, here 3 tracks, 480 ppq (check-values 11)."""
    assert midi.write(TUNE)[:14].hex() == "4d546864000000060001000301e0"


@pytest.mark.parametrize(
    ("beat", "per_minute", "data"),
    [
        ("quarter", 60, "0f4240"),
        ("quarter", 72, "0cb735"),
        ("quarter", 80, "0b71b0"),
        ("quarter", 90, "0a2c2b"),
        ("quarter", 120, "07a120"),
        ("quarter.", 50, "0c3500"),
    ],
)
def test_tempo_bytes_count_quarters(beat: str, per_minute: float, data: str) -> None:
    """SMF 1.1, FF 51 03 and microseconds a quarter; the figures of check-values 11."""
    assert bytes.fromhex("ff5103" + data) in midi.write(at_tempo(TUNE, beat, per_minute))


@pytest.mark.parametrize(
    ("metre", "tune", "data"),
    [
        ("2/4", "C4:half", "02021808"),
        ("3/4", "C4:half.", "03021808"),
        ("6/8", "C4:half.", "06032408"),
    ],
)
def test_metre_bytes(metre: str, tune: str, data: str) -> None:
    """SMF 1.1, FF 58 04; the figures of check-values 11."""
    assert bytes.fromhex("ff5804" + data) in midi.write(build.lesson([tune], metre=metre))


@pytest.mark.parametrize(
    ("delta", "data"),
    [(0, "00"), (127, "7f"), (135, "8107"), (430, "832e"), (480, "8360"), (1920, "8f00"),
     (8192, "c000"), (16383, "ff7f"), (16384, "818000")],
)  # fmt: skip
def test_long_waits_are_variable_length_quantities(delta: int, data: str) -> None:
    """The library we write with codes deltas as SMF 1.1 does (check-values 11)."""
    track = mido.MidiTrack([mido.Message("note_on", note=1, velocity=2, time=delta)])
    out = io.BytesIO()
    mido.MidiFile(type=1, tracks=[track]).save(file=out)
    assert bytes.fromhex(data + "900102") in out.getvalue()


def test_a_quarter_rest_is_480_ticks_in_the_file() -> None:
    data = midi.write(build.lesson(["r:quarter C4:quarter r:half"]))
    assert bytes.fromhex("8360" + "903c") in data


def test_nylon_guitar_is_program_24_counted_from_zero() -> None:
    """General MIDI lists it as 25, the data byte is 24 (check-values 11)."""
    programs = [m.program for t in parsed(TUNE).tracks for m in t if m.type == "program_change"]
    assert programs == [24, 24]
    assert bytes.fromhex("c018") in midi.write(TUNE)


def test_notes_end_one_tick_early_so_that_repeats_survive() -> None:
    assert notes_of(parsed(TUNE)) == [
        (0, 479, 60), (0, 1919, 48), (480, 479, 64), (960, 959, 67),
        (1920, 959, 43), (1920, 1919, 59), (2880, 959, 43),
    ]  # fmt: skip


def test_ties_are_one_note() -> None:
    tune = build.lesson(["C4:half. C4:quarter~", "C4:half C4:half"])
    assert [(on, length) for on, length, _ in notes_of(parsed(tune))] == [
        (0, 1439), (1440, 480 + 960 - 1), (2880, 959),
    ]  # fmt: skip


def test_repeats_are_written_out_and_marked() -> None:
    section = TUNE.arrangement.sections[0]
    twice = structs.replace(section, times=2, title="Verse")
    tune = structs.replace(TUNE, arrangement=structs.replace(TUNE.arrangement, sections=(twice,)))
    file = parsed(tune)
    markers = [m.text for m in file.tracks[0] if m.type == "marker"]
    assert markers == ["A Verse (1)", "A Verse (2)"]
    assert len(notes_of(file)) == 2 * len(notes_of(parsed(TUNE)))


def test_one_section_begins_at_zero() -> None:
    tune = build.lesson(["C4:whole"], ["D4:whole"])
    section = tune.arrangement.sections[1].id
    assert notes_of(parsed(tune, section_id=section)) == [(0, 1919, 62)]


def test_practice_tempo_scales_the_tempo_only() -> None:
    half = parsed(at_tempo(TUNE, "quarter", 60), percent=50)
    tempi = [m.tempo for m in half.tracks[0] if m.type == "set_tempo"]
    assert tempi == [2_000_000]
    assert notes_of(half) == notes_of(parsed(TUNE))


def test_a_pickup_is_counted_by_its_own_length() -> None:
    tune = build.lesson(["C4:eighth", "D4:half."], metre="6/8")
    section = tune.arrangement.sections[0]
    pickup = structs.replace(
        section.measures[0], own_length=Length(TICKS_PER_QUARTER // 2), counted=False
    )
    measures = (pickup, *section.measures[1:])
    sections = (structs.replace(section, measures=measures),)
    tune = structs.replace(tune, arrangement=structs.replace(tune.arrangement, sections=sections))
    file = parsed(tune)
    metres = [(m.numerator, m.denominator) for m in file.tracks[0] if m.type == "time_signature"]
    assert metres == [(1, 8), (6, 8)]
    assert [on for on, _, _ in notes_of(file)] == [0, 240]


def test_a_fermata_is_a_slower_tempo_not_a_longer_note() -> None:
    tune = build.lesson(["C4:half D4:half"])
    measure = tune.arrangement.sections[0].measures[0]
    held = structs.replace(measure.voices[0][1], marks=(Fermata(hold_percent=200),))
    tune = _with_measure(tune, structs.replace(measure, voices=((measure.voices[0][0], held),)))
    file = parsed(tune)
    assert [m.tempo for m in file.tracks[0] if m.type == "set_tempo"] == [1_000_000, 2_000_000]
    assert notes_of(file) == [(0, 959, 60), (960, 959, 62)]
    assert file.length == pytest.approx(6.0, abs=0.01)  # 4 beats at 60 and 2 more


def _with_measure(lesson: Lesson, measure: Measure) -> Lesson:
    section = structs.replace(lesson.arrangement.sections[0], measures=(measure,))
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
    )


@pytest.mark.parametrize(
    ("key", "name"),
    [("C major", "C"), ("A minor", "Am"), ("D dorian", "Am"), ("F# minor", "F#m"),
     ("G mixolydian", "C"), ("Bb major", "Bb")],
)  # fmt: skip
def test_key_signatures(key: str, name: str) -> None:
    """Other modes keep their signature, as the file knows only major and minor."""
    file = parsed(build.lesson(["C4:whole"], key=key))
    assert [m.key for m in file.tracks[0] if m.type == "key_signature"] == [name]


def test_titles_keep_their_letters() -> None:
    file = parsed(structs.replace(TUNE, title="Où êtes-vous"))
    assert file.tracks[0].name == "Où êtes-vous"


def test_a_section_that_is_gone_is_refused() -> None:
    with pytest.raises(BadInput, match="section"):
        midi.write(TUNE, section_id=9999)


def test_the_file_is_the_same_every_time() -> None:
    assert midi.write(TUNE) == midi.write(TUNE)


def test_onsets_agree_with_the_performance_in_both_libraries() -> None:
    """mido and music21 read the onsets that the tune has (triplets and two voices)."""
    from music21 import converter

    tune = build.lesson(
        ["C4:eighth@3:2 D4:eighth@3:2 E4:eighth@3:2 F4:quarter. G4:eighth A4:quarter | A2:whole",
         "G4:16th A4:16th B4:eighth C5:half. | C3:half G2:half"]
    )  # fmt: skip
    wanted = sorted(
        (Fraction(n.start, TICKS_PER_QUARTER), n.note.pitch.midi)
        for n in perform(tune, Plan()).notes
    )
    data = midi.write(tune)
    ours = [(Fraction(on, 480), pitch) for on, _, pitch in notes_of(parsed(tune))]
    score = converter.parseData(data, format="midi", quantizePost=False)
    theirs = sorted(
        (Fraction(round(float(note.getOffsetInHierarchy(score)) * 480), 480), pitch.midi)
        for note in score.recurse().notes
        for pitch in note.pitches
    )
    assert sorted(ours) == wanted
    assert theirs == wanted


def test_no_track_turns_into_a_singer() -> None:
    from music21 import converter, instrument

    tune = build.lesson(["C5:whole | C3:whole | E4:whole | G4:whole"])
    score = converter.parseData(midi.write(tune), format="midi")
    found = list(score.recurse().getElementsByClass(instrument.Instrument))
    assert found
    assert not [i for i in found if isinstance(i, instrument.Vocalist)]
    assert all(isinstance(i, instrument.Guitar) for i in found), found


def test_whole_metres_count_their_beats() -> None:
    tune = build.lesson(["C4:whole"], metre="2/2")
    message = next(m for m in parsed(tune).tracks[0] if m.type == "time_signature")
    assert message.clocks_per_click == 48
