"""The guesses of the MIDI reader: what was written comes back, what was played is told.

The independent writers are mido and music21; the bytes of hostile files are our own.
"""

from __future__ import annotations

import io
import random
import re
from collections.abc import Sequence

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.formats import midi
from core.formats.imported import Imported
from core.formats.midi import read
from core.model import BadInput, Base, Length, Lesson, Tempo, Value, walk
from core.model.validate import problems
from tests import build
from tests.core.formats.test_midi import notes_of
from tests.strategies import lessons

BOAT = build.lesson(
    ["A3:quarter B3:eighth C4:quarter. | A2:half.",
     "E4:eighth D4:eighth C4:eighth B3:quarter. | E2:half."],
    ["C4:quarter. A3:quarter. | A2:quarter. E2:quarter.", "A3:half. | A2:half."],
    metre="6/8", key="A minor",
)  # fmt: skip
MARCH = build.lesson(
    ["E4:quarter F#4:eighth G4:eighth A4:half | E3:half B2:half",
     "B4:eighth@3:2 A4:eighth@3:2 G4:eighth@3:2 A4:quarter E4:half~ | E3:whole",
     "E4:quarter. F#4:eighth D4:16th E4:16th F#4:eighth G4:quarter | r:half B2:half",
     "E4:whole | E3:whole"],
    key="E minor",
)  # fmt: skip
EIGHTH_TRIPLETS = "E4:eighth@3:2 F4:eighth@3:2 G4:eighth@3:2"


def back(lesson: Lesson) -> Imported:
    found = read(midi.write(lesson), "tune.mid")
    assert problems(found.lesson) == []
    return found


def values(lesson: Lesson) -> list[list[str]]:
    """For each measure and voice: ``C4+E4:quarter`` joined by blanks, ties as ``~``."""
    return [
        [
            " ".join(
                ("+".join(str(n.pitch) for n in e.notes) or "r")
                + f":{e.value}" + ("~" if any(n.tied for n in e.notes) else "")
                for e in row
            )
            for row in measure.voices
        ]
        for measure in walk.measures(lesson.arrangement)
    ]  # fmt: skip


def sentences(found: Imported) -> str:
    return "\n".join(found.report.sentences)


def file_of(
    *tracks: Sequence[tuple[float, float, int]], tempo: float = 120, metre=(4, 4), channel: int = 0
) -> bytes:
    """A file by mido: tracks of (onset, length, pitch), in quarters, 480 ticks each."""
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    head = mido.MidiTrack([
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo)),
        mido.MetaMessage("time_signature", numerator=metre[0], denominator=metre[1]),
    ])  # fmt: skip
    file.tracks.append(head)
    for number, notes in enumerate(tracks):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=f"Part {number + 1}")])
        rows = [(round(on * 480), 1, p) for on, _, p in notes]
        rows += [(round((on + long) * 480), 0, p) for on, long, p in notes]
        now = 0
        for tick, on, pitch in sorted(rows):
            kind = "note_on" if on else "note_off"
            track.append(mido.Message(
                kind, note=pitch, velocity=70 if on else 0, time=tick - now, channel=channel
            ))  # fmt: skip
            now = tick
        file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


# ---------------------------------------------------------------- our own files


@pytest.mark.parametrize("lesson", [BOAT, MARCH], ids=["boat", "march"])
def test_what_was_written_comes_back_as_it_was_written(lesson):
    found = back(lesson)
    old = [[cell.replace("~", "") for cell in row] for row in values(lesson)]
    assert [[cell.replace("~", "") for cell in row] for row in values(found.lesson)] == old
    arrangement = found.lesson.arrangement
    assert arrangement.key == lesson.arrangement.key
    assert [s.letter for s in arrangement.sections] == [
        s.letter for s in lesson.arrangement.sections
    ]
    assert found.lesson.title == "A test"
    assert "no time was rounded" in sentences(found)
    assert notes_of(midi.write(found.lesson)) == notes_of(midi.write(lesson))


def test_triplets_are_told():
    found = back(build.lesson([f"{EIGHTH_TRIPLETS} E4:half."]))
    assert values(found.lesson) == [[f"{EIGHTH_TRIPLETS} E4:half."]]
    assert "Beats are read as triplets (measure 1)" in sentences(found)


def test_triplets_over_two_beats_keep_their_times():
    """They are written as tied triplets of single beats."""
    lesson = build.lesson(["B4:quarter@3:2 A4:quarter@3:2 G4:quarter@3:2 E4:half"])
    assert notes_of(midi.write(back(lesson).lesson)) == notes_of(midi.write(lesson))


def test_tempo_is_told_by_the_felt_beat():
    for per_minute, beat, lesson in ((54, "quarter.", BOAT), (90, "quarter", MARCH)):
        tempo = Tempo(Value.parse(beat), per_minute)
        paced = structs.replace(
            lesson, arrangement=structs.replace(lesson.arrangement, tempo=tempo)
        )
        assert back(paced).lesson.arrangement.tempo == tempo


