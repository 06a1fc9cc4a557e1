"""Our lesson -> MusicXML -> our lesson is identity by meaning, and every file validates."""

from hypothesis import HealthCheck, given, settings

from core.formats import musicxml_read, musicxml_write
from core.formats.musicxml_same import canonical, same_meaning
from core.model.validate import problems
from tests import strategies
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
