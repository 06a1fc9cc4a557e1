"""Short measures and their place in time: what comes after them must not be late."""

from fractions import Fraction

import pytest

from core.formats import musicxml_read, musicxml_write
from core.model import TICKS_PER_QUARTER, walk
from tests.core.formats import outside
from tests.core.formats.test_musicxml_outside import corpus_file

# Chorales whose repeats cut measures in two, or whose measures are not filled (music21's corpus).
CUT = ["bach/bwv417", "bach/bwv126.6", "bach/bwv48.3", "bach/bwv364"]


def note(beats):
    pitch = "<pitch><step>C</step><octave>4</octave></pitch>"
    return f"<note>{pitch}<duration>{beats}</duration></note>"


def score(*parts):
    """Parts of measures in 4/4; a measure is a list of lengths in quarters."""
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    rows, names = "", ""
    for number, measures in enumerate(parts, 1):
        names += f'<score-part id="P{number}"><part-name>Voice {number}</part-name></score-part>'
        row = f"<attributes><divisions>1</divisions>{time}</attributes>".join(
            [
                '<measure number="1">',
                "".join(map(note, measures[0])) + "</measure>",
            ]
        )
        for index, beats in enumerate(measures[1:], 2):
            row += f'<measure number="{index}">{"".join(map(note, beats))}</measure>'
        rows += f'<part id="P{number}">{row}</part>'
    head = f'<score-partwise version="4.0"><part-list>{names}</part-list>'
    return f"{head}{rows}</score-partwise>".encode()


def onsets(measures):
    """Onset in quarters from the beginning and MIDI number of each note, sorted."""
    rows, start = [], 0
    for measure in measures:
        for located, found in walk.notes(measure):
            at = Fraction(start + located.onset, TICKS_PER_QUARTER)
            rows.append((at, found.pitch.midi))
        start += measure.length_ticks
    return sorted(rows)


def test_a_short_measure_in_the_middle_keeps_its_own_length():
    imported = musicxml_read.read(score([[4], [2, 1], [4], [4]]), "t.musicxml")
    measures = list(walk.measures(imported.lesson.arrangement))
    assert [at for at, _ in onsets(measures)] == [0, 4, 6, 7, 11]
    said = [finding.sentence for finding in imported.report.findings]
    assert "Measures shorter than their metre keep their own length (measure 2)." in said


def test_a_part_that_stops_early_does_not_shorten_the_measure():
    imported = musicxml_read.read(score([[4], [1], [4]], [[4], [4], [4]]), "t.musicxml")
    for part in imported.lesson.sources[0].parts:
        assert [measure.ticks // TICKS_PER_QUARTER for measure in part.measures] == [4, 4, 4]
    measures = walk.measures(imported.lesson.arrangement)
    assert [measure.ticks // TICKS_PER_QUARTER for measure in measures] == [4, 4, 4]


def test_a_256th_is_kept_as_half_a_128th_and_told():
    # Lengths in 64ths of a quarter: 1 is a 256th; 62 are several tied notes.
    data = score([[1, 1, 62, 192]]).replace(
        b"<divisions>1</divisions>", b"<divisions>64</divisions>"
    )
    imported = musicxml_read.read(data, "t.musicxml")
    measure = next(walk.measures(imported.lesson.arrangement))
    assert [str(event.value) for event in measure.voices[0]][:2] == ["128th@2:1", "128th@2:1"]
    found = [at for at, _ in onsets([measure])]
    assert found[:3] == [0, Fraction(1, 64), Fraction(1, 32)]
    assert found[-1] == 1
    assert "written as 128ths" in " ".join(f.sentence for f in imported.report.findings)
    again = musicxml_read.read(musicxml_write.write(imported.lesson), "t.musicxml")
    assert onsets(walk.measures(again.lesson.arrangement)) == onsets([measure])


@pytest.mark.parametrize("name", CUT)
def test_notes_after_cut_measures_are_in_time(name):
    path = corpus_file(name)
    imported = musicxml_read.read(path.read_bytes(), path.name)
    theirs = sorted(
        (Fraction(element.getOffsetInHierarchy(part)).limit_denominator(5040), pitch.midi)
        for part in outside.parsed(path).parts
        for element in part.recurse().notes
        for pitch in element.pitches
    )
    mine = [row for part in imported.lesson.sources[0].parts for row in onsets(part.measures)]
    assert sorted(mine) == theirs
