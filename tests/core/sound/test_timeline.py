"""Strokes and when they fall: the grid, the count-in, loops, the road map, who rings how long."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.model import (
    Articulation,
    BadInput,
    Base,
    Breath,
    Ending,
    Fermata,
    Grace,
    Lesson,
    Sign,
    Span,
    Tempo,
    Value,
)
from core.sound import MeasureRange, OccurrenceRange, OneSection, Plan, timeline
from tests import build
from tests.strategies import lessons

RATE = 48_000
QUARTER = Value(Base.QUARTER)


def paced(lesson: Lesson, per_minute: float, beat: Value = QUARTER) -> Lesson:
    arrangement = structs.replace(lesson.arrangement, tempo=Tempo(beat, per_minute))
    return structs.replace(lesson, arrangement=arrangement)


def with_spans(lesson: Lesson, *spans: Span) -> Lesson:
    return structs.replace(lesson, arrangement=structs.replace(lesson.arrangement, spans=spans))


def changed(lesson: Lesson, measure: int, index: int, voice: int = 0, **changes) -> Lesson:
    """The lesson with one event of its first section replaced in part."""
    section = lesson.arrangement.sections[0]
    old = section.measures[measure]
    rows = [list(row) for row in old.voices]
    rows[voice][index] = structs.replace(rows[voice][index], **changes)
    return changed_measure(lesson, measure, voices=tuple(map(tuple, rows)))


def changed_measure(lesson: Lesson, measure: int, section: int = 0, **changes) -> Lesson:
    sections = list(lesson.arrangement.sections)
    measures = list(sections[section].measures)
    measures[measure] = structs.replace(measures[measure], **changes)
    sections[section] = structs.replace(sections[section], measures=tuple(measures))
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=tuple(sections))
    )


def seconds(samples) -> list[float]:
    return [round(s / RATE, 4) for s in samples]


def stroke_of(line, midi, nth=0):
    return [s for s in line.strokes if s.midi == midi][nth]


# ---------------------------------------------------------------- time


# 60 / bpm seconds a beat: 16 measures of 3/4 at 60 last 48 s, 32 at 72 last 80 s, 8 measures of
# 6/8 at dotted quarter 50 last 19.2 s (computed from the definition of beats a minute).
@pytest.mark.parametrize(
    ("metre", "count", "beat", "per_minute", "expected"),
    [("3/4", 16, "quarter", 60, 48.0), ("3/4", 32, "quarter", 72, 80.0),
     ("6/8", 8, "quarter.", 50, 19.2)],
)  # fmt: skip
def test_seconds_of_a_piece(metre, count, beat, per_minute, expected):
    lesson = build.lesson(["E4:half."] * count, metre=metre)
    line = timeline(paced(lesson, per_minute, Value.parse(beat)), Plan())
    assert line.seconds == pytest.approx(expected, abs=1e-9)


def test_a_pickup_and_a_short_last_measure_make_whole_beats():
    """A pickup of one beat and a last measure of three in 4/4 last exactly four beats."""
    lesson = build.lesson(["E4:quarter", "G4:half."])
    for n, wholes in ((0, "1/4"), (1, "3/4")):
        lesson = changed_measure(lesson, n, own_length=build_length(wholes), counted=n == 1)
    assert timeline(paced(lesson, 60), Plan()).seconds == 4.0


def build_length(text):
    from core.model import Length

    return Length.parse(text)


def test_the_last_onset_of_four_hundred_measures_stands_on_the_grid():
    """No drift: at 97 a minute in 3/4 the last beat begins at 1199 * 60 / 97 s, to the sample."""
    lesson = paced(build.lesson(["E4:quarter G4:quarter A4:quarter"] * 400, metre="3/4"), 97)
    line = timeline(lesson, Plan())
    assert len(line.strokes) == 1200
    for n in (0, 1, 599, 1198, 1199):
        assert line.strokes[n].on == round(Fraction(n * 60 * RATE, 97))


def test_practice_tempo():
    lesson = paced(build.lesson(["E4:quarter G4:half."]), 80)
    assert seconds(s.on for s in timeline(lesson, Plan(percent=50)).strokes) == [0, 1.5]
    assert seconds(s.on for s in timeline(lesson, Plan(per_minute=60)).strokes) == [0, 1.0]
    for wrong in ({"percent": 4}, {"per_minute": 601}, {"count_in": 3}, {"passes": 0},
                  {"melody": 3}):  # fmt: skip
        with pytest.raises(BadInput):
            Plan(**wrong)


# ---------------------------------------------------------------- count-in and click


def test_the_count_in_is_exact():
    lesson = paced(build.lesson(["E4:quarter G4:half"], metre="3/4"), 90)
    line = timeline(lesson, Plan(count_in=2))
    assert seconds(c.on for c in line.clicks) == [round(n * 60 / 90, 4) for n in range(6)]
    assert [c.rank for c in line.clicks] == [0, 1, 1] * 2
    assert line.music_start == line.strokes[0].on == 4 * RATE
    assert line.counting_in(4 * RATE - 1)
    assert not line.counting_in(4 * RATE)


def test_a_count_in_leads_into_a_pickup():
    """One beat of pickup in 3/4: a whole measure and the two beats before it are counted."""
    lesson = build.lesson(["E4:quarter", "G4:half."], metre="3/4")
    lesson = changed_measure(lesson, 0, own_length=build_length("1/4"), counted=False)
    line = timeline(paced(lesson, 120), Plan(count_in=1, click=True))
    assert seconds(s.on for s in line.strokes) == [2.5, 3.0]
    assert [c.rank for c in line.clicks] == [0, 1, 1, 0, 1, 1, 0, 1, 1]


def test_compound_metres_click_the_felt_beat_and_slow_ones_between():
    lesson = build.lesson(["E4:half."], metre="6/8")
    quick = timeline(paced(lesson, 72, Value.parse("quarter.")), Plan(click=True))
    assert [c.rank for c in quick.clicks] == [0, 1]
    slow = timeline(paced(lesson, 50, Value.parse("quarter.")), Plan(click=True))
    assert [c.rank for c in slow.clicks] == [0, 2, 2, 1, 2, 2]
    assert seconds(c.on for c in slow.clicks) == [0, 0.4, 0.8, 1.2, 1.6, 2.0]


def test_loops_are_seamless_and_may_count_in_again():
    lesson = paced(build.lesson(["E4:whole"]), 60)
    line = timeline(lesson, Plan(passes=3))
    assert seconds(s.on for s in line.strokes) == [0, 4, 8]
    again = timeline(lesson, Plan(passes=2, count_in=1, count_in_each_pass=True))
    assert seconds(s.on for s in again.strokes) == [4, 12]
    assert again.at(10 * RATE)[1:] == (again.positions[1].measure, 0)  # counting in again


# ---------------------------------------------------------------- order


def heard(line) -> list[int]:
    return [s.midi for s in line.strokes]


def test_repeats_endings_and_dc_al_fine_are_played_in_order():
    """A A' with two endings, then B, then D.C. al Fine: each section once, with its last ending."""
    lesson = build.lesson(["C4:whole", "D4:whole", "E4:whole"], ["F4:whole"])
    first, second = lesson.arrangement.sections
    ids = [m.id for m in first.measures]
    first = structs.replace(
        first, times=2, endings=(Ending((1,), ids[1], ids[1]), Ending((2,), ids[2], ids[2]))
    )
    sections = (first, second)
    lesson = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=sections)
    )
    assert heard(timeline(lesson, Plan())) == [60, 62, 60, 64, 65]
    lesson = changed_measure(lesson, 0, 1, signs=(Sign("dc al fine"),))
    lesson = changed_measure(lesson, 2, 0, signs=(Sign("fine"),))
    line = timeline(lesson, Plan())
    assert heard(line) == [60, 62, 60, 64, 65, 60, 64]
    assert [p.occurrence for p in line.positions] == list(range(7))
    one = timeline(lesson, Plan(OneSection(first.id)))
    assert heard(one) == [60, 62, 60, 64]
    assert heard(timeline(lesson, Plan(OneSection(first.id, repeats=False)))) == [60, 64]
    assert heard(timeline(lesson, Plan(MeasureRange(ids[0], ids[1])))) == [60, 62]
    assert heard(timeline(lesson, Plan(MeasureRange(ids[2], ids[2])))) == [64]
    assert heard(timeline(lesson, Plan(OccurrenceRange(3, 5)))) == [64, 65, 60]
    for what in (OneSection(999), MeasureRange(999, ids[0]), OccurrenceRange(90, 99)):
        with pytest.raises(BadInput):
            timeline(lesson, Plan(what))


