"""What files say in their many ways, and what the lesson holds afterwards.

Expected values: the MusicXML 4.0 documentation (W3C) for the elements; the open strings and
written octave of the guitar are common practice.
"""

import pytest

from core.formats import musicxml_read
from core.formats.imported import PartChoice
from core.model import Finger, Fingering, Origin, Pluck, walk
from core.model.roadmap import played

CLEF = "<clef><sign>G</sign><line>2</line></clef>"
CLEF_8 = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
DOWN = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"


def note(pitch="C5", inside="", duration=4, notations="", chord=False):
    notation = f"<notations>{notations}</notations>" if notations else ""
    return (
        f"<note>{'<chord/>' if chord else ''}<pitch><step>{pitch[0]}</step>"
        f"<octave>{pitch[1:]}</octave></pitch><duration>{duration}</duration>{inside}{notation}"
        "</note>"
    )


def technical(text):
    return f"<technical>{text}</technical>"


def part(*measures, attributes="", number=1):
    head = f"<attributes><divisions>1</divisions>{attributes}</attributes>"
    inside = "".join(
        f'<measure number="{n}">{head if n == 1 else ""}{m}</measure>'
        for n, m in enumerate(measures, start=1)
    )
    return f'<part id="P{number}">{inside}</part>'


def score(*parts, names=("Guitar",)):
    listed = "".join(
        f'<score-part id="P{n}"><part-name>{name}</part-name></score-part>'
        for n, name in enumerate(names, start=1)
    )
    text = f"<score-partwise><part-list>{listed}</part-list>{''.join(parts)}</score-partwise>"
    return text.encode()


def read(*measures, attributes=CLEF_8, **options):
    return musicxml_read.read(score(part(*measures, attributes=attributes)), "t.xml", **options)


def first_note(imported):
    return next(n for m in walk.measures(imported.lesson.arrangement) for _, n in walk.notes(m))


# ---------------------------------------------------------------- octaves


@pytest.mark.parametrize(
    ("attributes", "name", "inside", "sounds", "sure"),
    [
        (CLEF_8, "Guitar", "", "C5", True),
        (CLEF + DOWN, "Guitar", "", "C4", True),
        (CLEF, "Guitar", "", "C4", False),
        (CLEF, "Flute", "", "C5", True),
        (CLEF, "Violin", "", "C5", True),
        (CLEF, "Guitar", "<string>2</string><fret>1</fret>", "C4", True),
        (CLEF, "Guitar", "<string>1</string><fret>8</fret>", "C5", True),
        (CLEF, "Part", "<string>2</string><fret>1</fret>", "C4", True),
    ],
)
def test_the_octave_that_sounds(attributes, name, inside, sounds, sure):
    notes = note("C5", notations=technical(inside) if inside else "")
    data = score(part(notes, attributes=attributes), names=(name,))
    imported = musicxml_read.read(data, "t.xml")
    assert str(first_note(imported).pitch) == sounds
    (decision,) = imported.report.octaves
    assert decision.sure is sure
    assert decision.shift == (-1 if sounds == "C4" else 0)
    assert any(decision.reason in sentence for sentence in imported.report.sentences)


def test_a_guitar_part_below_the_lowest_written_note_sounds_as_written():
    data = score(part(note("E2"), note("C5"), attributes=CLEF))
    assert str(first_note(musicxml_read.read(data, "t.xml")).pitch) == "E2"


@pytest.mark.parametrize("attributes", [CLEF, CLEF_8, CLEF + DOWN])
def test_the_octave_can_be_chosen(attributes):
    for octave, sounds in ((0, "C5"), (-1, "C4")):
        imported = read(note("C5"), attributes=attributes, octave=octave)
        assert str(first_note(imported).pitch) == sounds


# ---------------------------------------------------------------- labels


def test_fingers_strings_and_plucking_are_labels_of_the_source():
    signs = technical(
        "<fingering>1</fingering><pluck>p</pluck><string>2</string><fret>1</fret>"
        '<fingering substitution="yes">3</fingering><fingering alternate="yes">2</fingering>'
    )
    found = first_note(read(note("C4", notations=signs)))
    assert (str(found.place.value), found.place.origin) == ("s2f1", Origin.SOURCE)
    assert (found.finger.value, found.finger.origin) == (Finger.INDEX, Origin.SOURCE)
    assert (found.plucking.value, found.plucking.origin) == (Pluck.P, Origin.SOURCE)
    assert found.substitute is Finger.RING
    assert found.alternative == Fingering(finger=Finger.MIDDLE)


@pytest.mark.parametrize("text", ["0", "1", "2", "3", "4"])
def test_no_finger_is_shifted(text):
    signs = technical(f"<fingering>{text}</fingering>")
    assert first_note(read(note("C4", notations=signs))).finger.value == text


