"""Written time: ticks, values, metres, rests along the beats, seconds."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model import (
    TICKS_PER_QUARTER,
    TICKS_PER_WHOLE,
    Base,
    Length,
    Metre,
    Tempo,
    Value,
)
from core.model.time import length_words, written_values
from tests import strategies

Q = TICKS_PER_QUARTER


def test_a_quarter_has_the_ticks_that_every_usual_tuplet_divides() -> None:
    # The highly composite number of design.md: 2^7 * 3^2 * 5 * 7 * 11 * 13 * 17.
    assert TICKS_PER_QUARTER == 98_017_920
    for parts in (2, 3, 5, 6, 7, 9, 10, 11, 12, 13, 14, 15, 17, 32):
        assert TICKS_PER_QUARTER % parts == 0


@pytest.mark.parametrize(
    ("text", "quarters"),
    [
        # Fractions of a whole note and dots: common practice, no source.
        ("breve", 8), ("whole", 4), ("half", 2), ("quarter", 1), ("eighth", Fraction(1, 2)),
        ("16th", Fraction(1, 4)), ("32nd", Fraction(1, 8)), ("64th", Fraction(1, 16)),
        ("128th", Fraction(1, 32)), ("half.", 3), ("quarter.", Fraction(3, 2)),
        ("quarter..", Fraction(7, 4)), ("half...", Fraction(15, 4)),
        ("eighth@3:2", Fraction(1, 3)), ("quarter@3:2", Fraction(2, 3)),
        ("16th@5:4", Fraction(1, 5)), ("eighth@2:3", Fraction(3, 4)),
        ("16th@3:2@5:4", Fraction(2, 15)), ("quarter.@3:2", 1),
    ],
)  # fmt: skip
def test_values(text: str, quarters: Fraction | int) -> None:
    value = Value.parse(text)
    assert value.ticks == quarters * Q
    assert str(value) == text


@given(strategies.values)
def test_value_text(value: Value) -> None:
    assert Value.parse(str(value)) == value


@pytest.mark.parametrize(
    "text", ["", "crotchet", "quarter.....", "quarter@3", "quarter@0:2", "16th@64:63@64:63@64:63",
             "quarter@65:2", "quarter@3:2@", "eighth @3:2"]
)  # fmt: skip
def test_what_is_no_value(text: str) -> None:
    with pytest.raises(ValueError):
        Value.parse(text)


def test_flags() -> None:
    assert [base.flags for base in Base] == [0, 0, 0, 0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize(("text", "wholes"), [("3/8", Fraction(3, 8)), ("0", 0), ("1", 1)])
def test_lengths(text: str, wholes: Fraction | int) -> None:
    assert Length.parse(text).wholes == wholes
    assert str(Length.parse(text)) == text
    assert Length.parse("6/16") == Length.parse("3/8")


@pytest.mark.parametrize("text", ["-1", "1/0", "a", "1.5", "1/19"])
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(ValueError):
        Length.parse(text)


@pytest.mark.parametrize(
    ("text", "beats", "pulses"),
    [
        # Felt beats of simple and compound metres: common practice, no source.
        ("4/4", 4, [1, 1, 1, 1]), ("3/4", 3, [1, 1, 1]), ("2/2 cut", 2, [2, 2]),
        ("4/4 common", 4, [1, 1, 1, 1]), ("6/8", 6, [Fraction(3, 2)] * 2),
        ("9/8", 9, [Fraction(3, 2)] * 3), ("12/8", 12, [Fraction(3, 2)] * 4),
        ("3/8", 3, [Fraction(3, 2)]), ("2+3/8", 5, [1, Fraction(3, 2)]), ("6/4", 6, [3, 3]),
    ],
)  # fmt: skip
def test_metres(text: str, beats: int, pulses: list[Fraction]) -> None:
    metre = Metre.parse(text)
    assert metre.beats == beats
    assert list(metre.pulse_ticks) == [pulse * Q for pulse in pulses]
    assert sum(metre.pulse_ticks) == metre.ticks
    assert str(metre) == text


@pytest.mark.parametrize("text", ["4", "4/5", "0/4", "4/4 march", "65/4", "+4/4"])
def test_what_is_no_metre(text: str) -> None:
    with pytest.raises(ValueError):
        Metre.parse(text)


@pytest.mark.parametrize(
    ("metre", "start", "end", "row"),
    [
        # Rests show the beats (common practice, no source).
        ("4/4", 0, 4, "whole"),
        ("4/4", 1, 4, "quarter half"),
        ("4/4", 0, 3, "half quarter"),
        ("4/4", Fraction(1, 2), 4, "eighth quarter half"),
        ("3/4", 0, 3, "half."),
        ("3/4", 1, 3, "quarter quarter"),
        ("3/4", Fraction(5, 4), 3, "16th eighth quarter"),
        ("6/8", 0, 3, "half."),
        ("6/8", Fraction(1, 2), 3, "eighth eighth quarter."),
        ("6/8", Fraction(3, 2), 3, "quarter."),
        ("2+3/8", 0, Fraction(5, 2), "quarter quarter."),
        ("4/4", 0, 6, "whole half"),
    ],
)
def test_rests_along_the_beats(
    metre: str, start: Fraction | int, end: Fraction | int, row: str
) -> None:
    values = written_values(int(start * Q), int(end * Q), Metre.parse(metre))
    assert " ".join(map(str, values)) == row


@given(strategies.metres, st.integers(0, 64), st.integers(0, 64))
def test_rests_fill_exactly(metre: Metre, first: int, second: int) -> None:
    start, end = sorted((first * Q // 8, second * Q // 8))
    values = written_values(start, end, metre)
    assert sum(value.ticks for value in values) == end - start
    assert all(not value.tuplets for value in values)
    edges = list(accumulate((value.ticks for value in values), initial=start))
    beats = list(accumulate(metre.pulse_ticks, initial=0))
    for left, right in pairwise(edges):
        inside = [beat for beat in beats if left < beat < right]
        assert not inside or left in beats  # only what begins on a beat covers others


@pytest.mark.parametrize(
    ("beat", "per_minute", "ticks", "seconds"),
    [
        # check-values section 10 (arithmetic of the beat, 60 / bpm).
        ("quarter", 60, Q, 1.0), ("quarter", 72, Q, 0.8333), ("quarter", 80, Q, 0.75),
        ("quarter", 90, Q, 0.6667), ("quarter", 120, Q, 0.5), ("quarter", 80, Q // 2, 0.375),
        ("quarter", 60, 16 * 3 * Q, 48.0), ("quarter", 72, 32 * 3 * Q, 80.0),
        ("quarter.", 50, 8 * 3 * Q, 19.2),
    ],
)  # fmt: skip
def test_seconds(beat: str, per_minute: float, ticks: int, seconds: float) -> None:
    tempo = Tempo(Value.parse(beat), per_minute)
    assert ticks / tempo.ticks_per_second == pytest.approx(seconds, abs=5e-5)


def test_pickup_and_last_measure_make_one() -> None:
    # check-values section 10: a pickup of 1 and a last measure of 3 in 4/4 are exactly 4 beats.
    assert Length.parse("1/4").ticks + Length.parse("3/4").ticks == Metre.parse("4/4").ticks


@pytest.mark.parametrize("per_minute", [0, 4, 601, float("nan")])
def test_what_is_no_tempo(per_minute: float) -> None:
    with pytest.raises(ValueError):
        Tempo(Value.parse("quarter"), per_minute)


def test_a_whole_is_four_quarters() -> None:
    assert TICKS_PER_WHOLE == 4 * TICKS_PER_QUARTER


@pytest.mark.parametrize(
    ("length", "words"),
    [
        ("1", "a whole"), ("1/2", "a half"), ("1/8", "an eighth"), ("3/8", "3 eighths"),
        ("5/16", "5 16ths"), ("2", "2 wholes"),
        ("1/12", "a triplet eighth"), ("1/6", "a triplet quarter"), ("5/12", "5 triplet eighths"),
        ("1/24", "a triplet 16th"), ("2/3", "a half and a triplet quarter"),
        ("31/18", "3 halves and 2 nonuplet eighths"), ("1/15", "a little over a 16th"),
        ("1/2176", "less than a 128th"),
    ],
)  # fmt: skip
def test_a_length_is_said_in_words(length, words):
    assert length_words(Length.parse(length).ticks) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [  # MusicXML 4.0, time-modification: actual notes in the time of normal ones
        ("quarter@3:2", "a triplet quarter"), ("16th@5:4", "a quintuplet 16th"),
        ("eighth@7:4", "a septuplet eighth"), ("16th@9:8", "a nonuplet 16th"),
        ("32nd@3:2", "a triplet 32nd"),
    ],
)  # fmt: skip
def test_the_length_of_a_tuplets_note_has_its_name(value, words):
    assert length_words(Value.parse(value).ticks) == words


@given(st.integers(1, 3 * TICKS_PER_WHOLE))
def test_no_length_is_said_as_a_fraction(ticks):
    assert "/" not in length_words(ticks)
