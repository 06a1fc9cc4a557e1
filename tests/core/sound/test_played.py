"""When strokes begin and end: exact onsets, string-true ring, ties, graces, pauses."""

from __future__ import annotations

from fractions import Fraction
from itertools import count, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from msgspec import structs

from core.model import (
    TICKS_PER_QUARTER,
    Arpeggio,
    Articulation,
    BadInput,
    Breath,
    Dynamic,
    Ending,
    Fermata,
    Grace,
    Instrument,
    Length,
    Lesson,
    OtherVersion,
    Sign,
    Span,
    TempoMark,
    Value,
)
from core.sound import MeasureRange, OccurrenceRange, OneSection, Plan, timeline
from core.sound.performance import perform
from core.sound.ring import DAMP_SECONDS
from core.sound.timeline import Stroke
from tests import build, strategies
from tests.core.sound import lessons

RATE = 48_000
SECOND = RATE  # a quarter at the built lesson's 60 a minute


def strokes(lesson: Lesson, **plan: object) -> tuple[Stroke, ...]:
    return timeline(lesson, Plan(**plan), RATE).strokes


def onsets(lesson: Lesson, **plan: object) -> list[float]:
    return [s.on / RATE for s in strokes(lesson, **plan)]


@pytest.mark.parametrize(
    ("metre", "tune", "count", "beat", "per_minute", "seconds"),
    [
        ("3/4", "C4:half.", 16, "quarter", 60, 48.0),
        ("3/4", "C4:half.", 32, "quarter", 72, 80.0),
        ("6/8", "C4:half.", 8, "quarter.", 50, 19.2),
    ],
)
def test_seconds_of_a_piece(
    metre: str, tune: str, count: int, beat: str, per_minute: float, seconds: float
) -> None:
    """Beat = 60 / bpm seconds; the pieces of check-values 10."""
    piece = lessons.at_tempo(build.lesson([tune] * count, metre=metre), beat, per_minute)
    assert timeline(piece, Plan()).seconds == pytest.approx(seconds, abs=1e-4)


def test_a_pickup_and_its_last_measure_make_one_measure() -> None:
    """Pickup of 1 and last measure of 3 in 4/4: exactly 4 beats (check-values 10)."""
    tune = build.lesson(["C4:quarter", "C4:half."])
    tune = lessons.with_measure(tune, 0, own_length=Length(TICKS_PER_QUARTER), counted=False)
    tune = lessons.with_measure(tune, 1, own_length=Length(3 * TICKS_PER_QUARTER))
    assert timeline(tune, Plan()).seconds == 4.0


def test_the_last_note_of_400_measures_is_on_its_grid() -> None:
    """At 67 a minute an eighth is no whole number of samples; no error may add up."""
    tune = build.lesson(["C4:eighth D4:eighth E4:quarter F4:eighth@3:2 G4:eighth@3:2 A4:eighth@3:2 "
                         "C4:quarter"] * 400)  # fmt: skip
    tune = lessons.at_tempo(tune, "quarter", 67)
    found = strokes(tune)
    last_beat = Fraction(399 * 4 + 3)
    assert found[-1].on == round(last_beat * 60 / 67 * RATE)
    triplet = Fraction(399 * 4) + 2 + Fraction(2, 3)
    assert found[-2].on == round(triplet * 60 / 67 * RATE)


def test_a_fretted_note_stops_at_its_end_and_an_open_string_rings_on() -> None:
    fretted, open_ = strokes(build.lesson(["C4s2f1:quarter E4s1f0:quarter r:half"], key="C major"))
    assert (fretted.on, fretted.off) == (0, SECOND)
    assert open_.on == SECOND
    assert open_.off == 2 * SECOND  # the general rest damps it
    rings = strokes(build.lesson(["E4s1f0:quarter C4s2f1:half."]))[0]
    assert rings.off > 2 * SECOND


