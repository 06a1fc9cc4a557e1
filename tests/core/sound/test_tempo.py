"""The tempo map: marks, rit., a tempo, lines; seconds and ticks are each other's inverse."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from core.model import TICKS_PER_QUARTER, Base, Length, Lesson, Span, Tempo, TempoMark, Value
from core.sound import Plan, timeline
from core.sound.tempo import tempo_map, written_paces
from tests import build

Q = TICKS_PER_QUARTER
QUARTER = Value(Base.QUARTER)


def marked(lesson: Lesson, **marks: TempoMark) -> Lesson:
    """The lesson at quarter = 60 with tempo marks in measures ``m0``, ``m1``, ..."""
    [section] = lesson.arrangement.sections
    measures = tuple(
        structs.replace(m, marks=(marks[f"m{n}"],) if f"m{n}" in marks else ())
        for n, m in enumerate(section.measures)
    )
    return structs.replace(
        lesson,
        arrangement=structs.replace(
            lesson.arrangement,
            sections=(structs.replace(section, measures=measures),),
            tempo=Tempo(QUARTER, 60),
        ),
    )


FOUR = build.lesson(["E4:half G4:half"] * 4)


def length(lesson: Lesson, **plan) -> float:
    return timeline(lesson, Plan(**plan)).seconds


def test_a_metronome_mark_holds_until_the_next():
    lesson = marked(
        FOUR,
        m1=TempoMark(Length.parse("1/2"), beat=QUARTER, per_minute=120),
        m3=TempoMark(beat=Value(Base.HALF), per_minute=60),
    )
    assert length(lesson) == 4 + (2 + 1) + 2 + 2
    assert length(lesson, percent=50) == 2 * 11


def test_a_rit_slows_to_its_end_and_a_tempo_takes_it_back():
    """v(x) = [1 + (w^q - 1) x]^(1/q), q = 3 (Friberg & Sundberg, JASA 105:1469, 1999; formula from
    memory): the speed falls all the way and more quickly at the end; two measures are slowed."""
    lesson = marked(
        FOUR, m1=TempoMark(text="rit.", effect="slower"), m3=TempoMark(effect="a tempo")
    )
    paces = written_paces(lesson.arrangement)
    first, second, third, fourth = (
        [p.speed / Q for p in paces[m.id]] for m in lesson.arrangement.sections[0].measures
    )
    assert first == [1]
    assert fourth == [1]
    slowing = [*second, *third]
    assert slowing == sorted(slowing, reverse=True)
    assert len(slowing) == 32  # two measures in sixteenths
    assert slowing[0] > Fraction(98, 100)
    assert 0.6 <= slowing[-1] < 0.63
    for x, v in ((0.25, 0.937), (0.5, 0.8472), (0.75, 0.7420)):
        expected = (1 + (0.6**3 - 1) * x) ** (1 / 3)
        near = slowing[round(32 * x) - 1 : round(32 * x) + 1]
        assert float(min(near)) <= expected <= float(max(near))
        assert expected == pytest.approx(v, abs=0.03)
    assert length(lesson) > 16
    assert length(lesson, passes=2) == 32.0  # loops keep the beat
    assert length(lesson, slowing=False) == 16.0


def test_a_line_slows_just_as_far_as_it_reaches():
    lesson = marked(FOUR)
    events = [e.id for m in lesson.arrangement.sections[0].measures for e in m.voices[0]]
    for text, quicker in (("rit.", False), ("accel.", True)):
        arrangement = structs.replace(
            lesson.arrangement, spans=(Span(80, "tempo", events[2], events[2], text=text),)
        )
        table = written_paces(arrangement)
        paces = table[arrangement.sections[0].measures[1].id]
        assert paces[0].at == 0
        assert max(p.at for p in paces) < 2 * Q
        assert (paces[-1].speed > Q) is quicker


@given(
    st.lists(st.tuples(st.integers(1, 10**9), st.integers(10**6, 10**9)), min_size=1, max_size=12),
    st.integers(0, 10**10),
)
def test_seconds_and_ticks_are_inverse(rows, tick):
    steps, at = [], 0
    for gap, speed in rows:
        steps.append((at, Fraction(speed)))
        at += gap
    found = tempo_map(steps)
    assert found.tick(found.second(tick)) == tick
    assert found.second(tick + 1) > found.second(tick)
