"""The piece in played order and in seconds."""

from __future__ import annotations

import pytest
from msgspec import structs

from app.panels.course import cells, duration_words, stretches, tempo_words
from core.model import Base, Tempo, TempoMark, Value
from core.model.roadmap import played
from tests import build


def twice(lesson):
    sections = (structs.replace(lesson.arrangement.sections[0], times=2, title="verse"),)
    return structs.replace(lesson.arrangement, sections=sections)


def test_blocks_follow_the_played_order_and_the_tempo():
    """At 60 quarters a minute a measure of 4/4 lasts 4 s."""
    arrangement = twice(build.lesson(["C4:whole", "C4:half D4:half"]))
    blocks = stretches(arrangement, played(arrangement))
    assert [b.title for b in blocks] == ["A verse, first time", "A verse, second time"]
    assert [(b.start, b.end) for b in blocks] == [(0.0, 8.0), (8.0, 16.0)]
    assert [c.notes_per_second for c in blocks[0].cells] == [0.25, 0.5]


def test_a_dotted_quarter_beat():
    """6/8 at 54 dotted quarters a minute: two beats last 2 * 60/54 s."""
    lesson = build.lesson(["C4:half."], metre="6/8")
    tempo = Tempo(Value(Base.QUARTER, 1), 54.0)
    arrangement = structs.replace(lesson.arrangement, tempo=tempo)
    only = next(cells(arrangement, played(arrangement)))
    assert only.seconds == pytest.approx(120 / 54)
    assert tempo_words(arrangement) == "54 dotted quarters a minute"


def test_a_metronome_mark_holds_from_its_measure_on():
    lesson = build.lesson(["C4:whole", "C4:whole", "C4:whole"])
    section = lesson.arrangement.sections[0]
    marked = structs.replace(
        section.measures[1], marks=(TempoMark(beat=Value(Base.HALF), per_minute=60.0),)
    )
    section = structs.replace(section, measures=(section.measures[0], marked, section.measures[2]))
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    assert [c.seconds for c in cells(arrangement, played(arrangement))] == [4.0, 2.0, 2.0]


def test_the_sum_is_the_sound_rooms_sum():
    """The strip and the timeline agree on the length of the demo in strict time."""
    from app.reading import read
    from core.sound.timeline import Plan, timeline
    from resources import path

    lesson = read(path("demo", "rowing-home.footstool")).lesson
    order = played(lesson.arrangement)
    total = sum(c.seconds for c in cells(lesson.arrangement, order))
    heard = timeline(lesson, Plan(fermatas=False, slowing=False)).seconds
    assert total == pytest.approx(heard, rel=1e-3)


@pytest.mark.parametrize(
    ("seconds", "words"), [(7.6, "8 s"), (72, "1 min 12 s"), (3720, "1 h 2 min")]
)
def test_durations(seconds, words):
    assert duration_words(seconds) == words