def test_ds_al_coda():
    lesson = build.lesson(["C4:whole", "D4:whole", "E4:whole", "F4:whole"])
    lesson = changed_measure(lesson, 1, signs=(Sign("segno"), Sign("to coda")))
    lesson = changed_measure(lesson, 2, signs=(Sign("ds al coda"),))
    lesson = changed_measure(lesson, 3, signs=(Sign("coda"),))
    assert heard(timeline(lesson, Plan())) == [60, 62, 64, 62, 65]


# ---------------------------------------------------------------- fermatas and tempo


def test_a_fermata_holds_and_a_loop_does_not_wait():
    lesson = paced(build.lesson(["E4:quarter G4:quarter A4:half"]), 60)
    lesson = changed(lesson, 0, 1, marks=(Fermata(hold_percent=250),))
    line = timeline(lesson, Plan())
    assert seconds(s.on for s in line.strokes) == [0, 1, 3.5]
    assert line.seconds == 5.5
    loop = timeline(lesson, Plan(passes=2))
    assert seconds(s.on for s in loop.strokes) == [0, 1, 2, 4, 5, 6]
    assert timeline(lesson, Plan(passes=2, fermatas=True)).seconds == 11.0


def test_what_moves_under_a_fermata_goes_on_in_time():
    """A held bass half under two quarters: the pause comes on the last of them."""
    lesson = paced(build.lesson(["E4:quarter G4:quarter A4:half | C3:half D3:half"]), 60)
    lesson = changed(lesson, 0, 0, voice=1, marks=(Fermata(hold_percent=200),))
    assert seconds(s.on for s in timeline(lesson, Plan()).strokes) == [0, 0, 1, 4, 4]


