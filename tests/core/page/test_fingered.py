"""Under a capo the staff shows what is fingered."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.display.items import Glyph, Text
from core.formats import musicxml_read, musicxml_write
from core.formats.musicxml_same import same_meaning
from core.model import Instrument, Key, Lesson, Pitch, walk
from core.page.engrave import Cache, engrave
from core.page.fingered import Kept, shift_for
from core.page.staff import position, y_of
from core.page.style import PageStyle
from tests import build
from tests.core.page.cases import raised
from tests.core.page.kit import NAMES, items, metrics
from tests.strategies import keys, lessons, pitches

TUNE = ["A3s3f2:quarter G#3s3f1:quarter E4s1f0+C4s2f1:half | A2s5f0:half E2s6f0:half"]


@pytest.mark.parametrize(
    ("capo", "sounds", "fingered"),
    [
        (2, "B minor", "A minor"), (2, "D major", "C major"), (3, "Eb major", "C major"),
        (1, "F minor", "E minor"), (4, "E major", "C major"), (5, "A major", "E major"),
        (7, "G major", "C major"), (1, "G# minor", "G minor"),
    ],
)  # fmt: skip
def test_the_key_as_fingered(capo: int, sounds: str, fingered: str) -> None:
    """Common practice, no source: open chords of the fingered key sound in the key above it."""
    key = Key.parse(sounds)
    assert str(shift_for(capo, [key]).key(key)) == fingered


@given(st.integers(0, 12), keys, pitches)
def test_there_and_back(capo: int, key: Key, pitch: Pitch) -> None:
    shift = shift_for(capo, [key])
    shown = shift.pitch(pitch, key)
    assert shown.midi + capo == pitch.midi
    assert shift.sounding(shown, key).midi == pitch.midi
    if abs(pitch.alter) <= 1 and pitch.alter == key.alter_of(pitch.step):
        assert shown.alter == shift.key(key).alter_of(shown.step)  # of the key: no accidental
        assert shift.sounding(shown, key) == pitch


def test_the_page_is_that_of_the_plain_guitar() -> None:
    """A piece under a capo looks like the same hands without one, but for the capo line."""
    plain = build.lesson(TUNE, key="A minor")
    high = raised(plain, 2)
    style = PageStyle(footer=False)
    a, b = (engrave(lesson, style, metrics()) for lesson in (plain, high))
    assert [s.body.items for s in a.systems] == [s.body.items for s in b.systems]
    lines = [i.text for block in b.sheets[0].blocks for i in block.items if isinstance(i, Text)]
    assert "Capo 2 (sounds in B minor)" in lines


def test_what_sounds_is_drawn_on_request() -> None:
    high = raised(build.lesson(TUNE, key="A minor"), 2)
    layout = engrave(high, PageStyle(sounding=True), metrics())
    first = next(walk.measures(high.arrangement)).voices[0][0].notes[0]
    head = next(i for _, i in items(layout) if i.source == first.id and isinstance(i, Glyph)
                and NAMES[i.code].startswith("notehead"))  # fmt: skip
    assert first.pitch == Pitch.parse("B3")
    assert head.y == y_of(position(first.pitch))


def test_a_tie_keeps_its_spelling_over_an_enharmonic_change() -> None:
    lesson = build.lesson(["E4s1f0:whole~", "E4s1f0:whole"])
    first, second = (m.id for m in walk.measures(lesson.arrangement))
    wanted = {first: Key.parse("E major"), second: Key.parse("D minor")}
    arrangement = lesson.arrangement
    section = arrangement.sections[0]
    measures = tuple(structs.replace(m, key=wanted[m.id]) for m in section.measures)
    arrangement = structs.replace(
        arrangement, sections=(structs.replace(section, measures=measures),),
        instrument=Instrument(capo=1),
    )  # fmt: skip
    shown = Kept().lesson(structs.replace(lesson, arrangement=arrangement))
    before, after = (m.voices[0][0].notes[0].pitch for m in walk.measures(shown.arrangement))
    assert before == after


@settings(max_examples=20, deadline=None, derandomize=True, database=None)
@given(lessons(instrument=Instrument(capo=3)))
def test_what_did_not_change_stays_the_same_object(lesson: Lesson) -> None:
    kept = Kept()
    once, twice = kept.lesson(lesson), kept.lesson(lesson)
    for a, b in zip(once.arrangement.sections, twice.arrangement.sections, strict=True):
        assert a is b
    cache = Cache()
    engrave(lesson, PageStyle(), metrics(), cache)
    warm = engrave(lesson, PageStyle(), metrics(), cache)
    assert warm.sheets == engrave(lesson, PageStyle(), metrics()).sheets


def test_musicxml_keeps_what_sounds() -> None:
    high = raised(build.lesson(TUNE, key="A minor"), 2)
    back = musicxml_read.read(musicxml_write.write(high), "capo.musicxml").lesson
    assert same_meaning(high, back)
    pitches_of = [n.pitch for m in walk.measures(back.arrangement) for _, n in walk.notes(m)]
    assert pitches_of[0] == Pitch.parse("B3")
    assert back.arrangement.instrument.capo == 2
