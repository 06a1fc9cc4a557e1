"""An independent reader (music21) and its corpus against our reader and writer."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.formats import musicxml_read, musicxml_write
from core.model import walk
from tests import strategies
from tests.build import lesson
from tests.core.formats import outside
from tests.core.formats.xsd import errors

# Pieces of music21's corpus: chorales, a mass movement, a quartet, a madrigal, songs.
CORPUS = [
    "bach/bwv66.6", "bach/bwv227.1", "bach/bwv846", "corelli/opus3no1/1grave",
    "monteverdi/madrigal.3.1", "schoenberg/opus19/movement2", "schumann_clara/opus17/movement3",
    "handel/rinaldo/lascia_chio_pianga", "mozart/k155/movement2",
]  # fmt: skip


def corpus_file(name):
    from music21 import corpus

    try:
        path = corpus.getWork(name)
    except Exception:  # music21's own kind of "not there"
        path = None
    if path is None or not str(path).endswith((".mxl", ".xml", ".musicxml")):
        pytest.skip(f"{name} is not in this music21's corpus as MusicXML")
    return path


@pytest.mark.parametrize("name", CORPUS)
def test_a_corpus_piece_comes_in_with_every_note(name):
    path = corpus_file(name)
    imported = musicxml_read.read(path.read_bytes(), path.name)
    theirs = outside.notes_of_score(outside.parsed(path))
    assert len(theirs) > 50
    assert outside.notes_of_import(imported) == theirs
    assert errors(musicxml_write.write(imported.lesson)) == []


def staff_of(score):
    """The first staff alone: the tablature staff repeats its notes."""
    for part in list(score.parts)[1:]:
        score.remove(part, recurse=True)
    return score


def kept(piece):
    """The notes that take time: music21 gives grace notes no onset of their own."""
    measures = list(walk.measures(piece.arrangement))
    return outside.notes_of_measures(measures, lengths=True)


def test_music21_finds_the_same_notes_in_what_we_write():
    piece = lesson(
        ["C5s1f8!1:quarter. E4s1f0+C4s2f1:eighth@3:2 D4:eighth@3:2 E4:eighth@3:2 r:eighth"
         " F#4:quarter | A2s5f0:half E2s6f0:half~",
         "Bb4:half.. B4:eighth | E2s6f0:whole"],
        ["C5:16th D5:16th E5:eighth G5:half. | r:quarter C3:half."],
    )  # fmt: skip
    score = staff_of(outside.parsed(musicxml_write.write(piece)))
    assert outside.notes_of_score(score, lengths=True) == kept(piece)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons(most_sections=1), st.sampled_from(["staff", "staff and tab", "tab"]))
def test_music21_finds_the_same_notes_in_any_lesson(drawn, staves):
    from msgspec import structs

    plain = structs.replace(drawn, settings=structs.replace(drawn.settings, staves=staves))
    score = staff_of(outside.parsed(musicxml_write.write(plain)))
    # grace notes aside: music21 does not transpose one that stands at the end of the part
    mine = [row[:3] for row in kept(plain) if row[3]]
    theirs = [row[:3] for row in outside.notes_of_score(score, lengths=True) if row[3]]
    assert theirs == mine
