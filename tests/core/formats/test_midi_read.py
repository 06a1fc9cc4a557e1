"""MIDI files read: round trips, a foreign library's files, played files, bad files."""

from __future__ import annotations

import contextlib
import io
import random
import re
from fractions import Fraction
from itertools import pairwise

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.formats import midi
from core.formats.imported import Imported, PartChoice
from core.formats.midi_grid import MOST_MEASURES
from core.model import TICKS_PER_QUARTER, BadInput, Length, Lesson
from core.model.validate import problems
from core.sound.performance import perform
from core.sound.plan import Plan
from tests import build
from tests.core.sound import lessons

Sounding = list[tuple[Fraction, Fraction, int]]


def sounding(lesson: Lesson) -> Sounding:
    """(onset, end, MIDI number) of every note, ties joined, in quarters."""
    played = perform(lesson, Plan(fermatas=False)).notes
    return sorted(
        (
            Fraction(n.start, TICKS_PER_QUARTER),
            Fraction(n.end, TICKS_PER_QUARTER),
            n.note.pitch.midi,
        )
        for n in played
    )


def again(lesson: Lesson) -> Imported:
    found = midi.read(midi.write(lesson), "x.mid")
    assert problems(found.lesson) == []
    return found


def rows(imported: Imported) -> list[list[list[str]]]:
    """Measures of voices of events as text."""
    return [
        [
            [
                "+".join(f"{n.pitch}{'~' if n.tied else ''}" for n in e.notes or ()) + f":{e.value}"
                for e in row
            ]
            for row in measure.voices
        ]
        for section in imported.lesson.arrangement.sections
        for measure in section.measures
    ]


def made(*tracks: list[tuple[int, int, int]], per_quarter: int = 480, **head: object) -> bytes:
    """A file of tracks of (onset, end, pitch); head: metre, channel."""
    file = mido.MidiFile(type=1, ticks_per_beat=per_quarter)
    for notes in tracks:
        channel = int(str(head.get("channel", 0)))
        timed = [(on, 1, "note_on", pitch) for on, _, pitch in notes]
        timed += [(off, 0, "note_off", pitch) for _, off, pitch in notes]
        track, now = mido.MidiTrack(), 0
        for tick, _, kind, pitch in sorted(timed):
            track.append(mido.Message(kind, note=pitch, channel=channel, time=tick - now))
            now = tick
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


TUNE = build.lesson(
    ["C4:eighth@3:2 D4:eighth@3:2 E4:eighth@3:2 F4:quarter. G4:eighth A4:quarter | A2:whole",
     "G4:16th A4:16th B4:eighth C5:half.~ | C3:half G2:half",
     "C5:quarter r:half. | E3:whole"],
    key="A minor",
)  # fmt: skip


def test_our_own_file_comes_back_as_it_was_written() -> None:
    assert rows(again(TUNE)) == [
        *rows(Imported(TUNE, again(TUNE).report))[:2],
        [["C5:quarter", ":quarter", ":half"], ["E3:whole"]],  # the rest is written along the beats
    ]