def test_a_fermata_for_the_last_time_only():
    lesson = paced(build.lesson(["E4:half G4:half"]), 60)
    [section] = lesson.arrangement.sections
    lesson = structs.replace(
        lesson,
        arrangement=structs.replace(
            lesson.arrangement, sections=(structs.replace(section, times=2),)
        ),
    )
    lesson = changed(lesson, 0, 1, marks=(Fermata(last_time_only=True),))
    assert timeline(lesson, Plan()).seconds == 4 + 6


def test_a_caesura_waits_half_a_beat():
    lesson = paced(build.lesson(["E4:half G4:half"]), 60)
    lesson = changed(lesson, 0, 0, marks=(Breath("caesura"),))
    assert seconds(s.on for s in timeline(lesson, Plan()).strokes) == [0, 2.5]


# ---------------------------------------------------------------- strings


def test_a_new_note_on_a_string_chokes_the_old_one():
    line = timeline(build.lesson(["E4s1f0:quarter G4s1f3:quarter B3s2f0:half"]), Plan())
    first, second, _ = line.strokes
    assert first.off == second.on
    assert first.end - first.off <= 0.010 * RATE


def test_open_strings_ring_on_and_fretted_notes_stop():
    lesson = paced(build.lesson(["E4s1f0:quarter C4s2f1:quarter D4s2f3:half"]), 60)
    line = timeline(lesson, Plan())
    assert stroke_of(line, 64).off > 2.3 * RATE  # nobody struck it again: all of its decay
    assert seconds([stroke_of(line, 60).off]) == [2.0]


def test_a_lifted_finger_ends_its_note():
    """Finger 1 holds s2f1 in the bass voice's half note, then is needed on s1f2."""
    lesson = build.lesson(["r:quarter F#4s1f2!1:quarter r:half | C4s2f1!1:half r:half"])
    line = timeline(paced(lesson, 60), Plan())
    assert seconds([stroke_of(line, 60).off]) == [1.0]
    other = build.lesson(["r:quarter F#4s1f2!2:quarter r:half | C4s2f1!1:half r:half"])
    assert seconds([stroke_of(timeline(paced(other, 60), Plan()), 60).off]) == [2.0]


def test_let_ring_goes_on_until_its_string_is_struck_again():
    lesson = paced(build.lesson(["C4s2f1:quarter E4s1f0:quarter D4s2f3:half"]), 60)
    [section] = lesson.arrangement.sections
    events = section.measures[0].voices[0]
    ringing = with_spans(lesson, Span(90, "let ring", events[0].id, events[1].id))
    assert seconds([stroke_of(timeline(ringing, Plan()), 60).off]) == [2.0]
    assert seconds([stroke_of(timeline(lesson, Plan()), 60).off]) == [1.0]


