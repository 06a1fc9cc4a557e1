"""Values, dots, tuplets, rests; completing and trimming."""

from __future__ import annotations

import pytest

from core.edit import (
    AddMeasureMark,
    AddSpan,
    CompleteMeasure,
    DeleteEvent,
    DropTuplet,
    HideRest,
    InsertRest,
    MakeTuplet,
    SetValue,
    ToggleDot,
    TrimMeasure,
    TurnToRest,
)
from core.model import Length, Span, TextMark, Value
from tests.core.edit.kit import Q, do, event, ids, lesson, measure, refused, told


@pytest.mark.parametrize(
    ("value", "mode", "after"),
    [
        ("eighth", "overwrite", "C4:eighth r:eighth D4:quarter E4:half"),
        ("half", "overwrite", "C4:half E4:half"),
        ("half.", "overwrite", "C4:half. r:quarter"),
        ("whole", "overwrite", "C4:whole"),
        ("breve", "overwrite", "C4:breve"),
        ("eighth", "insert", "C4:eighth D4:quarter E4:half"),
        ("half", "insert", "C4:half D4:quarter E4:half"),
        ("eighth@3:2", "overwrite", "C4:eighth@3:2 r:eighth@3:2 r:eighth@3:2 D4:quarter E4:half"),
        ("16th", "overwrite", "C4:16th r:16th r:eighth D4:quarter E4:half"),
    ],
)
def test_another_value(value: str, mode: str, after: str) -> None:
    one = lesson("C4:quarter D4:quarter E4:half")
    done = do(SetValue(ids(one)[0], event(one).id, Value.parse(value), mode), one)
    assert told(done) == after
    assert event(done).id == event(one).id


def test_a_value_that_cannot_be_fitted_in() -> None:
    one = lesson("C4:quarter D4:half")
    fifth = do(SetValue(ids(one)[0], event(one).id, Value.parse("quarter@5:4")), one)
    assert told(fifth) == "C4:quarter@5:4 r:16th@5:4 D4:half"
    sentence = refused(SetValue(ids(one)[0], event(one).id, Value.parse("quarter@7:6")), one)
    assert sentence.startswith("In measure 1 a tuplet would be cut")


def test_a_measure_cannot_grow_without_end() -> None:
    one = lesson(" ".join(["C4:breve"] * 31))
    full = do(SetValue(ids(one)[0], event(one).id, Value.parse("breve.."), "insert"), one)
    sentence = refused(
        SetValue(ids(one)[0], event(one, 1).id, Value.parse("breve."), "insert"), full
    )
    assert sentence == "Measure 1 would be longer than 64 whole notes; split it first."


def test_the_dot() -> None:
    one = lesson("C4:quarter D4:quarter r:half")
    dotted = do(ToggleDot(ids(one)[0], event(one).id), one)
    assert told(dotted) == "C4:quarter. r:eighth r:half"
    assert told(do(ToggleDot(ids(one)[0], event(one).id), dotted)).startswith("C4:quarter r:eighth")
    pushed = do(ToggleDot(ids(one)[0], event(one).id, "insert"), one)
    assert told(pushed) == "C4:quarter. D4:quarter r:half"


@pytest.mark.parametrize(
    ("text", "ratio", "after"),
    [
        ("C4:quarter", (3, 2), "C4:eighth@3:2 r:eighth@3:2 r:eighth@3:2"),
        ("C4:half", (3, 2), "C4:quarter@3:2 r:quarter@3:2 r:quarter@3:2"),
        ("C4:quarter", (5, 4), "C4:16th@5:4" + " r:16th@5:4" * 4),
        ("C4:quarter.", (2, 3), "C4:eighth@2:3 r:eighth@2:3"),
        ("C4:quarter.", (4, 3), "C4:eighth@4:3" + " r:eighth@4:3" * 3),
        ("C4:quarter@3:2", (3, 2), "C4:eighth@3:2@3:2" + " r:eighth@3:2@3:2" * 2),
    ],
)
def test_dividing_a_note(text: str, ratio: tuple[int, int], after: str) -> None:
    one = lesson(text)
    done = do(MakeTuplet(ids(one)[0], event(one).id, *ratio), one)
    assert told(done) == after
    assert measure(done).filled_ticks(0) == measure(one).filled_ticks(0)


def test_a_note_that_cannot_be_divided() -> None:
    one = lesson("C4:quarter.")
    assert "cannot be divided 3:2" in refused(MakeTuplet(ids(one)[0], event(one).id), one)


