"""Signs of other programs' files, and how ours are written for them (MusicXML 4.0, W3C)."""

import pytest
from lxml import etree

from core.formats import musicxml_read, musicxml_write
from core.model import (
    Arpeggio,
    Articulation,
    Barre,
    Breath,
    ChordMark,
    ChordShape,
    Dynamic,
    Fermata,
    Finger,
    PositionMark,
    ShapeBarre,
    TempoMark,
    TextMark,
    walk,
)
from tests.build import lesson
from tests.core.formats.test_musicxml_reading import (
    bar,
    direction,
    first_note,
    note,
    part,
    read,
    score,
    technical,
)
from tests.core.formats.xsd import errors


def first_event(imported):
    return next(walk.events(next(walk.measures(imported.lesson.arrangement)))).event


def marks(imported):
    return next(walk.measures(imported.lesson.arrangement)).marks


@pytest.mark.parametrize(
    ("written", "mark"),
    [
        ("<articulations><staccato/></articulations>", Articulation("staccato")),
        ("<articulations><strong-accent/></articulations>", Articulation("strong accent")),
        ("<articulations><tenuto/></articulations>", Articulation("tenuto")),
        ("<articulations><breath-mark/></articulations>", Breath()),
        ("<articulations><caesura/></articulations>", Breath("caesura")),
        ("<fermata/>", Fermata()),
        ('<fermata type="inverted">square</fermata>', Fermata("square", inverted=True)),
        ("<fermata>angled</fermata>", Fermata("angled")),
        ('<arpeggiate direction="down"/>', Arpeggio("down")),
        ("<arpeggiate/>", Arpeggio()),
        ("<dynamics><mf/></dynamics>", Dynamic("mf")),
    ],
)
def test_marks_of_an_event(written, mark):
    assert first_event(read(note(notations=written))).marks == (mark,)


def test_dynamics_above_the_staff_find_their_note():
    found = read(direction("<dynamics><pp/></dynamics>") + note())
    assert first_event(found).marks == (Dynamic("pp"),)


def test_cautionary_and_editorial_accidentals():
    for attribute, kind in (("cautionary", "courtesy"), ("editorial", "editorial")):
        written = note(inside=f'<accidental {attribute}="yes">natural</accidental>')
        assert first_note(read(written)).accidental == kind


def test_lines_between_notes():
    found = read(
        note(duration=1, notations='<slur type="start" number="1"/>')
        + note("E5", duration=1, notations='<slur type="stop" number="1"/>'
               + technical('<hammer-on type="start" number="1">H</hammer-on>'))
        + note("F5", duration=1, notations=technical('<hammer-on type="stop" number="1"/>'
               '<pull-off type="start" number="1">P</pull-off>') + '<slide type="start"/>')
        + note("E5", duration=1, notations=technical('<pull-off type="stop" number="1"/>')
               + '<slide type="stop"/>')
    )  # fmt: skip
    names = {}
    for at in walk.events(next(walk.measures(found.lesson.arrangement))):
        names[at.event.id] = at.index
        names |= {n.id: at.index for n in at.event.notes}
    spans = {(s.kind, names[s.start], names[s.end]) for s in found.lesson.arrangement.spans}
    assert spans == {("slur", 0, 1), ("hammer-on", 1, 2), ("pull-off", 2, 3), ("slide", 2, 3)}


def test_hairpins_tempo_lines_let_ring_and_barres():
    def lines(words, tag, how):
        text = f"<words>{words}</words></direction-type><direction-type>" if words else ""
        return direction(f'{text}<{tag} type="{how}" number="1" line-end="none"/>')

    for words, tag, kind in (
        ("rit.", "dashes", "tempo"), ("let ring", "dashes", "let ring"),
        ("C III", "bracket", "barre"),
        ("cresc.", "dashes", "crescendo"),
    ):  # fmt: skip
        found = read(lines(words, tag, "start") + note() + lines("", tag, "stop"), note())
        (span,) = found.lesson.arrangement.spans
        assert span.kind == kind
        assert span.start == span.end == first_event(found).id
        assert span.barre == (Barre(3) if kind == "barre" else None)
    wedge = direction('<wedge type="{}"/>')
    found = read(wedge.format("diminuendo") + note() + wedge.format("stop"))
    assert [s.kind for s in found.lesson.arrangement.spans] == ["diminuendo"]


def test_a_line_without_an_end_is_told():
    found = read(note(notations='<slur type="start"/>'))
    assert [f.sentence for f in found.report.dropped] == [
        "1 slur without both ends left out (measure 1)."
    ]


def test_words_tempo_and_positions():
    metronome = "<metronome><beat-unit>half</beat-unit><per-minute>60</per-minute></metronome>"
    found = read(
        direction(metronome) + direction("<words>dolce</words>") + direction("<words>V</words>")
        + note() + direction("<words>rit.</words>"),
    )  # fmt: skip
    tempo, text, position, slower = marks(found)
    assert isinstance(tempo, TempoMark)
    assert (str(tempo.beat), tempo.per_minute) == ("half", 60)
    assert str(found.lesson.arrangement.tempo.beat) == "half"
    assert text == TextMark("dolce")
    assert position == PositionMark(5)
    assert (slower.text, slower.effect) == ("rit.", "slower")


