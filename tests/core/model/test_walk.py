"""Walking: numbers, onsets, ids."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from msgspec import structs

from core.model import TICKS_PER_QUARTER, Arrangement, Grace, Lesson, walk
from tests import build, strategies

Q = TICKS_PER_QUARTER


def test_the_first_counted_measure_is_number_one() -> None:
    # Common practice, no source (red pen S19): a pickup has no number.
    lesson = build.lesson(["E4:quarter", "r:whole", "r:whole"])
    section = lesson.arrangement.sections[0]
    row = list(section.measures)
    row[0] = structs.replace(row[0], counted=False)
    arrangement = Arrangement((structs.replace(section, measures=tuple(row)),))
    assert list(walk.numbers(arrangement).values()) == [0, 1, 2]


def test_the_second_half_of_a_split_measure_keeps_the_number() -> None:
    lesson = build.lesson(["r:half", "r:half", "r:whole"])
    section = lesson.arrangement.sections[0]
    row = list(section.measures)
    row[1] = structs.replace(row[1], counted=False)
    arrangement = Arrangement((structs.replace(section, measures=tuple(row)),))
    assert list(walk.numbers(arrangement).values()) == [1, 1, 2]


def test_onsets_and_grace_notes() -> None:
    lesson = build.lesson(["C4:quarter D4:eighth E4:half | A2:whole"])
    measure = lesson.arrangement.sections[0].measures[0]
    row = list(measure.voices[0])
    row[1] = structs.replace(row[1], grace=Grace())
    measure = structs.replace(measure, voices=(tuple(row), measure.voices[1]))
    told = [(located.voice, located.onset // Q) for located in walk.events(measure)]
    assert told == [(0, 0), (0, 1), (0, 1), (1, 0)]
    assert measure.filled_ticks(0) == 3 * Q
    assert walk.unplaced(measure) == 4


def test_a_measure_is_played_as_long_as_its_longest_voice() -> None:
    lesson = build.lesson(["C4:whole D4:quarter | A2:half"])
    measure = lesson.arrangement.sections[0].measures[0]
    assert (measure.ticks, measure.length_ticks) == (4 * Q, 5 * Q)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons())
def test_ids_are_all_different_and_below_the_mark(lesson: Lesson) -> None:
    ids = list(walk.ids(lesson))
    assert len(ids) == len(set(ids))
    assert max(ids) < lesson.next_id