def test_a_pickup_comes_back():
    lesson = build.lesson(["E4:quarter", "A4:half C5:quarter", "A4:half"], metre="3/4")
    [section] = lesson.arrangement.sections
    first, middle, last = section.measures
    first = structs.replace(first, own_length=Length.parse("1/4"), counted=False)
    last = structs.replace(last, own_length=Length.parse("1/2"))
    section = structs.replace(section, measures=(first, middle, last))
    lesson = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
    )
    found = list(walk.measures(back(lesson).lesson.arrangement))
    assert [str(m.metre) for m in found] == ["3/4"] * 3
    assert [str(m.own_length) for m in found] == ["1/4", "None", "1/2"]
    assert [m.counted for m in found] == [False, True, True]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(lessons())
def test_any_lesson_keeps_pitches_and_onsets(lesson):
    """Whatever the model holds: a note where there was one, on its pitch, at its time. Onsets of
    rarer tuplets (as of eleven) may move by a part of a sixteenth; the report then says so."""
    data = midi.write(lesson)
    written = notes_of(data)
    if not written:
        with pytest.raises(BadInput, match="no notes"):
            read(data, "x.mid")
        return
    found = read(data, "x.mid")
    assert problems(found.lesson) == []
    again = notes_of(midi.write(found.lesson))
    first = written[0][0] - again[0][0]
    exact = "no time was rounded" in sentences(found)
    if exact and "doubled" not in sentences(found):
        assert sorted(p for _, p in again) == sorted(p for _, p in written)
        moved = [abs(a - w + first) for (w, _), (a, _) in zip(written, again, strict=True)]
        assert max(moved) < 0.01


# ---------------------------------------------------------------- other files


def test_a_file_of_music21_is_read():
    from music21 import converter, stream
    from music21 import midi as midi21

    score = converter.parse(
        "tinyNotation: 3/4 c4 e8 g8 c'4 trip{b8 a8 g8} e2", format="tinyNotation"
    )
    assert isinstance(score, stream.Stream)
    data = midi21.translate.streamToMidiFile(score).writestr()
    found = read(data, "tiny.mid")
    assert problems(found.lesson) == []
    expected = [
        (round(float(n.getOffsetInHierarchy(score)), 3), n.pitch.midi)
        for n in score.recurse().notes
    ]
    assert [(round(t, 3), p) for t, p in notes_of(midi.write(found.lesson))] == expected


def test_one_part_is_parted_into_melody_and_bass():
    """A held bass below a moving tune, all in one track."""
    tune = [(n, 1, p) for n, p in enumerate((64, 67, 69, 67, 64, 62, 60, 64))]
    bass = [(0, 4, 45), (4, 4, 43)]
    found = read(file_of(sorted(tune + bass)), "one.mid")
    upper, lower = zip(*values(found.lesson), strict=True)
    assert " ".join(upper) == (
        "E4:quarter G4:quarter A4:quarter G4:quarter E4:quarter D4:quarter C4:quarter E4:quarter"
    )
    assert list(lower) == ["A2:whole", "G2:whole"]
    assert "melody (8 notes) and bass (2 notes)" in sentences(found)


def test_a_single_line_stays_one_voice():
    found = read(file_of([(n, 1, 60 + n) for n in range(8)]), "line.mid")
    assert all(len(m.voices) == 1 for m in walk.measures(found.lesson.arrangement))


def test_of_many_parts_the_outer_two_are_taken_and_the_rest_is_kept():
    parts = [[(0, 4, p), (4, 4, p + 2)] for p in (55, 72, 41, 64)]
    found = read(file_of(*parts), "choir.mid")
    assert [part.role for part in found.report.parts] == ["", "melody", "bass", ""]
    assert values(found.lesson) == [["C5:whole", "F2:whole"], ["D5:whole", "G2:whole"]]
    [source] = found.lesson.sources
    assert [part.name for part in source.parts] == ["Part 1", "Part 2", "Part 3", "Part 4"]
    assert "Part 1 is left out" in sentences(found)


def test_what_cannot_be_kept_is_counted():
    data = file_of([(0, 1, 60), (1, 3, 62)])
    file = mido.MidiFile(file=io.BytesIO(data))
    file.tracks[1][1:1] = [
        mido.Message("pitchwheel", pitch=100), mido.Message("control_change", control=64, value=1),
        mido.Message("control_change", control=64, value=0), mido.MetaMessage("lyrics", text="la"),
    ]  # fmt: skip
    drums = mido.MidiTrack([
        mido.Message("note_on", channel=9, note=36, velocity=9),
        mido.Message("note_off", channel=9, note=36, time=9),
    ])  # fmt: skip
    file.tracks.append(drums)
    stream = io.BytesIO()
    file.save(file=stream)
    told = sentences(read(stream.getvalue(), "x.mid"))
    for sentence in (
        "1 pitch bend left out.", "2 controller messages left out.",
        "1 lyric syllable left out.", "1 note of percussion left out.",
    ):  # fmt: skip
        assert sentence in told