def test_a_note_without_a_place_stays_without():
    assert first_note(read(note("C4"))).place is None


def test_a_place_that_does_not_sound_the_note_is_left_out_and_told():
    right = note("C4", notations=technical("<string>2</string><fret>1</fret>"))
    wrong = note("C4", notations=technical("<string>2</string><fret>3</fret>"))
    imported = read(right * 3 + wrong)
    (finding,) = imported.report.dropped
    assert finding.measures == ("1",)
    assert "do not sound" in finding.sentence or "does not sound" in finding.sentence


def test_a_string_alone_is_a_circled_string():
    found = first_note(read(note("C4", notations=technical("<string>2</string>"))))
    assert found.circled
    assert str(found.place.value) == "s2f1"


def test_tuning_and_capo():
    lines = "".join(
        f'<staff-tuning line="{n}"><tuning-step>{p[0]}</tuning-step>'
        f"<tuning-octave>{p[1]}</tuning-octave></staff-tuning>"
        for n, p in enumerate(("D2", "A2", "D3", "G3", "B3", "E4"), start=1)
    )
    details = f"<staff-details><staff-lines>6</staff-lines>{lines}<capo>2</capo></staff-details>"
    signs = technical("<string>6</string><fret>0</fret>")
    imported = read(note("E2", notations=signs), attributes=CLEF_8 + details)
    instrument = imported.lesson.arrangement.instrument
    assert list(map(str, instrument.strings)) == ["E4", "B3", "G3", "D3", "A2", "D2"]
    assert instrument.capo == 2
    assert str(first_note(imported).place.value) == "s6f0"


# ---------------------------------------------------------------- staff and tablature

TAB = '<clef number="2"><sign>TAB</sign><line>5</line></clef>'


def both_staves(frets=True):
    staff = note("C4", "<voice>1</voice><staff>1</staff>")
    signs = technical("<string>2</string><fret>1</fret>") if frets else ""
    tab = note("C4", "<voice>5</voice><staff>2</staff>", notations=signs)
    clefs = "<staves>2</staves>" + CLEF_8.replace("<clef>", '<clef number="1">') + TAB
    return read(staff + "<backup><duration>4</duration></backup>" + tab, attributes=clefs)


def test_staff_and_tablature_of_one_part_are_one_music():
    imported = both_staves()
    (measure,) = walk.measures(imported.lesson.arrangement)
    assert len(measure.voices) == 1
    assert str(first_note(imported).place.value) == "s2f1"
    assert imported.lesson.sources == ()
    assert imported.report.dropped == ()


def test_staff_and_tablature_in_two_parts_are_one_music():
    signs = technical("<string>2</string><fret>1</fret>")
    tab = part(
        note("C4", notations=signs), number=2,
        attributes="<clef><sign>TAB</sign><line>5</line></clef>",
    )  # fmt: skip
    data = score(part(note("C4"), attributes=CLEF_8), tab, names=("Guitar", "Tab"))
    imported = musicxml_read.read(data, "t.xml")
    assert [info.role for info in imported.report.parts] == ["guitar", "tablature"]
    assert str(first_note(imported).place.value) == "s2f1"
    assert imported.lesson.sources == ()


# ---------------------------------------------------------------- several parts


def trio():
    parts = [
        part(note(pitch), attributes=CLEF, number=n)
        for n, pitch in enumerate(("C4", "C5", "C3"), start=1)
    ]
    return score(*parts, names=("Middle", "High", "Low"))


def test_the_highest_part_becomes_melody_and_the_lowest_bass():
    imported = musicxml_read.read(trio(), "t.xml")
    (measure,) = walk.measures(imported.lesson.arrangement)
    assert [str(row[0].notes[0].pitch) for row in measure.voices] == ["C5", "C3"]
    (source,) = imported.lesson.sources
    assert [p.name for p in source.parts] == ["Middle", "High", "Low"]
    assert (source.melody, source.bass) == (1, 2)
    assert any("Middle" in sentence for sentence in imported.report.sentences)


def test_a_melody_that_ends_early_does_not_cut_off_the_bass():
    short, long = part(note("C5")), part(note("C3"), note("D3"), number=2)
    imported = musicxml_read.read(score(short, long, names=("High", "Low")), "t.xml")
    second = list(walk.measures(imported.lesson.arrangement))[1]
    assert [[str(e.notes[0].pitch) for e in row] for row in second.voices] == [[], ["D3"]]


