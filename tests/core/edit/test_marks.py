"""Marks of events and measures, other versions."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.edit import (
    AddMeasureMark,
    ChangeMeasureMark,
    DropVersion,
    ExchangeVersion,
    KeepOtherVersion,
    RemoveMeasureMark,
    SetMark,
    ToggleFermata,
    ToggleMark,
)
from core.model import (
    Arpeggio,
    Articulation,
    ChordMark,
    ChordShape,
    Dynamic,
    EventMark,
    Fermata,
    Length,
    MeasureMark,
    PositionMark,
    ShapeBarre,
    TempoMark,
    TextMark,
    Value,
)
from core.model.notes import Breath
from tests.core.edit.kit import Q, do, event, ids, lesson, measure, refused, told
from tests.strategies import EVENT_MARKS, SHAPES

ONE = lesson("C4:half D4:half | A2:whole", "r:whole")
HERE, EVENT = ids(ONE)[0], event(ONE).id


@pytest.mark.parametrize("mark", EVENT_MARKS, ids=repr)
def test_every_mark_goes_on_and_off(mark: EventMark) -> None:
    on = do(SetMark(HERE, EVENT, mark), ONE)
    assert event(on).marks == (mark,)
    assert do(SetMark(HERE, EVENT, mark), on) is on
    assert do(SetMark(HERE, EVENT, mark, on=False), on) == ONE
    assert do(ToggleMark(HERE, EVENT, mark), ONE) == on
    assert do(ToggleMark(HERE, EVENT, mark), on) == ONE


def test_one_dynamic_but_several_articulations() -> None:
    done = ONE
    for mark in (Articulation("accent"), Dynamic("p"), Articulation("tenuto"), Dynamic("f")):
        done = do(SetMark(HERE, EVENT, mark), done)
    assert event(done).marks == (Articulation("accent"), Articulation("tenuto"), Dynamic("f"))


def test_a_fermata_stands_on_every_voice() -> None:
    # Red pen S4: a fermata holds all voices.
    done = do(ToggleFermata(HERE, EVENT), ONE)
    assert event(done).marks == event(done, 0, 0, 1).marks == (Fermata(),)
    assert event(done, 1).marks == ()
    assert do(ToggleFermata(HERE, event(ONE, 0, 0, 1).id), done) == ONE


@pytest.mark.parametrize(
    ("mark", "why"),
    [
        (Fermata(hold_percent=20), "100 to 1000 percent"),
        (Dynamic("loud"), "'loud' is no dynamic"),
    ],
)
def test_marks_that_cannot_be(mark: EventMark, why: str) -> None:
    assert why in refused(SetMark(HERE, EVENT, mark), ONE)


def test_what_a_rest_takes() -> None:
    place, rest = ids(ONE)[1], event(ONE, 0, 1).id
    assert "a rest takes no broken chord" in refused(SetMark(place, rest, Arpeggio()), ONE)
    assert "a rest takes no accent" in refused(SetMark(place, rest, Articulation("accent")), ONE)
    for mark in (Fermata(), Breath(), Articulation("damp"), Dynamic("p")):
        do(SetMark(place, rest, mark), ONE)


HALF = Length(2 * Q)
MARKS: list[MeasureMark] = [
    TempoMark(Length(0), "Gently", Value.parse("quarter"), 66.0),
    TempoMark(HALF, "rit.", effect="slower"),
    TextMark("dolce", HALF),
    TextMark("count aloud", below=True),
    PositionMark(5, HALF),
    *(ChordMark(shape, HALF) for shape in SHAPES),
]


@pytest.mark.parametrize("mark", MARKS, ids=repr)
def test_every_mark_above_a_measure(mark: MeasureMark) -> None:
    on = do(AddMeasureMark(HERE, mark), ONE)
    assert measure(on).marks == (mark,)
    assert do(AddMeasureMark(HERE, mark), on) is on
    moved = structs.replace(mark, at=Length(Q))
    changed = do(ChangeMeasureMark(HERE, mark, moved), on)
    assert measure(changed).marks == (moved,)
    assert do(RemoveMeasureMark(HERE, mark), on) == ONE
    assert "no longer there" in refused(RemoveMeasureMark(HERE, mark), ONE)


def test_marks_stand_in_order_and_replace_their_kind_at_their_moment() -> None:
    done = do(AddMeasureMark(HERE, PositionMark(5, HALF)), ONE)
    done = do(AddMeasureMark(HERE, TextMark("first")), done)
    done = do(AddMeasureMark(HERE, PositionMark(7, HALF)), done)
    done = do(AddMeasureMark(HERE, TextMark("second")), done)
    assert measure(done).marks == (TextMark("first"), TextMark("second"), PositionMark(7, HALF))


@pytest.mark.parametrize(
    ("mark", "why"),
    [
        (TextMark("late", Length(5 * Q)), "no such moment"),
        (TextMark("  "), "at least one letter"),
        (TempoMark(Length(0), "", Value.parse("quarter"), 1.0), "5 to 600"),
        (TempoMark(Length(0), "", Value.parse("quarter")), "both a beat and a figure"),
        (TempoMark(), "words or a figure"),
        (PositionMark(0), "no position 0"),
        (ChordMark(ChordShape("Am", (0, 1, 2))), "a fret for each of the 6 strings"),
        (ChordMark(ChordShape("Am", (0,) * 6, (None,))), "a finger for each string or none"),
        (ChordMark(ChordShape("Am", (30,) * 6)), "not on the guitar"),
        (ChordMark(ChordShape("Am", (0,) * 6, first_fret=0)), "from fret 1"),
        (ChordMark(ChordShape("F", (1,) * 6, barre=ShapeBarre(1, 1, 6))), "barre"),
    ],
)
def test_marks_above_that_cannot_be(mark: MeasureMark, why: str) -> None:
    assert why in refused(AddMeasureMark(HERE, mark), ONE)


def test_other_versions() -> None:
    kept = do(KeepOtherVersion(HERE, "easier"), ONE)
    assert measure(kept).others[0].purpose == "easier"
    changed = do(SetMark(HERE, EVENT, Dynamic("p")), kept)
    changed = do(ToggleMark(HERE, event(ONE, 1).id, Dynamic("f")), changed)
    exchanged = do(ExchangeVersion(HERE, "easier"), changed)
    assert told(exchanged) == told(ONE)
    assert event(exchanged).marks == ()
    assert do(ExchangeVersion(HERE, "easier"), exchanged) == changed
    again = do(KeepOtherVersion(HERE, "easier"), changed)
    assert len(measure(again).others) == 1
    harder = do(KeepOtherVersion(HERE, "harder"), kept)
    assert len(measure(harder).others) == 2
    assert do(DropVersion(HERE, "easier"), kept) == ONE
    assert "no version kept as harder" in refused(ExchangeVersion(HERE, "harder"), kept)
    assert "no version kept as harder" in refused(DropVersion(HERE, "harder"), kept)
