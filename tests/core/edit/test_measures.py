"""Measures in and out, split, joined; metre, key, length."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.edit import (
    AddMeasureMark,
    AddSpan,
    AddTalk,
    AddWaiver,
    Command,
    DeleteMeasures,
    EmptyMeasure,
    InsertMeasures,
    JoinMeasures,
    RepeatMeasure,
    SameAs,
    SetBarline,
    SetCounted,
    SetEnding,
    SetKey,
    SetLineBreak,
    SetMetre,
    SetOwnLength,
    SetSign,
    SplitMeasure,
)
from core.model import Key, Length, Lesson, Metre, Sign, Span, TextMark, Waiver, walk
from tests import build
from tests.core.edit.kit import Q, do, event, ids, lesson, measure, refused, told

THREE = lesson("C4:whole", "D4:whole", "E4:whole")


def keys(of: Lesson) -> list[str]:
    return [str(m.key) for m in walk.measures(of.arrangement)]


def metres(of: Lesson) -> list[str]:
    return [str(m.metre) for m in walk.measures(of.arrangement)]


def row(of: Lesson) -> list[str]:
    return [told(of, index) for index in range(len(ids(of)))]


def test_inserting() -> None:
    first = ids(THREE)[0]
    after = do(InsertMeasures(first, 2), THREE)
    assert row(after) == ["C4:whole", "", "", "D4:whole", "E4:whole"]
    before = do(InsertMeasures(first, where="before"), THREE)
    assert row(before) == ["", "C4:whole", "D4:whole", "E4:whole"]
    assert "1 to 500 measures at a time" in refused(InsertMeasures(first, 0), THREE)


def test_deleting_takes_along_what_hung_on_it() -> None:
    one = do(AddTalk(ids(THREE)[0], ids(THREE)[1], "listen"), THREE)
    one = do(AddWaiver(Waiver("L6", ids(one)[1], "she can")), one)
    one = do(SetEnding(one.arrangement.sections[0].id, ids(one)[1], ids(one)[1], (1,)), one)
    one = do(SameAs(ids(one)[2], ids(one)[1]), one)
    done = do(DeleteMeasures(ids(one)[1], ids(one)[1]), one)
    assert row(done) == ["C4:whole", "D4:whole"]
    assert done.waivers == ()
    assert done.arrangement.sections[0].endings == ()
    assert measure(done, 1).same_as is None
    talk = done.arrangement.spans[0]
    assert talk.start == talk.end == ids(done)[0]


def test_deleting_across_sections() -> None:
    one = build.lesson(["C4:whole", "D4:whole"], ["E4:whole"], ["F4:whole"])
    done = do(DeleteMeasures(ids(one)[1], ids(one)[2]), one)
    assert row(done) == ["C4:whole", "F4:whole"]
    assert len(done.arrangement.sections) == 2


def test_deleting_needs_an_order_and_leaves_one() -> None:
    first, *_, last = ids(THREE)
    assert refused(DeleteMeasures(last, first), THREE) == (
        "Choose the measures in order: measure 1 comes before measure 3."
    )
    assert "cannot be deleted" in refused(DeleteMeasures(first, last), THREE)


def test_deleting_takes_ties_off() -> None:
    one = lesson("C4:whole~", "C4:whole", "D4:whole")
    done = do(DeleteMeasures(ids(one)[1], ids(one)[1]), one)
    assert row(done) == ["C4:whole", "D4:whole"]


def test_emptying() -> None:
    done = do(EmptyMeasure(ids(THREE)[0]), THREE)
    assert row(done)[0] == ""
    assert do(EmptyMeasure(ids(THREE)[0]), done) is done


def test_repeating_a_measure_copies_its_lines() -> None:
    one = lesson("C4:half D4:half", "E4:whole")
    one = do(AddSpan(Span(0, "slur", event(one).id, event(one, 1).id)), one)
    done = do(RepeatMeasure(ids(one)[0]), one)
    assert row(done) == ["C4:half D4:half", "C4:half D4:half", "E4:whole"]
    assert measure(done, 1).same_as == ids(one)[0]
    slur = done.arrangement.spans[1]
    assert (slur.start, slur.end) == (event(done, 0, 1).id, event(done, 1, 1).id)


def test_the_ending_grows_with_its_last_measure() -> None:
    one = do(SetEnding(THREE.arrangement.sections[0].id, ids(THREE)[2], ids(THREE)[2], (1,)), THREE)
    done = do(InsertMeasures(ids(one)[2]), one)
    ending = done.arrangement.sections[0].endings[0]
    assert (ending.first, ending.last) == (ids(done)[2], ids(done)[3])


def test_the_same_as_another_measure() -> None:
    one = lesson("C4s2f1!1:half D4:half", "r:whole")
    done = do(SameAs(ids(one)[1], ids(one)[0]), one)
    assert told(done, 1) == told(one)
    assert measure(done, 1).same_as == ids(one)[0]
    apart = do(SameAs(ids(one)[1], None), done)
    assert measure(apart, 1).same_as is None
    assert told(apart, 1) == told(one)
    assert "Measure 1 cannot be the same as itself; name another" in refused(
        SameAs(ids(one)[0], ids(one)[0]), one
    )


def test_splitting_and_joining() -> None:
    one = lesson("C4:quarter D4:half. | A2:whole", "E4:whole")
    one = do(AddMeasureMark(ids(one)[0], TextMark("late", Length(3 * Q))), one)
    one = do(SetSign(ids(one)[0], "segno"), do(SetSign(ids(one)[0], "fine"), one))
    done = do(SplitMeasure(ids(one)[0], 2 * Q), one)
    assert row(done) == [
        "C4:quarter D4:quarter~ | A2:half~", "D4:half | A2:half", "E4:whole",
    ]  # fmt: skip
    first, second = measure(done), measure(done, 1)
    assert (first.ticks, second.ticks, second.counted) == (2 * Q, 2 * Q, False)
    assert (first.signs, second.signs) == ((Sign("segno"),), (Sign("fine"),))
    assert (first.marks, second.marks) == ((), (TextMark("late", Length(Q)),))
    joined = do(JoinMeasures(ids(done)[0]), done)
    assert row(joined)[0] == "C4:quarter D4:quarter~ D4:half | A2:half~ A2:half"
    assert measure(joined).own_length is None
    assert measure(joined).marks == measure(one).marks
    assert set(measure(joined).signs) == set(measure(one).signs)


def test_splitting_drops_a_span_of_a_file_that_runs_backwards_across_the_voices() -> None:
    one = lesson("C4:half D4:half | A2:half B2:half")
    late, early = event(one, 1), event(one, 0, voice=1)
    spans = (Span(98, "crescendo", late.id, early.id), Span(99, "crescendo", early.id, late.id))
    one = structs.replace(
        one, arrangement=structs.replace(one.arrangement, spans=spans), next_id=100
    )
    done = do(SplitMeasure(ids(one)[0], 2 * Q), one)
    assert [span.id for span in done.arrangement.spans] == [99]


@pytest.mark.parametrize("tick", [0, 4 * Q, 9 * Q, -Q])
def test_where_no_measure_is_split(tick: int) -> None:
    assert "no such moment" in refused(SplitMeasure(ids(THREE)[0], tick), THREE)


def test_what_is_not_split_or_joined() -> None:
    tuplet = lesson("C4:half D4:eighth@3:2 E4:eighth@3:2 F4:eighth@3:2 G4:quarter")
    place = 2 * Q + Q // 2 + Q // 7
    assert "a tuplet lasts across" in refused(SplitMeasure(ids(tuplet)[0], place), tuplet)
    assert "its section ends; join the sections first" in refused(
        JoinMeasures(ids(THREE)[2]), THREE
    )
    over = lesson("C4:whole D4:quarter", "E4:whole")
    assert "too much in it" in refused(JoinMeasures(ids(over)[0]), over)
    section = THREE.arrangement.sections[0].id
    ended = do(SetEnding(section, ids(THREE)[1], ids(THREE)[1], (1,)), THREE)
    assert "an ending begins or ends" in refused(JoinMeasures(ids(ended)[0]), ended)
    assert "an ending begins or ends" in refused(JoinMeasures(ids(ended)[1]), ended)


def test_joining_fills_what_was_missing() -> None:
    one = lesson("C4:quarter", "D4:whole")
    done = do(JoinMeasures(ids(one)[0]), one)
    assert row(done) == ["C4:quarter r:quarter r:half D4:whole"]
    assert measure(done).own_length == Length(8 * Q)


def test_splitting_keeps_the_ending_whole() -> None:
    section = THREE.arrangement.sections[0].id
    one = do(SetEnding(section, ids(THREE)[2], ids(THREE)[2], (1,)), THREE)
    done = do(SplitMeasure(ids(one)[2], 2 * Q), one)
    assert done.arrangement.sections[0].endings[0].last == ids(done)[3]


def test_a_metre_from_a_measure_on_or_for_it_alone() -> None:
    three, four = Metre.parse("3/4"), Metre.parse("4/4")
    on = do(SetMetre(ids(THREE)[1], three), THREE)
    assert metres(on) == ["4/4", "3/4", "3/4"]
    alone = do(SetMetre(ids(THREE)[1], three, only=True), THREE)
    assert metres(alone) == ["4/4", "3/4", "4/4"]
    # Up to the next change of metre.
    assert metres(do(SetMetre(ids(on)[0], Metre.parse("2/4")), on)) == ["2/4", "3/4", "3/4"]
    assert do(SetMetre(ids(on)[0], four), on) is on
    assert told(on, 1) == "D4:whole"  # over-full, and allowed


def test_a_shorter_metre_drops_marks_after_its_end() -> None:
    one = do(AddMeasureMark(ids(THREE)[0], TextMark("late", Length(4 * Q))), THREE)
    one = do(EmptyMeasure(ids(one)[0]), one)
    assert measure(do(SetMetre(ids(one)[0], Metre.parse("3/4")), one)).marks == ()


def test_a_key_from_a_measure_on_or_for_it_alone() -> None:
    g, d = Key.parse("G major"), Key.parse("D major")
    on = do(SetKey(ids(THREE)[1], g), THREE)
    assert keys(on) == ["C major", "G major", "G major"]
    assert str(on.arrangement.key) == "C major"
    assert keys(do(SetKey(ids(THREE)[1], g, only=True), THREE)) == ["C major", "G major", "C major"]
    first = do(SetKey(ids(on)[0], d), on)
    assert keys(first) == ["D major", "G major", "G major"]
    assert first.arrangement.key == d
    assert row(on) == row(THREE)  # the notes stay as they sound


def test_metre_and_key_go_on_across_sections() -> None:
    one = build.lesson(["C4:whole"], ["D4:whole"])
    assert metres(do(SetMetre(ids(one)[0], Metre.parse("2/2")), one)) == ["2/2", "2/2"]


def test_a_length_of_its_own() -> None:
    pickup = do(SetOwnLength(ids(THREE)[0], Length(Q)), THREE)
    assert measure(pickup).ticks == Q
    assert do(SetOwnLength(ids(THREE)[0], Length(4 * Q)), pickup) == THREE
    for length in (Length(0), Length.parse("65")):
        assert "at most 64 whole notes" in refused(SetOwnLength(ids(THREE)[0], length), THREE)


@pytest.mark.parametrize(
    ("command", "field", "value"),
    [
        (SetCounted(ids(THREE)[0], counted=False), "counted", False),
        (SetBarline(ids(THREE)[0], "double"), "barline", "double"),
        (SetLineBreak(ids(THREE)[0], on=True), "line_break", True),
    ],
)
def test_the_measure_itself(command: Command, field: str, value: object) -> None:
    done = do(command, THREE)
    assert getattr(measure(done), field) == value
    assert do(command, done) is done
    assert refused(structs.replace(command, measure=99), THREE) == (
        "That measure is no longer there; choose another."
    )