def test_damping_and_general_rests_stop_open_strings():
    plain = paced(build.lesson(["E4s1f0:quarter C4s2f1:quarter D4s2f3:half"]), 60)
    damped = changed(plain, 0, 1, marks=(Articulation("damp"),))
    assert seconds([stroke_of(timeline(damped, Plan()), 64).off]) == [2.0]
    rested = paced(build.lesson(["E4s1f0:quarter r:quarter D4s2f3:half"]), 60)
    assert seconds([stroke_of(timeline(rested, Plan()), 64).off]) == [1.0]
    hidden = changed(rested, 0, 1, hidden=True)
    assert stroke_of(timeline(hidden, Plan()), 64).off > 2.3 * RATE
    held = paced(build.lesson(["E4s1f0:quarter r:quarter D4s2f3:half | A2s5f0:whole"]), 60)
    assert stroke_of(timeline(held, Plan()), 64).off > 2.3 * RATE


def test_staccato_halves_a_note_even_on_an_open_string():
    lesson = changed(
        paced(build.lesson(["E4s1f0:half G4:half"]), 60), 0, 0, marks=(Articulation("staccato"),)
    )
    assert seconds([timeline(lesson, Plan()).strokes[0].off]) == [1.0]


def test_two_voices_on_one_string_are_one_stroke():
    lesson = paced(build.lesson(["A3s3f2:quarter B3s2f0:half. | A3s3f2:half E3s4f2:half"]), 60)
    line = timeline(lesson, Plan())
    assert heard(line).count(57) == 1
    assert seconds([stroke_of(line, 57).off]) == [2.0]  # the longer of the two
    only = timeline(lesson, Plan(bass=0))
    assert heard(only) == [57, 59]
    assert [s.voice for s in timeline(lesson, Plan(melody=0)).strokes] == [1, 1]


def test_tied_notes_are_struck_once():
    line = timeline(paced(build.lesson(["C4s2f1:half C4s2f1:half~", "C4s2f1:whole"]), 240), Plan())
    assert seconds(s.on for s in line.strokes) == [0, 0.5]
    assert seconds([line.strokes[1].off]) == [2.0]


def test_graces_come_before_the_beat_slashed_and_on_it_plain():
    lesson = paced(build.lesson(["E4:half D4:32nd C4:half"]), 60)
    slashed = timeline(changed(lesson, 0, 1, grace=Grace(True)), Plan())
    assert seconds(s.on for s in slashed.strokes) == [0, 1.875, 2.0]
    plain = timeline(changed(lesson, 0, 1, grace=Grace(False)), Plan())
    assert seconds(s.on for s in plain.strokes) == [0, 2.0, 2.125]


# ---------------------------------------------------------------- the playhead


def test_the_playhead_knows_measure_tick_and_occurrence():
    lesson = paced(build.lesson(["E4:whole", "G4:whole"]), 60)
    first, second = (m.id for m in lesson.arrangement.sections[0].measures)
    line = timeline(lesson, Plan(count_in=1))
    quarter = Value.parse("quarter").ticks
    assert line.at(0) == (0, first, 0)
    assert line.at(4 * RATE) == (0, first, 0)
    assert line.at(7 * RATE) == (0, first, 3 * quarter)
    assert line.at(8 * RATE) == (1, second, 0)
    assert line.at(99 * RATE) == (1, second, 4 * quarter)
    assert line.sample_of(1) == 8 * RATE
    half = timeline(lesson, Plan(percent=50))
    assert half.sample_at(line, 7 * RATE) == 6 * RATE
    assert half.at(half.sample_at(line, 9 * RATE)) == line.at(9 * RATE)


@settings(max_examples=25, deadline=None)
@given(lessons(), st.booleans())
def test_any_lesson_can_be_heard(lesson, click):
    """Whatever the model can hold: strokes in order, inside the timeline, strings true."""
    line = timeline(lesson, Plan(click=click, count_in=1), 8000)
    assert [s.on for s in line.strokes] == sorted(s.on for s in line.strokes)
    last: dict[int, int] = {}
    for stroke in line.strokes:
        assert 0 <= stroke.on < stroke.off <= stroke.end <= line.total
        if stroke.string:
            assert last.get(stroke.string, 0) <= stroke.on + 8000 * 0.01 + 1
            last[stroke.string] = stroke.end
    for sample in range(0, line.total, max(1, line.total // 50)):
        occurrence, measure, tick = line.at(sample)
        here = next(p for p in line.positions if p.measure == measure)
        assert 0 <= tick <= here.length
        assert occurrence >= 0