FRAME = """<harmony><root><root-step>F</root-step></root><kind text="m">minor</kind><frame>
<frame-strings>6</frame-strings><frame-frets>4</frame-frets><first-fret>3</first-fret>
<frame-note><string>6</string><fret>3</fret><fingering>1</fingering><barre type="start"/>
</frame-note><frame-note><string>5</string><fret>5</fret><fingering>3</fingering></frame-note>
<frame-note><string>1</string><fret>3</fret><barre type="stop"/></frame-note></frame></harmony>"""


def test_a_frame_becomes_a_chord_shape():
    shape = ChordShape(
        "Fm", (3, None, None, None, 5, 3),
        (None, None, None, None, Finger.RING, Finger.INDEX), ShapeBarre(3, 6, 1), first_fret=3,
    )  # fmt: skip
    assert marks(read(FRAME + note())) == (ChordMark(shape),)


def test_a_chord_symbol_without_a_frame_is_kept_as_text():
    symbol = "<harmony><root><root-step>A</root-step></root><kind>minor-seventh</kind></harmony>"
    found = read(symbol + note())
    assert marks(found) == (TextMark("Am7"),)
    assert "diagram" in found.report.findings[0].text


@pytest.mark.parametrize(
    ("pitch", "inside", "touched", "sounds"),
    [
        # nodes of a string: 12 an octave, 7 an octave and a fifth, 5 two octaves above the open
        # string (check values, natural harmonics)
        ("E3", "<harmonic><natural/></harmonic><string>6</string><fret>12</fret>", 12, "E3"),
        ("B2", "<harmonic><natural/></harmonic><string>6</string><fret>7</fret>", 7, "B3"),
        ("A2", "<harmonic><natural/></harmonic><string>6</string><fret>5</fret>", 5, "E4"),
        ("E2", "<harmonic><natural/><base-pitch/></harmonic><string>6</string><fret>7</fret>",
         7, "B3"),
        ("B3", "<harmonic><natural/><sounding-pitch/></harmonic><string>6</string><fret>7</fret>",
         7, "B3"),
    ],
)  # fmt: skip
def test_natural_harmonics_sound_what_they_sound(pitch, inside, touched, sounds):
    found = first_note(read(note(pitch, notations=technical(inside))))
    assert str(found.pitch) == sounds
    assert found.harmonic.touched_fret == touched
    assert str(found.place.value) == "s6f0"


def test_a_tie_that_leads_nowhere_lets_the_note_ring():
    tie = '<tied type="start"/>'
    found = read(note(notations=tie), note(notations=tie), note("D5"))
    first, second, third = (
        row[0].notes[0] for m in walk.measures(found.lesson.arrangement) for row in m.voices
    )
    assert (first.tied, first.let_ring) == (True, False)
    assert (second.tied, second.let_ring) == (False, True)
    assert not third.let_ring
    assert [f.measures for f in found.report.findings] == [("2",)]


def test_tuplets_whose_divisions_are_rounded():
    third = (
        "<note><pitch><step>C</step><octave>5</octave></pitch><duration>{}</duration>"
        "<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification></note>"
    )
    rest = "<note><rest/><duration>300</duration></note>"
    data = score(part(third.format(33) * 2 + third.format(34) + rest)).replace(
        b"<divisions>1<", b"<divisions>100<"
    )
    (measure,) = walk.measures(musicxml_read.read(data, "t.xml").lesson.arrangement)
    values = [str(event.value) for event in measure.voices[0]]
    assert values == ["eighth@3:2"] * 3 + ["half."]


def test_a_note_that_looks_shorter_than_it_lasts_keeps_its_time():
    found = read(note(inside="<type>half</type>"))
    assert str(first_event(found).value) == "whole"
    assert found.report.findings[0].measures == ("1",)


# ---------------------------------------------------------------- what others see


def written(piece):
    data = musicxml_write.write(piece)
    assert errors(data) == []
    return etree.fromstring(data)


def test_staff_and_tablature_stand_on_two_staves():
    root = written(lesson(["C5s1f8!4:half. | A2s5f0:whole"]))
    clefs = [(c.findtext("sign"), c.findtext("clef-octave-change")) for c in root.iter("clef")]
    assert clefs == [("G", "-1"), ("TAB", None)]
    tuned = [
        (row.get("line"), row.findtext("tuning-step") + row.findtext("tuning-octave"))
        for row in root.iter("staff-tuning")
    ]
    assert tuned == list(zip("123456", ("E2", "A2", "D3", "G3", "B3", "E4"), strict=True))
    for staff in "12":
        notes = [n for n in root.iter("note") if n.findtext("staff") == staff and n.find("pitch")
                 is not None]  # fmt: skip
        places = [
            tuple(n.findtext(f"notations/technical/{tag}") for tag in ("string", "fret"))
            for n in notes
        ]
        assert places == [("1", "8"), ("5", "0")]


def test_tuplets_have_their_brackets():
    root = written(lesson(["C5:eighth@3:2 D5:eighth@3:2 E5:eighth@3:2 r:half."]))
    assert [t.get("type") for t in root.iter("tuplet")] == ["start", "stop"]


def test_repeats_and_jumps_have_their_sounds():
    data = score(
        part(
            bar("left", '<repeat direction="forward"/>')
            + note() + bar("right", '<repeat direction="backward"/>'),
            note() + direction("<words>D.C. al Fine</words>"),
        )
    )  # fmt: skip
    root = written(musicxml_read.read(data, "t.xml").lesson)
    assert [r.get("direction") for r in root.iter("repeat")] == ["forward", "backward"]
    assert [s.get("dacapo") for s in root.iter("sound") if s.get("dacapo")] == ["yes"]
