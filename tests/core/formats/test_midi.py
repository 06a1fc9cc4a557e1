"""MIDI files: bytes as published, and other readers hear the same.

Sources: Standard MIDI Files 1.1 (International MIDI Association): header, tempo, metre and the
variable-length quantities of the specification's table; General MIDI numbers the nylon guitar 25
(data byte 24).
"""

from __future__ import annotations

import io

import mido
import pytest
from msgspec import structs

from core.formats import midi
from core.model import BadInput, Base, Fermata, Lesson, Sign, Tempo, Value
from tests import build

QUARTER = Value(Base.QUARTER)
TUNE = build.lesson(
    ["E4:quarter G4:eighth A4:eighth B4:half | A2:half C3:half", "C5:half. r:quarter | A2:whole"],
    key="A minor",
)


def at_tempo(lesson: Lesson, per_minute: float, beat: Value = QUARTER) -> Lesson:
    arrangement = structs.replace(lesson.arrangement, tempo=Tempo(beat, per_minute))
    return structs.replace(lesson, arrangement=arrangement)


def notes_of(data: bytes) -> list[tuple[float, int]]:
    """(onset in quarters, pitch) as mido reads them, all tracks together."""
    file = mido.MidiFile(file=io.BytesIO(data))
    found = []
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.append((now / file.ticks_per_beat, message.note))
    return sorted(found)


def test_header():
    """Format 1, a conductor and two voices, 480 ticks a quarter."""
    data = midi.write(TUNE)
    assert data[:14] == bytes.fromhex("4D 54 68 64 00 00 00 06 00 01 00 03 01 E0")
    assert data.count(b"MTrk") == 3


@pytest.mark.parametrize(
    ("per_minute", "micros"),
    [(60, "0F4240"), (72, "0CB735"), (80, "0B71B0"), (90, "0A2C2B"), (120, "07A120")],
)
def test_tempo(per_minute, micros):
    data = midi.write(at_tempo(TUNE, per_minute))
    assert bytes.fromhex("00 FF 51 03" + micros) in data
    assert data.count(b"\xff\x51\x03") == 1


def test_tempo_of_a_dotted_beat_is_told_by_the_quarter():
    """Dotted quarter = 50 is quarter = 75."""
    lesson = build.lesson(["E4:half."], metre="6/8")
    data = midi.write(at_tempo(lesson, 50, Value(Base.QUARTER, 1)))
    assert bytes.fromhex("FF 51 03 0C 35 00") in data


@pytest.mark.parametrize(
    ("metre", "value", "octets"),
    [("2/4", "half", "02021808"), ("3/4", "half.", "03021808"), ("6/8", "half.", "06032408")],
)
def test_metre(metre, value, octets):
    data = midi.write(build.lesson([f"E4:{value}"], metre=metre))
    assert bytes.fromhex("FF 58 04" + octets) in data


@pytest.mark.parametrize(
    ("values", "octets"),
    [
        ("quarter", "83 60"), ("half", "87 40"), ("half.", "8B 20"), ("whole", "8F 00"),
    ],
)  # fmt: skip
def test_delta_times_are_variable_length_quantities(values, octets):
    """After a rest of that length the note begins: delta, note on channel 1, E4 (64)."""
    data = midi.write(build.lesson([f"r:{values} E4:whole"], metre="8/4"))
    assert bytes.fromhex(octets + " 90 40") in data


def test_program_is_the_nylon_guitar():
    data = midi.write(TUNE)
    assert bytes.fromhex("C0 18") in data
    assert bytes.fromhex("C1 18") in data


def test_key_signature():
    """A minor: no sharps or flats, minor (FF 59 02 sf mi); E major: four sharps, major."""
    assert bytes.fromhex("FF 59 02 00 01") in midi.write(TUNE)
    assert bytes.fromhex("FF 59 02 04 00") in midi.write(build.lesson(["E4:whole"], key="E major"))


def test_mido_hears_the_written_onsets():
    expected = [
        (0.0, 45), (0.0, 64), (1.0, 67), (1.5, 69), (2.0, 48), (2.0, 71), (4.0, 45), (4.0, 72),
    ]  # fmt: skip
    assert notes_of(midi.write(TUNE)) == expected


def test_music21_hears_the_same_as_mido():
    from music21 import converter

    data = midi.write(
        build.lesson(
            [
                "E4:quarter@3:2 F4:quarter@3:2 G4:quarter@3:2 r:half | A2:whole",
                "E4:eighth. F4:16th G4:half. | A2:half A2:half",
            ]
        )
    )
    score = converter.parseData(data, format="midi", quantizePost=False)
    found = []
    for element in score.flatten().notes:
        pitches = element.pitches
        found += [(round(float(element.offset), 3), p.midi) for p in pitches]
    assert sorted(found) == [(round(onset, 3), pitch) for onset, pitch in notes_of(data)]


def test_repeated_notes_stay_apart():
    """Each note ends before the next of its pitch begins."""
    data = midi.write(build.lesson(["E4:quarter E4:quarter E4:quarter E4:quarter"]))
    track = mido.MidiFile(file=io.BytesIO(data)).tracks[1]
    kinds = [m.type for m in track if m.type.startswith("note")]
    assert kinds == ["note_on", "note_off"] * 4
    assert [m.time for m in track if m.type == "note_off"] == [479] * 4


def test_tied_notes_are_one():
    data = midi.write(build.lesson(["E4:half E4:half~", "E4:half G4:half"]))
    assert notes_of(data) == [(0.0, 64), (2.0, 64), (6.0, 67)]


def test_repeats_are_written_out_and_a_section_can_be_taken():
    lesson = build.lesson(["E4:whole"], ["G4:whole"])
    sections = lesson.arrangement.sections
    twice = structs.replace(sections[0], times=2)
    measure = sections[1].measures[0]
    home = structs.replace(sections[1], measures=(structs.replace(measure, signs=(Sign("dc"),)),))
    lesson = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(twice, home))
    )
    assert [p for _, p in notes_of(midi.write(lesson))] == [64, 64, 67, 64, 67]
    assert [p for _, p in notes_of(midi.write(lesson, twice.id))] == [64, 64]
    with pytest.raises(BadInput):
        midi.write(lesson, 999)


def test_a_fermata_is_slower_tempo_never_longer_ticks():
    """Common practice, no source; here the pause doubles its quarter."""
    lesson = build.lesson(["E4:quarter G4:quarter A4:half"])
    [section] = lesson.arrangement.sections
    [measure] = section.measures
    first, second, third = measure.voices[0]
    held = structs.replace(second, marks=(Fermata(hold_percent=200),))
    measure = structs.replace(measure, voices=((first, held, third),))
    arrangement = structs.replace(
        lesson.arrangement, sections=(structs.replace(section, measures=(measure,)),)
    )
    data = midi.write(structs.replace(lesson, arrangement=arrangement))
    assert notes_of(data) == [(0.0, 64), (1.0, 67), (2.0, 69)]
    onsets, now = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        if message.type == "note_on":
            onsets.append(round(now, 3))
    assert onsets == [0.0, 1.0, 3.0]