def test_the_parts_can_be_chosen():
    imported = musicxml_read.read(trio(), "t.xml", choose=PartChoice(0, 1))
    (measure,) = walk.measures(imported.lesson.arrangement)
    assert [str(row[0].notes[0].pitch) for row in measure.voices] == ["C4", "C5"]
    asked = []
    musicxml_read.read(trio(), "t.xml", choose=lambda parts: asked.append(parts) or PartChoice(0))
    assert [info.name for info in asked[0]] == ["Middle", "High", "Low"]


# ---------------------------------------------------------------- structure


def bar(location, inside):
    return f'<barline location="{location}">{inside}</barline>'


FORWARD = bar("left", '<repeat direction="forward"/>')
BACKWARD = bar("right", '<repeat direction="backward"/>')


def order(imported):
    """The played order by number of the written measure, from 1."""
    places = {m.id: n for n, m in enumerate(walk.measures(imported.lesson.arrangement), start=1)}
    return [places[o.measure.id] for o in played(imported.lesson.arrangement)]


def test_a_repeat_without_a_start_repeats_from_the_beginning():
    assert order(read(note(), note() + BACKWARD, note())) == [1, 2, 1, 2, 3]


def test_a_repeat_in_the_middle():
    assert order(read(note(), FORWARD + note(), note() + BACKWARD, note())) == [1, 2, 3, 2, 3, 4]


def test_three_times():
    thrice = bar("right", '<repeat direction="backward" times="3"/>')
    assert order(read(FORWARD + note() + thrice, note())) == [1, 1, 1, 2]


def ending(number, inside, repeat=True):
    start = bar("left", f'<ending number="{number}" type="start"/>')
    back = '<repeat direction="backward"/>' if repeat else ""
    return start + inside + bar("right", f'<ending number="{number}" type="stop"/>{back}')


def test_endings_of_any_number():
    found = read(
        note(), ending("1, 2", note()), ending("3", note()), ending("4", note(), False), note()
    )
    assert order(found) == [1, 2, 1, 2, 1, 3, 1, 4, 5]
    section = found.lesson.arrangement.sections[0]
    assert section.times == 4
    assert [e.passes for e in section.endings] == [(1, 2), (3,), (4,)]


def test_a_repeat_inside_a_measure_splits_it():
    middle = bar("middle", '<repeat direction="backward"/>')
    half = note(duration=2)
    found = read(note(), half + middle + half, note())
    measures = list(walk.measures(found.lesson.arrangement))
    assert [str(m.own_length) for m in measures] == ["None", "1/2", "1/2", "None"]
    assert [m.counted for m in measures] == [True, True, False, True]
    assert order(found) == [1, 2, 1, 2, 3, 4]


def direction(kind, sound=""):
    return f"<direction><direction-type>{kind}</direction-type>{sound}</direction>"


def test_rehearsal_marks_begin_sections():
    mark = [direction(f"<rehearsal>{letter}</rehearsal>") for letter in "AB"]
    found = read(mark[0] + note(), note(), mark[1] + note())
    sections = found.lesson.arrangement.sections
    assert [(s.letter, len(s.measures)) for s in sections] == [("A", 2), ("B", 1)]


def test_da_capo_al_fine_by_words_and_by_sound():
    fine = direction("<words>Fine</words>")
    for words, sound in (("D.C. al Fine", ""), ("D.C. al Fine", '<sound dacapo="yes"/>')):
        found = read(note(), note() + fine, note() + direction(f"<words>{words}</words>", sound))
        assert order(found) == [1, 2, 3, 1, 2]


def test_dal_segno_al_coda():
    found = read(
        note(), direction("<segno/>") + note(),
        note() + direction("<words>To Coda</words>", '<sound tocoda="coda"/>'),
        note() + direction("<words>D.S. al Coda</words>", '<sound dalsegno="segno"/>'),
        direction("<coda/>") + note(),
    )  # fmt: skip
    assert order(found) == [1, 2, 3, 4, 2, 3, 5]


def test_a_pickup_is_not_counted():
    data = score(part(note(duration=1), note(), attributes=CLEF_8)).replace(
        b'number="1"', b'number="0" implicit="yes"'
    )
    first, second = walk.measures(musicxml_read.read(data, "t.xml").lesson.arrangement)
    assert (str(first.own_length), first.counted) == ("1/4", False)
    assert (second.own_length, second.counted) == (None, True)


# ---------------------------------------------------------------- what is left out


def test_losses_are_counted_and_named_by_measure():
    trill = note(notations="<ornaments><trill-mark/></ornaments>")
    sung = note(inside='<lyric number="1"><text>la</text></lyric>')
    imported = read(note(), trill, sung, note(), sung)
    assert [f.sentence for f in imported.report.dropped] == [
        "1 trill left out (measure 2).",
        "1 lyric line left out (measures 3, 5).",
    ]