@pytest.mark.parametrize(
    ("text", "index", "after"),
    [
        ("C4:eighth@3:2 D4:eighth@3:2 E4:eighth@3:2 F4:half.", 1, "C4:quarter F4:half."),
        ("C4:quarter@3:2 D4:eighth@3:2 E4:quarter@3:2 F4:eighth@3:2 r:half", 2,
         "C4:quarter@3:2 D4:eighth@3:2 E4:quarter r:half"),
        ("C4:quarter@3:2 " + "D4:16th@3:2@5:4 " * 5 + "E4:quarter@3:2 r:half", 3, "C4:half r:half"),
    ],
)  # fmt: skip
def test_dropping_a_tuplet(text: str, index: int, after: str) -> None:
    one = lesson(text)
    assert told(do(DropTuplet(ids(one)[0], event(one, index).id), one)) == after


def test_what_is_no_tuplet() -> None:
    one = lesson("C4:quarter D4:eighth@3:2")
    assert "is in no tuplet" in refused(DropTuplet(ids(one)[0], event(one).id), one)
    assert "is not complete" in refused(DropTuplet(ids(one)[0], event(one, 1).id), one)


def test_rests() -> None:
    one = lesson("C4:half D4:half")
    quarter = Value.parse("quarter")
    over = do(InsertRest(ids(one)[0], 0, 2 * Q, quarter), one)
    assert told(over) == "C4:half r:quarter r:quarter"
    pushed = do(InsertRest(ids(one)[0], 0, 2 * Q, quarter, "insert", hidden=True), one)
    assert told(pushed) == "C4:half (r):quarter D4:half"
    assert "no voice 6" in refused(InsertRest(ids(one)[0], 5, 0, quarter), one)


def test_deleting_closes_up_and_making_a_rest_does_not() -> None:
    one = lesson("C4:quarter D4:quarter E4:half")
    assert told(do(DeleteEvent(ids(one)[0], event(one, 1).id), one)) == "C4:quarter E4:half"
    rest = do(TurnToRest(ids(one)[0], event(one, 1).id), one)
    assert told(rest) == "C4:quarter r:quarter E4:half"
    assert do(TurnToRest(ids(one)[0], event(one, 1).id), rest) is rest
    assert "no longer there in measure 1" in refused(DeleteEvent(ids(one)[0], 999), one)


def test_lines_end_at_what_is_left() -> None:
    one = lesson("C4:quarter D4:quarter E4:quarter F4:quarter", "G4:whole")
    rows = [event(one, n).id for n in range(4)] + [event(one, 0, 1).id]
    one = do(AddSpan(Span(0, "crescendo", rows[1], rows[4])), one)
    one = do(AddSpan(Span(0, "slur", rows[0], rows[1])), one)
    done = do(DeleteEvent(ids(one)[0], rows[1]), one)
    assert [(s.kind, s.start, s.end) for s in done.arrangement.spans] == [
        ("crescendo", rows[2], rows[4])
    ]  # the slur has nothing left to bind
    done = do(DeleteEvent(ids(done)[1], rows[4]), done)
    assert [(s.start, s.end) for s in done.arrangement.spans] == [(rows[2], rows[3])]


def test_hiding_and_placing_a_rest() -> None:
    one = lesson("r:half C4:half")
    done = do(HideRest(ids(one)[0], event(one).id, hidden=True, line=-3), one)
    assert (event(done).hidden, event(done).rest_line) == (True, -3)
    assert "only rests can be hidden" in refused(HideRest(ids(one)[0], event(one, 1).id), one)
    assert "12 steps" in refused(HideRest(ids(one)[0], event(one).id, line=20), one)


def test_completing_a_measure() -> None:
    one = lesson("C4:quarter. | A2:quarter", metre="4/4")
    done = do(CompleteMeasure(ids(one)[0]), one)
    assert told(done) == "C4:quarter. r:eighth r:half | A2:quarter r:quarter r:half"
    bass = do(CompleteMeasure(ids(one)[0], 1), one)
    assert told(bass) == "C4:quarter. | A2:quarter r:quarter r:half"
    compound = lesson("C4:eighth", metre="6/8")
    assert told(do(CompleteMeasure(ids(compound)[0]), compound)) == (
        "C4:eighth r:eighth r:eighth r:quarter."
    )
    triplet = lesson("C4:eighth@3:2")
    assert told(do(CompleteMeasure(ids(triplet)[0]), triplet)) == (
        "C4:eighth@3:2 r:eighth@3:2 r:eighth@3:2 r:quarter r:half"
    )
    assert do(CompleteMeasure(ids(one)[0]), done) is done


def test_trimming_a_measure() -> None:
    one = lesson("C4:half D4:half. E4:quarter | A2:breve")
    late = TextMark("late", Length(5 * Q))
    one = do(AddMeasureMark(ids(one)[0], late), one)
    done = do(TrimMeasure(ids(one)[0]), one)
    assert told(done) == "C4:half D4:half | A2:whole"
    assert measure(done).marks == ()
    assert do(TrimMeasure(ids(one)[0]), done) is done