def test_six_eight_with_a_pickup_and_its_tempo() -> None:
    tune = build.lesson(["E4:eighth", "A4:quarter B4:eighth C5:quarter. | A2:half."], metre="6/8")
    tune = lessons.at_tempo(tune, "quarter.", 54)
    pickup = Length(TICKS_PER_QUARTER // 2)
    tune = lessons.with_measure(tune, 0, own_length=pickup, counted=False)
    found = again(tune).lesson
    first, second = found.arrangement.sections[0].measures
    assert (first.own_length, first.counted, str(first.metre)) == (pickup, False, "6/8")
    assert second.own_length is None
    tempo = found.arrangement.tempo
    assert (str(tempo.beat), round(tempo.per_minute, 2)) == ("quarter.", 54)
    assert sounding(found) == sounding(tune)


def test_markers_become_sections_and_titles_stay() -> None:
    tune = build.lesson(["C4:whole"], ["D4:whole", "E4:whole"], title="Où est-ce")
    found = again(tune).lesson
    letters = [(s.letter, len(s.measures)) for s in found.arrangement.sections]
    assert letters == [("A", 1), ("B", 2)]
    assert found.title == "Où est-ce"


def test_tempo_changes_become_marks() -> None:
    tune = build.lesson(["C4:whole", "D4:whole"])
    quick = lessons.with_measure(tune, 1, marks=(_mark(90),))
    marks = again(quick).lesson.arrangement.sections[0].measures[1].marks
    assert [(m.at.ticks, m.per_minute) for m in marks] == [(0, 90.0)]


def _mark(per_minute: float) -> object:
    from core.model import Base, TempoMark, Value

    return TempoMark(beat=Value(Base.QUARTER), per_minute=per_minute)


@pytest.mark.parametrize("seed", range(8))
def test_a_played_file_finds_its_grid_and_says_so(seed: int) -> None:
    """Onsets and ends up to 12 ms off at 100 a minute (quarters of 600 ms): the notes come back."""
    chance = random.Random(seed)
    pattern = [0, 240, 480, 640, 800, 960, 1440, 1680, 1800, 1920]
    wanted = [(a, b, 60 + n) for n, (a, b) in enumerate(pairwise(pattern))]

    def played(tick: int) -> int:
        return max(0, tick + round(chance.uniform(-0.02, 0.02) * 480))

    found = midi.read(made([(played(a), played(b), p) for a, b, p in wanted]))
    assert sounding(found.lesson) == [(Fraction(a, 480), Fraction(b, 480), p) for a, b, p in wanted]
    words = " ".join(found.report.sentences)
    assert "Beats are read as triplets (measure 1)" in words
    assert re.search(r"moved by \d+ ms on average and by up to (?:[5-9]|1[0-4]) ms", words)
    assert "4/4 is assumed" in words


def test_overlapping_notes_of_one_line_become_two_voices() -> None:
    data = made([(0, 1920, 45), (0, 480, 60), (480, 960, 64), (960, 1920, 67)])
    assert rows(midi.read(data)) == [[["C4:quarter", "E4:quarter", "G4:half"], ["A2:whole"]]]


def test_more_than_two_at_once_is_shortened_and_said() -> None:
    data = made([(0, 1920, 45), (240, 1920, 52), (480, 1920, 60), (960, 1920, 67)])
    found = midi.read(data)
    assert len(sounding(found.lesson)) == 4
    assert any("shortened" in s and "measure 1" in s for s in found.report.sentences)


def test_highest_and_lowest_lines_are_taken_and_the_rest_kept() -> None:
    lines = [[(0, 960, 60)], [(0, 960, 72)], [(0, 960, 48)]]
    found = midi.read(made(*lines))
    assert [p.role for p in found.report.parts] == ["", "melody", "bass"]
    assert [midi_ for _, _, midi_ in sounding(found.lesson)] == [48, 72]
    source = found.lesson.sources[0]
    assert (len(source.parts), source.melody, source.bass) == (3, 1, 2)
    chosen = midi.read(made(*lines), choice=PartChoice(0))
    assert [midi_ for _, _, midi_ in sounding(chosen.lesson)] == [60]
    with pytest.raises(BadInput, match="no part 8"):
        midi.read(made(*lines), choice=PartChoice(7))


def test_percussion_is_left_out_and_counted() -> None:
    with pytest.raises(BadInput, match="no notes"):
        midi.read(made([(0, 10, 40)], channel=9))
    mixed = mido.MidiFile(file=io.BytesIO(made([(0, 480, 60)])))
    mixed.tracks.append(mido.MidiFile(file=io.BytesIO(made([(0, 9, 40)], channel=9))).tracks[0])
    out = io.BytesIO()
    mixed.save(file=out)
    found = midi.read(out.getvalue())
    assert [f.sentence for f in found.report.dropped] == ["1 note of percussion left out."]


@pytest.mark.parametrize("piece", ["bach/bwv66.6", "bach/bwv7.7", "bach/bwv281"])
def test_files_written_by_music21_keep_every_note(piece: str) -> None:
    """Pieces of music21's corpus, written by music21: each line's onsets, ends and pitches agree
    with music21's own reading of the same file."""
    from music21 import converter, corpus
    from music21.midi.translate import streamToMidiFile

    data = streamToMidiFile(corpus.parse(piece)).writestr()
    theirs = converter.parseData(data, format="midi")
    parts = [
        sorted(
            (Fraction(n.getOffsetInHierarchy(part)).limit_denominator(48), pitch.midi)
            for n in part.recurse().notes
            for pitch in n.pitches
            if n.tie is None or n.tie.type == "start"
        )
        for part in theirs.parts
    ]
    for index, wanted in enumerate(parts):
        found = midi.read(data, choice=PartChoice(index))
        assert problems(found.lesson) == []
        assert sorted((on, pitch) for on, _, pitch in sounding(found.lesson)) == wanted


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"RIFF....", "is not a MIDI file"),
        (b"MThd\0\0\0\6\0\1", "cut off"),
        (b"MThd\0\0\0\6\0\1\0\0\1\xe0", "no notes"),
        (b"MThd\0\0\0\6\0\2\0\0\1\xe0", "format 2"),
        (b"MThd\0\0\0\6\0\1\0\0\xe7\x28", "film frames"),
    ],
)
def test_bad_files_are_refused_with_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        midi.read(data, "x.mid")


def test_a_cut_off_file_is_refused_or_read() -> None:
    whole = midi.write(TUNE)
    for length in range(0, len(whole), 7):
        with contextlib.suppress(BadInput):
            assert problems(midi.read(whole[:length], "x.mid").lesson) == []


def test_an_endless_file_is_refused() -> None:
    with pytest.raises(BadInput, match=f"more than {MOST_MEASURES}"):
        midi.read(made([(0, 200_000_000, 60)]))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(14, 400), st.integers(0, 255)), max_size=6))
def test_damaged_bytes_never_crash(changes: list[tuple[int, int]]) -> None:
    data = bytearray(midi.write(TUNE))
    for at, value in changes:
        data[at % len(data)] = value
    try:
        found = midi.read(bytes(data), "x.mid")
    except BadInput:
        return
    assert problems(found.lesson) == []


EIGHTHS = st.lists(
    st.tuples(st.integers(0, 31), st.integers(1, 8), st.integers(40, 83)), min_size=1, max_size=12
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(EIGHTHS)
def test_every_onset_on_the_grid_comes_back(notes: list[tuple[int, int, int]]) -> None:
    """Whatever voices they fall into, all onsets and pitches are kept."""
    apart = {(on, pitch): (on * 240, (on + length) * 240, pitch) for on, length, pitch in notes}
    found = midi.read(made(_not_overlapping(list(apart.values()))))
    heard = sorted((on, pitch) for on, _, pitch in sounding(found.lesson))
    assert heard == sorted((Fraction(on, 2), pitch) for on, pitch in apart)


def _not_overlapping(notes: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """The same key can only be struck again after it was let go."""
    found = []
    for on, off, pitch in notes:
        later = [o for o, _, p in notes if p == pitch and o > on]
        found.append((on, min([off, *later]), pitch))
    return found
