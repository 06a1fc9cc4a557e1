"""Ways files of other programs say one thing and mean another."""

import pytest

from core.formats import musicxml_read
from core.model import Finger, Place, walk


def imported(note, name="Guitar", program=25, clef_octave=0, transpose=False):
    """A file with one whole note (or several measures of them) read."""
    change = f"<clef-octave-change>{clef_octave}</clef-octave-change>" if clef_octave else ""
    moved = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    text = f"""<score-partwise version="4.0"><part-list><score-part id="P1">
      <part-name>{name}</part-name><score-instrument id="I"><instrument-name>x</instrument-name>
      </score-instrument><midi-instrument id="I"><midi-program>{program}</midi-program>
      </midi-instrument></score-part></part-list><part id="P1"><measure number="1"><attributes>
      <divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>
      <clef><sign>G</sign><line>2</line>{change}</clef>{moved * transpose}</attributes>
      <note><pitch>{note[0]}</pitch><duration>4</duration><type>whole</type>
      <notations><technical>{note[1]}</technical></notations></note>
      </measure></part></score-partwise>"""
    return musicxml_read.read(text.encode(), "t.musicxml")


def only(found):
    return next(n for m in walk.measures(found.lesson.arrangement) for _, n in walk.notes(m))


def pitch(step, octave):
    return f"<step>{step}</step><octave>{octave}</octave>"


@pytest.mark.parametrize("figure", ["1", "5"])
def test_a_keyboard_players_finger_is_no_guitarists(figure):
    """1 is the thumb at the keyboard, the index finger on the guitar (common practice)."""
    fingering = f"<fingering>{figure}</fingering>"
    found = imported((pitch("E", 4), fingering), "Piano", 1)
    assert only(found).finger is None
    assert "1 fingering left out (measure 1)." in found.report.sentences


def test_a_guitarists_finger_is_kept_unshifted():
    found = imported((pitch("F", 4), "<fingering>1</fingering>"))
    assert only(found).finger.value is Finger.INDEX


def test_a_harmonic_written_at_the_touched_fret_sounds_its_node():
    """Seventh fret of the open fourth string D3: the third partial, A4 (check values 5)."""
    signs = "<string>4</string><fret>7</fret><harmonic><natural/><touching-pitch/></harmonic>"
    note = only(imported((pitch("A", 3), signs), clef_octave=-1))
    assert str(note.pitch) == "A4"
    assert note.harmonic.touched_fret == 7
    assert note.place.value == Place(4, 0)


def test_an_octave_said_by_clef_and_transposition_is_believed_once_below_the_guitar():
    """E2 is the lowest open string; E1 is on no guitar."""
    found = imported((pitch("E", 2), ""), clef_octave=-1, transpose=True)
    assert str(only(found).pitch) == "E2"
    assert not found.report.octaves[0].sure