def test_what_the_file_does_not_say_is_assumed_aloud():
    file = mido.MidiFile(type=0, ticks_per_beat=96)
    track = mido.MidiTrack()
    for pitch in (55, 57, 59, 60, 62, 64, 66, 67):
        track.append(mido.Message("note_on", note=pitch, velocity=60))
        track.append(mido.Message("note_off", note=pitch, time=96))
    file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    found = read(stream.getvalue(), "bare.mid")
    assert str(found.lesson.arrangement.key) == "G major"
    assert found.lesson.arrangement.tempo == Tempo(Value(Base.QUARTER), 120)
    assert found.lesson.title == "bare"
    told = sentences(found)
    for part in ("no metre; 4/4", "no tempo; 120", "no key; G major"):
        assert part in told


def test_tempo_changes_that_last_are_written_and_slowing_is_told():
    notes = [(n, 1, 60 + n % 5) for n in range(24)]
    file = mido.MidiFile(file=io.BytesIO(file_of(notes, tempo=100)))
    changes = [(8, 80), (20, 70), (20.5, 60), (21, 50)]
    now = 0.0
    for at, tempo in changes:
        file.tracks[0].append(
            mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo), time=round((at - now) * 480))
        )
        now = at
    stream = io.BytesIO()
    file.save(file=stream)
    found = read(stream.getvalue(), "x.mid")
    marks = [
        [m.per_minute for m in measure.marks] for measure in walk.measures(found.lesson.arrangement)
    ]
    told = sentences(found)
    assert marks == [[], [], [80.0], [], [], []]
    assert "Short changes of tempo (a slowing, a pause) are left out (measure 6)" in told


# ---------------------------------------------------------------- played by hand


def humanised(lesson: Lesson, per_minute: float, scatter: float, seed: int) -> bytes:
    """The lesson as a hand would play it to a click: every onset and end off by a normal error of
    `scatter` seconds, notes held for 80 to 105 % of their time."""
    rng = random.Random(seed)
    quarter = 60 / per_minute
    exact = mido.MidiFile(file=io.BytesIO(midi.write(lesson)))
    tracks = []
    for track in exact.tracks[1:]:
        now, begun, notes = 0, {}, []
        for message in track:
            now += message.time
            if message.type == "note_on":
                begun[message.note] = now
            elif message.type == "note_off":
                start = begun.pop(message.note)
                length = (now + 1 - start) / 480 * rng.uniform(0.8, 1.05)
                onset = max(0.0, start / 480 + rng.gauss(0, scatter / quarter))
                notes.append((onset, length, message.note))
        tracks.append(notes)
    metre = lesson.arrangement.sections[0].measures[0].metre
    return file_of(*tracks, tempo=per_minute, metre=(metre.beats, metre.unit))


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("lesson", "per_minute"), [(BOAT, 81), (MARCH, 80)], ids=["boat", "march"])
def test_a_hand_that_scatters_by_15_ms_is_read_as_it_was_meant(lesson, per_minute, seed):
    """15 ms: about the scatter of skilled players at these tempi (from memory)."""
    found = read(humanised(lesson, per_minute, 0.015, seed), "hand.mid")
    assert problems(found.lesson) == []
    heard, meant = notes_of(midi.write(found.lesson)), notes_of(midi.write(lesson))
    assert [p for _, p in heard] == [p for _, p in meant]
    assert [t for t, _ in heard] == pytest.approx([t for t, _ in meant], abs=0.01)
    told = sentences(found)
    mean, most = map(int, re.findall(r"(\d+) ms", told))
    assert 8 <= mean <= 16 < most < 70  # the mean of a normal error of 15 ms is 12
    assert "hardly" not in told


def test_legato_gaps_are_closed_and_meant_rests_stay():
    lesson = build.lesson(["E4:quarter G4:quarter r:quarter A4:quarter", "B4:half r:half"])
    found = read(humanised(lesson, 90, 0.008, 3), "hand.mid")
    assert values(found.lesson)[0] == ["E4:quarter G4:quarter r:quarter A4:quarter"]


def test_a_free_recording_is_told_to_be_one():
    rng = random.Random(5)
    notes, now = [], 0.0
    for _ in range(40):
        now += rng.uniform(0.7, 1.9)
        notes.append((now, 0.5, 60))
    found = read(file_of(notes, tempo=50), "free.mid")
    assert problems(found.lesson) == []
    assert "please check the rhythm" in sentences(found)


# ---------------------------------------------------------------- hostile files


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_spoilt_bytes_are_read_or_refused(data):
    octets = bytearray(midi.write(MARCH))
    for _ in range(data.draw(st.integers(1, 6))):
        octets[data.draw(st.integers(14, len(octets) - 1))] = data.draw(st.integers(0, 255))
    try:
        found = read(bytes(octets), "spoilt.mid")
    except BadInput:
        return
    assert problems(found.lesson) == []


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=120))
def test_noise_in_a_track_is_read_or_refused(noise):
    octets = bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B")
    octets += len(noise).to_bytes(4) + noise
    try:
        found = read(octets, "noise.mid")
    except BadInput:
        return
    assert problems(found.lesson) == []
