"""The generators cover the model: a sign nobody draws is a sign nobody tests."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from core.model import Event, Lesson, Note
from core.model.validate import problems
from tests import strategies


@pytest.mark.parametrize("field", Note.__struct_fields__[3:])
def test_every_field_of_a_note_is_drawn(field: str) -> None:
    special = {"harmonic"}  # drawn with its place
    assert field in special or any(field in extra for extra in strategies.NOTE_EXTRAS)


@pytest.mark.parametrize("field", Event.__struct_fields__[3:])
def test_every_field_of_an_event_is_drawn(field: str) -> None:
    special = {"grace"}  # drawn among the events of a voice
    assert field in special or any(field in extra for extra in strategies.EVENT_EXTRAS)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons())
def test_drawn_lessons_are_sound(lesson: Lesson) -> None:
    assert problems(lesson) == []
