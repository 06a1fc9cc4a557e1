"""Ways to walk through an arrangement: measures, numbers, events with their onsets, ids."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from core.model.form import Arrangement
from core.model.lesson import Lesson
from core.model.measure import Measure
from core.model.notes import Event, Note


class Located(Struct, frozen=True):
    """An event where it stands: voice from 0, onset in ticks from the measure's start."""

    voice: int
    index: int
    onset: int
    event: Event


def measures(arrangement: Arrangement) -> Iterator[Measure]:
    """Every written measure in order."""
    for section in arrangement.sections:
        yield from section.measures


def numbers(arrangement: Arrangement) -> dict[int, int]:
    """Measure id -> printed number. The first counted measure is 1; an uncounted one keeps the
    number of the measure before it (a pickup has 0)."""
    table: dict[int, int] = {}
    number = 0
    for measure in measures(arrangement):
        number += measure.counted
        table[measure.id] = number
    return table


def called(number: int) -> str:
    """What a sentence calls the measure of a number: ``measure 7``, ``the pickup``."""
    return f"measure {number}" if number else "the pickup"


def events(measure: Measure) -> Iterator[Located]:
    """The events of a measure, voice by voice."""
    for voice, row in enumerate(measure.voices):
        onset = 0
        for index, event in enumerate(row):
            yield Located(voice, index, onset, event)
            onset += event.ticks


def notes(measure: Measure) -> Iterator[tuple[Located, Note]]:
    """The notes of a measure with the event they belong to, voice by voice."""
    for located in events(measure):
        for note in located.event.notes:
            yield located, note


def ids(lesson: Lesson) -> Iterator[int]:
    """Every id in the lesson: sections, measures, events, notes, spans, sources, other versions."""
    for section in lesson.arrangement.sections:
        yield section.id
    parts = (part.measures for source in lesson.sources for part in source.parts)
    for row in (measures(lesson.arrangement), *parts):
        for measure in row:
            yield from measure_ids(measure)
    for span in lesson.arrangement.spans:
        yield span.id


def all_events(measure: Measure) -> Iterator[Event]:
    """The events of a measure and of its other versions, voice by voice."""
    for voices in (measure.voices, *(other.voices for other in measure.others)):
        for row in voices:
            yield from row


def measure_ids(measure: Measure) -> Iterator[int]:
    """The ids of a measure, its events and notes, other versions included."""
    yield measure.id
    for event in all_events(measure):
        yield event.id
        yield from (note.id for note in event.notes)


def unplaced(measure: Measure) -> int:
    """How many notes have no place yet."""
    return sum(note.place is None for _, note in notes(measure))
