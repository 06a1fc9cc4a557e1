"""Every file of the open MusicXML test suite, beside an independent reader (music21)."""

import pytest

from core.formats import musicxml_read, musicxml_write
from core.formats.musicxml_same import canonical
from core.model.errors import BadInput
from core.model.validate import problems
from tests.core.formats import outside
from tests.core.formats.xsd import errors

FILES = outside.suite()
pytestmark = pytest.mark.skipif(not FILES, reason="the open MusicXML suite is not beside the repo")

REFUSED = {
    "02a-Rests-Durations.xml": "a 1024th",  # a 256th and a 512th are kept as tuplets of 128ths
    "32ad-Notations5.musicxml": "line 141",  # not well-formed XML; music21 refuses it too
}
DIFFERENT = {
    "02e-Rests-NoType.xml": "a note without <staff> in a part of two: music21 puts it on both",
    "03ab-Rhythm-Durations.xml": "long and maxima have no value here: tied breves instead",
    "21f-Chord-ElementInBetween.xml": "a direction inside a chord: music21 breaks the chord up",
    "32c-MultipleNotationChildren.xml": "a printed accidental that is not the <alter> of the pitch:"
    " music21 follows the accidental; in the standard <alter> is what sounds",
}


def ids(path):
    return path.name


@pytest.mark.parametrize("path", FILES, ids=ids)
def test_each_file_is_read_or_refused_with_one_sentence(path):
    data = path.read_bytes()
    if path.name in REFUSED:
        with pytest.raises(BadInput, match=REFUSED[path.name]) as caught:
            musicxml_read.read(data, path.name)
        assert str(caught.value).startswith(path.name)
        assert str(caught.value).count(". ") == 0
        return
    imported = musicxml_read.read(data, path.name)
    assert problems(imported.lesson) == []
    written = musicxml_write.write(imported.lesson)
    assert errors(written) == []
    back = musicxml_read.read(written, path.name)
    assert canonical(back.lesson) == canonical(imported.lesson)


@pytest.mark.parametrize("path", [p for p in FILES if p.name not in REFUSED], ids=ids)
def test_notes_onsets_and_pitches_agree_with_music21(path):
    imported = musicxml_read.read(path.read_bytes(), path.name)
    mine = outside.notes_of_import(imported)
    theirs = outside.notes_of_score(outside.parsed(path))
    if path.name in DIFFERENT:
        assert mine != theirs
    else:
        assert mine == theirs