def test_a_new_note_on_a_string_chokes_the_old_one() -> None:
    """The written whole is cut where its string is needed."""
    bass = strokes(build.lesson(["r:half G3s4f5:half | D3s4f0:whole"]))[0]
    assert bass.off == 2 * SECOND
    assert bass.end - bass.off < 0.01 * RATE


def test_a_finger_that_must_move_ends_its_note() -> None:
    tune = build.lesson(["r:half D4s2f3!3:half | C3s5f3!3:whole"])
    assert strokes(tune)[0].off == 4 * SECOND  # the same fret: the finger may lie across
    tune = build.lesson(["r:half C#4s2f2!3:half | C3s5f3!3:whole"])
    assert strokes(tune)[0].off == 2 * SECOND


def test_two_voices_on_one_string_at_one_onset_are_one_stroke() -> None:
    found = strokes(build.lesson(["C4s2f1:quarter D4s2f3:half. | C4s2f1:half r:half"]))
    assert len(found) == 2
    assert found[0].off == SECOND  # then the string is struck again


def test_ties_are_joined_over_the_bar() -> None:
    found = strokes(build.lesson(["r:half. C4s2f1:quarter~", "C4s2f1:half r:half"]), percent=200)
    assert [(s.on, s.off) for s in found] == [(3 * SECOND // 2, 6 * SECOND // 2)]


def test_staccato_halves_a_note_even_on_an_open_string() -> None:
    tune = build.lesson(["E4s1f0:quarter C4s2f1:half."])
    tune = lessons.with_event(tune, 0, 0, marks=(Articulation("staccato"),))
    assert strokes(tune)[0].off == SECOND // 2


def test_let_ring_holds_a_fretted_note() -> None:
    tune = build.lesson(["C4s2f1:quarter E4s1f0:half."])
    assert strokes(lessons.with_note(tune, 0, 0, let_ring=True))[0].off > 2 * SECOND
    a, b = lessons.event(tune, 0, 0).id, lessons.event(tune, 0, 1).id
    spanned = lessons.with_spans(tune, Span(99, "let ring", a, b))
    assert strokes(spanned)[0].off > 2 * SECOND


def test_a_damp_mark_stops_what_rings() -> None:
    tune = build.lesson(["E4s1f0:quarter C4s2f1:quarter D4s2f3:half"])
    damped = lessons.with_event(tune, 0, 1, marks=(Articulation("damp"),))
    ringing = strokes(damped)[0]
    assert ringing.off == 2 * SECOND
    assert ringing.end - ringing.off == round(DAMP_SECONDS * RATE)


def test_a_slashed_grace_comes_before_the_beat_and_a_plain_one_on_it() -> None:
    tune = build.lesson(["C4:half B3:eighth D4:half"])
    slashed = lessons.with_event(tune, 0, 1, grace=Grace())
    assert onsets(slashed) == [0.0, 2 - 1 / 8, 2.0]
    plain = lessons.with_event(tune, 0, 1, grace=Grace(slashed=False))
    assert onsets(plain) == [0.0, 2.0, 2.5]


def test_a_grace_before_the_first_note_is_heard_whole() -> None:
    tune = lessons.with_event(build.lesson(["B3:eighth C4:whole"]), 0, 0, grace=Grace())
    assert onsets(tune) == [0.0, 0.125]


def test_a_broken_chord_goes_from_bass_to_top() -> None:
    chord = build.lesson(["C3s5f3+E3s4f2+G3s3f0+C4s2f1:whole"])
    up = strokes(lessons.with_event(chord, 0, 0, marks=(Arpeggio(),)))
    assert [s.string for s in up] == [5, 4, 3, 2]
    assert up[0].on == 0
    gaps = {b.on - a.on for a, b in pairwise(up)}
    assert len(gaps) == 1
    assert 0.01 * RATE < gaps.pop() < 0.06 * RATE
    down = strokes(lessons.with_event(chord, 0, 0, marks=(Arpeggio("down"),)))
    assert [s.string for s in down] == [2, 3, 4, 5]


def test_a_fermata_waits_once_and_never_in_a_loop_unless_asked() -> None:
    tune = build.lesson(["C4:half D4:half", "E4:whole"])
    tune = lessons.with_event(tune, 0, 1, marks=(Fermata(hold_percent=200),))
    assert onsets(tune) == [0.0, 2.0, 6.0]
    assert timeline(tune, Plan(passes=2)).seconds == 16.0
    assert timeline(tune, Plan(passes=2, fermatas=True)).seconds == 20.0
    assert timeline(tune, Plan(fermatas=False)).seconds == 8.0


def test_what_is_written_under_a_fermata_is_played_in_time() -> None:
    tune = build.lesson(["C4:whole | C3:quarter D3:quarter E3:half", "C4:whole"])
    tune = lessons.with_event(tune, 0, 0, marks=(Fermata(hold_percent=150),))
    assert sorted(set(onsets(tune))) == [0.0, 1.0, 2.0, 6.0]


def test_a_last_time_only_fermata_waits_the_last_time() -> None:
    tune = lessons.with_section(build.lesson(["C4:whole"]), times=3)
    mark = Fermata(hold_percent=200, last_time_only=True)
    assert timeline(lessons.with_event(tune, 0, 0, marks=(mark,)), Plan()).seconds == 16.0


def test_a_caesura_waits_half_a_beat_and_a_comma_does_not() -> None:
    tune = build.lesson(["C4:half D4:half"])
    comma = lessons.with_event(tune, 0, 0, marks=(Breath("comma"),))
    assert onsets(comma) == [0.0, 2.0]
    assert strokes(comma)[0].off < 2 * SECOND
    caesura = lessons.with_event(tune, 0, 0, marks=(Breath("caesura"),))
    assert onsets(caesura) == [0.0, 2.5]


def test_a_tempo_mark_and_a_tempo() -> None:
    tune = build.lesson(["C4:whole"] * 3)
    quick = TempoMark(beat=Value.parse("half"), per_minute=60)
    tune = lessons.with_measure(tune, 1, marks=(quick,))
    assert onsets(tune) == [0.0, 4.0, 6.0]
    assert timeline(tune, Plan(percent=50)).seconds == 16.0
    assert timeline(tune, Plan(per_minute=120)).seconds == 4.0


def test_a_rit_slows_to_its_end_and_a_tempo_restores() -> None:
    """v(x) = [1 + (w^3 - 1) x]^(1/3) with w = .6 (Friberg & Sundberg 1999, formula from memory):
    8 beats take the mean of 1/v times 8 seconds: 8 * 3/2 (1 - w^2) / (1 - w^3)."""
    tune = build.lesson(["C4:whole"] * 4)
    tune = lessons.with_measure(tune, 1, marks=(TempoMark(text="rit.", effect="slower"),))
    tune = lessons.with_measure(tune, 3, marks=(TempoMark(text="a tempo", effect="a tempo"),))
    found = onsets(tune)
    assert found[3] - found[1] == pytest.approx(8 * 1.5 * (1 - 0.36) / (1 - 0.216), rel=2e-3)
    assert timeline(tune, Plan()).seconds - found[3] == pytest.approx(4.0, abs=1e-4)
    assert timeline(tune, Plan(slowing=False)).seconds == 16.0


def test_a_rit_line_is_obeyed() -> None:
    tune = build.lesson(["C4:half D4:half", "E4:whole"])
    a, b = lessons.event(tune, 0, 0).id, lessons.event(tune, 0, 1).id
    slow = lessons.with_spans(tune, Span(99, "tempo", a, b, text="rit."))
    quick = lessons.with_spans(tune, Span(99, "tempo", a, b, text="accel."))
    assert onsets(quick)[2] < 4.0 < onsets(slow)[2]


def test_dynamics_and_hairpins_are_heard() -> None:
    tune = build.lesson(["C4:quarter C4:quarter C4:quarter C4:quarter"] * 2)
    soft = lessons.with_event(tune, 0, 0, marks=(Dynamic("p"),))
    loud = lessons.with_event(tune, 0, 0, marks=(Dynamic("f"),))
    assert all(a.gain < b.gain for a, b in zip(strokes(soft), strokes(loud), strict=True))
    a, b = lessons.event(soft, 0, 0).id, lessons.event(soft, 1, 3).id
    swelling = strokes(lessons.with_spans(soft, Span(99, "crescendo", a, b)))
    assert swelling[0].gain < swelling[4].gain  # first beats
    assert swelling[1].gain < swelling[5].gain  # second beats
    accent = lessons.with_event(tune, 0, 1, marks=(Articulation("accent"),))
    assert strokes(accent)[1].gain > strokes(tune)[1].gain


def test_repeats_endings_and_da_capo_are_followed() -> None:
    tune = build.lesson(["C4:whole", "D4:whole", "E4:whole"], ["F4:whole"])
    ids = [m.id for m in lessons.section(tune).measures]
    endings = (Ending((1,), ids[1], ids[1]), Ending((2,), ids[2], ids[2]))
    tune = lessons.with_section(tune, times=2, endings=endings)
    measures = tune.arrangement.sections[1].measures
    jump = structs.replace(measures[0], signs=(Sign("dc"),))
    tune = lessons.with_section(tune, 1, measures=(jump,))
    assert [s.midi for s in strokes(tune)] == [60, 62, 60, 64, 65, 60, 64, 65]
    only = OneSection(lessons.section(tune).id)
    assert [s.midi for s in strokes(tune, what=only)] == [60, 62, 60, 64]
    once = OneSection(lessons.section(tune).id, repeats=False)
    assert [s.midi for s in strokes(tune, what=once)] == [60, 64]
    assert [s.midi for s in strokes(tune, what=MeasureRange(ids[0], ids[2]))] == [60, 64]
    assert [s.midi for s in strokes(tune, what=MeasureRange(ids[1], ids[1]))] == [62]
    assert [s.midi for s in strokes(tune, what=OccurrenceRange(3, 5))] == [64, 65, 60]


def test_a_plan_for_what_is_gone_is_refused() -> None:
    tune = build.lesson(["C4:whole"])
    for what in (OneSection(77), MeasureRange(77, 78), OccurrenceRange(9, 12)):
        with pytest.raises(BadInput):
            timeline(tune, Plan(what))
    with pytest.raises(BadInput):
        Plan(percent=0)
    with pytest.raises(BadInput):
        Plan(count_in=3)


def test_the_count_in_is_exact() -> None:
    tune = lessons.at_tempo(build.lesson(["C4:half."] * 2, metre="3/4"), "quarter", 90)
    line = timeline(tune, Plan(count_in=2), RATE)
    assert [c.on for c in line.clicks] == [round(Fraction(n * 60 * RATE, 90)) for n in range(6)]
    assert [c.rank for c in line.clicks] == [0, 1, 1, 0, 1, 1]
    assert line.strokes[0].on == line.music_start == 4 * RATE
    assert line.counting_in(line.music_start - 1)
    assert not line.counting_in(line.music_start)


def test_a_count_in_leads_into_a_pickup() -> None:
    """One measure, then the beats before the pickup."""
    tune = build.lesson(["C4:quarter", "D4:whole"])
    tune = lessons.at_tempo(tune, "quarter", 80)
    tune = lessons.with_measure(tune, 0, own_length=Length(TICKS_PER_QUARTER), counted=False)
    line = timeline(tune, Plan(count_in=1, click=True), RATE)
    assert [c.rank for c in line.clicks] == [0, 1, 1, 1, 0, 1, 1, 1, 0, 1, 1, 1]
    assert line.music_start == round(7 * 0.75 * RATE)


def test_long_beats_get_clicks_between() -> None:
    tune = lessons.at_tempo(build.lesson(["C4:half."], metre="6/8"), "quarter.", 40)
    ranks = [c.rank for c in timeline(tune, Plan(click=True)).clicks]
    assert ranks == [0, 2, 2, 1, 2, 2]


def test_the_click_and_voices_can_be_left_out() -> None:
    tune = build.lesson(["C4s2f1:half D4s2f3:half | C3s5f3:whole"])
    assert timeline(tune, Plan()).clicks == ()
    assert [s.voice for s in strokes(tune, bass=0)] == [0, 0]
    assert [s.voice for s in strokes(tune, melody=0)] == [1]
    half, full = strokes(tune, melody=0.5)[0], strokes(tune)[0]
    assert full.gain == pytest.approx(2 * half.gain)


def test_the_playhead_knows_measure_and_tick() -> None:
    tune = lessons.with_section(build.lesson(["C4:whole", "D4:whole"]), times=2)
    first, second = (m.id for m in lessons.section(tune).measures)
    line = timeline(tune, Plan(count_in=1), RATE)
    start = line.music_start
    assert line.at(0) == (0, first, 0)
    assert line.at(start + SECOND) == (0, first, TICKS_PER_QUARTER)
    assert line.at(start + 4 * SECOND) == (1, second, 0)
    assert line.at(start + 14 * SECOND) == (3, second, 2 * TICKS_PER_QUARTER)
    assert line.at(start + 99 * SECOND)[:2] == (3, second)


def test_the_same_moment_is_found_in_another_tempo() -> None:
    tune = build.lesson(["C4:whole", "D4:whole", "E4:whole"])
    usual, slow = timeline(tune, Plan()), timeline(tune, Plan(percent=50))
    assert slow.sample_at(usual, 6 * usual.rate) == 12 * slow.rate
    part = timeline(
        tune, Plan(MeasureRange(lessons.measure(tune, 1).id, lessons.measure(tune, 2).id))
    )
    assert part.sample_at(usual, 9 * usual.rate) == 5 * part.rate
    assert part.sample_at(usual, usual.rate) == 0


def test_unplaced_notes_sound_for_their_written_length() -> None:
    found = strokes(build.lesson(["E4:quarter C4:half."]))
    assert found[0].off == SECOND
    assert {s.string for s in found} == {0}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(strategies.lessons())
def test_any_lesson_makes_a_string_true_timeline(lesson: Lesson) -> None:
    line = timeline(lesson, Plan(count_in=1, click=True), RATE)
    by_string: dict[int, list[Stroke]] = {}
    for stroke in line.strokes:
        assert line.music_start <= stroke.on < stroke.off <= stroke.end
        if stroke.string:
            by_string.setdefault(stroke.string, []).append(stroke)
    for row in by_string.values():
        assert all(a.off <= b.on for a, b in pairwise(row)), "a string sounds two notes"
    assert [s.on for s in line.strokes] == sorted(s.on for s in line.strokes)
    assert max(by_string, default=1) <= len(Instrument().strings) + 7


def test_a_variation_for_the_second_time_is_heard_then():
    """Common practice, no source: what is written for the second time sounds from then on."""
    plain = build.lesson(["C4s2f1:whole"])
    measure = plain.arrangement.sections[0].measures[0]
    varied = OtherVersion("second time", ((build.event("D4s2f3:whole", count(50)),),))
    section = structs.replace(
        plain.arrangement.sections[0],
        times=2,
        measures=(structs.replace(measure, others=(varied,)),),
    )
    lesson = structs.replace(
        plain,
        arrangement=structs.replace(plain.arrangement, sections=(section,)),
        next_id=60,
    )
    heard = [str(note.note.pitch) for note in perform(lesson, Plan()).notes]
    assert heard == ["C4", "D4"]
