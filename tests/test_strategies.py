"""The generators cover the model: a sign nobody draws is a sign nobody tests."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings

from core.model import (
    Event,
    EventMark,
    Key,
    Lesson,
    Measure,
    MeasureMark,
    Metre,
    Note,
    walk,
)
from core.model.validate import problems
from tests import everything, strategies


@pytest.mark.parametrize("field", Note.__struct_fields__[3:])
def test_every_field_of_a_note_is_drawn(field: str) -> None:
    special = {"harmonic"}  # drawn with its place
    assert field in special or any(field in extra for extra in strategies.NOTE_EXTRAS)


@pytest.mark.parametrize("field", Event.__struct_fields__[3:])
def test_every_field_of_an_event_is_drawn(field: str) -> None:
    special = {"grace"}  # drawn among the events of a voice
    assert field in special or any(field in extra for extra in strategies.EVENT_EXTRAS)


@pytest.mark.parametrize("mark", get_args(EventMark), ids=lambda kind: kind.__name__)
def test_every_mark_of_an_event_is_drawn(mark: type) -> None:
    assert any(isinstance(drawn, mark) for drawn in strategies.EVENT_MARKS)


@pytest.mark.parametrize("mark", get_args(MeasureMark), ids=lambda kind: kind.__name__)
def test_every_mark_of_a_measure_stands_in_the_lesson_of_everything(mark: type) -> None:
    marks = [m for row in walk.measures(everything.lesson().arrangement) for m in row.marks]
    assert any(isinstance(drawn, mark) for drawn in marks)


@pytest.mark.parametrize("field", Measure.__struct_fields__[3:])
def test_every_field_of_a_measure_stands_in_the_lesson_of_everything(field: str) -> None:
    usual = Measure(1, Metre.parse("4/4"), Key(0))
    rows = walk.measures(everything.lesson().arrangement)
    assert any(getattr(row, field) != getattr(usual, field) for row in rows)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons())
def test_drawn_lessons_are_sound(lesson: Lesson) -> None:
    assert problems(lesson) == []
