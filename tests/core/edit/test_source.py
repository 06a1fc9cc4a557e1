"""Taking from a kept source: by time, any voice of it, into any voice."""

from __future__ import annotations

from itertools import count

import pytest
from msgspec import structs

from core.edit import SetSources, TakeFromSource
from core.edit.source import copy_source, measure_at, starts, voices_of
from core.model import EditRefused, Length, Lesson, Source, SourcePart
from tests import build
from tests.core.edit.kit import Q, do, ids, lesson, refused, told

CANTO = ["C5:half D5:quarter | r:half.", "E5:half. | C4:half."]


def with_source(target: Lesson, *texts: str, metre: str = "3/4", pickup: str = "") -> Lesson:
    numbers = count(1)
    measures = tuple(build.measure(text, numbers, metre) for text in texts)
    if pickup:
        first = structs.replace(measures[0], own_length=Length.parse(pickup), counted=False)
        measures = (first, *measures[1:])
    return do(SetSources((Source("a song", (SourcePart("Canto", measures),)),)), target)


def take(of: Lesson, first: int, last: int | None = None, voice: int = 0, what: int | None = 0):
    numbers = ids(of)
    return TakeFromSource(
        0, 0, numbers[first], numbers[first if last is None else last], voice, what
    )


def test_a_measure_is_taken_from_its_place() -> None:
    one = with_source(lesson("", "", metre="3/4"), *CANTO)
    assert told(do(take(one, 1), one), 1) == "E5:half."
    both = do(take(one, 0, 1), one)
    assert [told(both, 0), told(both, 1)] == ["C5:half D5:quarter", "E5:half."]


def test_any_voice_into_any_voice_or_all_of_them() -> None:
    one = with_source(lesson("", "", metre="3/4"), *CANTO)
    assert voices_of(one.sources[0].parts[0]) == (0, 1)
    assert told(do(take(one, 1, what=1), one), 1) == "C4:half."
    assert told(do(take(one, 1, voice=1, what=1), one), 1) == " | C4:half."
    assert told(do(take(one, 1, what=None), one), 1) == "E5:half. | C4:half."


def test_time_counts_and_not_the_number_of_the_measure() -> None:
    # 6/8 against 3/8: one measure of the lesson is two of the source.
    one = with_source(
        lesson("", "", metre="6/8"), "C5:quarter.", "D5:quarter.", "E5:quarter.", "F5:quarter.",
        metre="3/8",
    )  # fmt: skip
    assert told(do(take(one, 1), one), 1) == "E5:quarter. F5:quarter."
    # 2/4 against 4/4: half a measure of the source.
    one = with_source(lesson("", "", metre="2/4"), "C5:half D5:half", metre="4/4")
    assert told(do(take(one, 1), one), 1) == "D5:half"


def test_a_pickup_does_not_shift_the_rest() -> None:
    one = with_source(lesson("", "", metre="3/4"), "G4:quarter", *CANTO, pickup="1/4")
    assert starts(one.sources[0].parts[0].measures)[:2] == [-Q, 0]
    assert told(do(take(one, 0), one), 0) == "C5:half D5:quarter"
    assert measure_at(one.sources[0].parts[0], 0) == 1
    assert measure_at(one.sources[0].parts[0], 99 * Q) is None


def test_a_note_over_the_edge_says_which_measures_to_take_together() -> None:
    one = with_source(lesson("", "", metre="3/4"), "C5:half D5:half E5:half", metre="6/4")
    why = refused(take(one, 0), one)
    assert why == (
        "Measure 1 does not fit the source: Canto, there in 6/4, holds a note over its end; "
        "select the next one too and take both."
    )
    assert "over its start; select the one before too" in refused(take(one, 1), one)
    both = do(take(one, 0, 1), one)
    assert [told(both, 0), told(both, 1)] == ["C5:half D5:quarter~", "D5:quarter E5:half"]


def test_rests_over_the_edge_are_shortened() -> None:
    one = with_source(lesson("A4:half.", "A4:half.", metre="3/4"), "C5:half r:whole", metre="6/4")
    assert told(do(take(one, 0), one), 0) == "C5:half r:quarter"
    assert told(do(take(one, 1), one), 1) == "r:half."


def test_what_is_not_there_is_refused() -> None:
    one = with_source(lesson("", "", "", metre="3/4"), *CANTO)
    assert "Canto ends before measure 3" in refused(take(one, 2), one)
    assert "no music" in refused(take(one, 0, what=3), one)
    gone = TakeFromSource(0, 7, ids(one)[0], ids(one)[0])
    assert "no such part" in refused(gone, one)
    part = one.sources[0].parts[0]
    with pytest.raises(EditRefused, match="no music"):
        copy_source(part, 99 * Q, 100 * Q)
    with pytest.raises(EditRefused, match="holds a note"):
        copy_source(part, Q, 2 * Q)
