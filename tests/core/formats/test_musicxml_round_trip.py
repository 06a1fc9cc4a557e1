"""Our lesson -> MusicXML -> our lesson is identity by meaning, and every file validates."""

from hypothesis import HealthCheck, given, settings
from lxml import etree

from core.formats import musicxml_read, musicxml_write
from core.formats.musicxml_same import canonical, same_meaning
from core.model import walk
from core.model.roadmap import played
from core.model.validate import problems
from tests import strategies
from tests.bench.music import demo
from tests.build import lesson
from tests.core.formats.xsd import errors

QUICK = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@QUICK
@given(strategies.lessons())
def test_a_lesson_comes_back_as_it_went(drawn):
    data = musicxml_write.write(drawn)
    assert errors(data) == []
    back = musicxml_read.read(data, "x.musicxml")
    assert canonical(back.lesson) == canonical(drawn)
    assert problems(back.lesson) == []


def test_the_same_lesson_makes_the_same_bytes():
    piece = lesson(["C5:quarter E5:half. | A2:whole"], ["D5:whole"])
    assert musicxml_write.write(piece) == musicxml_write.write(piece)


def test_meaning_is_more_than_nothing():
    assert not same_meaning(lesson(["C5:whole"]), lesson(["D5:whole"]))
    assert not same_meaning(lesson(["C5s1f8:whole"]), lesson(["C5s2f13:whole"]))
    assert same_meaning(lesson(["C5s1f8:whole"]), lesson(["C5s1f8:whole"]))


def test_the_demo_comes_back_as_it_went():
    piece = demo()
    back = musicxml_read.read(musicxml_write.write(piece), "demo.musicxml")
    assert canonical(back.lesson) == canonical(piece)
    assert back.report.findings == ()


def stripped(data: bytes) -> bytes:
    """The file as another program would keep it: none of our own elements, nor our name."""
    root = etree.fromstring(data)
    for element in list(root.iter("other-notation", "other-direction", "software")):
        parent = element.getparent()
        parent.remove(element)
        if parent.tag == "direction-type" and len(parent) == 0:
            direction = parent.getparent()
            direction.remove(parent)
            if direction.find("direction-type") is None:
                direction.getparent().remove(direction)
    return etree.tostring(root)


def standard_side(piece):
    """What the standard's own elements say: notes with labels, form, played order."""
    places = {m.id: i for i, m in enumerate(walk.measures(piece.arrangement))}
    rows = [
        (i, at.voice, at.onset, at.event.value, note.pitch, note.tied, note.place and
         note.place.value, note.finger and note.finger.value, note.plucking and
         note.plucking.value, note.let_ring)
        for i, measure in enumerate(walk.measures(piece.arrangement))
        for at, note in walk.notes(measure)
    ]  # fmt: skip
    return rows, [places[o.measure.id] for o in played(piece.arrangement)]


def test_what_the_standard_says_stands_without_our_own_elements():
    piece = demo()
    back = musicxml_read.read(stripped(musicxml_write.write(piece)), "demo.musicxml")
    assert standard_side(back.lesson) == standard_side(piece)
    letters = [section.letter for section in back.lesson.arrangement.sections]
    assert letters == [section.letter for section in piece.arrangement.sections]
