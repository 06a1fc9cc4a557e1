"""Small changes to built lessons that several tests need."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec import structs

from core.model import Event, Lesson, Measure, Note, Section, Span, Tempo, Value


def at_tempo(lesson: Lesson, beat: str, per_minute: float) -> Lesson:
    return _arranged(lesson, tempo=Tempo(Value.parse(beat), per_minute))


def with_spans(lesson: Lesson, *spans: Span) -> Lesson:
    return _arranged(lesson, spans=spans)


def with_section(lesson: Lesson, index: int = 0, **fields: Any) -> Lesson:
    rows = list(lesson.arrangement.sections)
    rows[index] = structs.replace(rows[index], **fields)
    return _arranged(lesson, sections=tuple(rows))


def with_measure(lesson: Lesson, index: int, **fields: Any) -> Lesson:
    section = lesson.arrangement.sections[0]
    row = list(section.measures)
    row[index] = structs.replace(row[index], **fields)
    return with_section(lesson, measures=tuple(row))


def with_event(lesson: Lesson, measure: int, index: int, voice: int = 0, **fields: Any) -> Lesson:
    """The lesson with one event changed."""
    return _mapped(lesson, measure, voice, index, lambda e: structs.replace(e, **fields))


def with_note(lesson: Lesson, measure: int, index: int, voice: int = 0, **fields: Any) -> Lesson:
    """The lesson with every note of one event changed."""

    def changed(event: Event) -> Event:
        notes = tuple(structs.replace(note, **fields) for note in event.notes)
        return structs.replace(event, notes=notes)

    return _mapped(lesson, measure, voice, index, changed)


def section(lesson: Lesson, index: int = 0) -> Section:
    return lesson.arrangement.sections[index]


def measure(lesson: Lesson, index: int = 0) -> Measure:
    return section(lesson).measures[index]


def event(lesson: Lesson, measure_index: int, index: int, voice: int = 0) -> Event:
    return measure(lesson, measure_index).voices[voice][index]


def first_note(lesson: Lesson, measure_index: int, index: int, voice: int = 0) -> Note:
    return event(lesson, measure_index, index, voice).notes[0]


def _arranged(lesson: Lesson, **fields: Any) -> Lesson:
    return structs.replace(lesson, arrangement=structs.replace(lesson.arrangement, **fields))


def _mapped(
    lesson: Lesson, measure_index: int, voice: int, index: int, change: Callable[[Event], Event]
) -> Lesson:
    rows = [list(row) for row in measure(lesson, measure_index).voices]
    rows[voice][index] = change(rows[voice][index])
    return with_measure(lesson, measure_index, voices=tuple(tuple(row) for row in rows))
