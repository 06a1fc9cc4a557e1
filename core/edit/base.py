"""How commands work: a frozen value with `label` and `apply`; the applied edit; addressing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from msgspec import Struct, structs

from core.edit.change import Change, difference
from core.model import Arrangement, EditRefused, Event, Lesson, Measure, Section, walk


class Command(Protocol):
    """A change the teacher asks for. Immutable; addressed by ids, voices and ticks."""

    @property
    def label(self) -> str:
        """What the undo menu calls it, in the trade's words."""
        ...

    def apply(self, lesson: Lesson) -> Lesson:
        """The updated lesson; raises EditRefused, with a sentence, before touching anything."""
        ...


class Edit(Struct, frozen=True):
    """An applied command: the updated lesson and what changed."""

    lesson: Lesson
    change: Change


def apply(command: Command, lesson: Lesson) -> Edit:
    """Carry out a command; raises EditRefused. An edit that changes nothing has an empty Change."""
    updated = command.apply(lesson)
    return Edit(updated, difference(lesson, updated, command.label))


class Ids:
    """Hands out fresh ids during one command."""

    def __init__(self, lesson: Lesson) -> None:
        self.next = lesson.next_id

    def take(self) -> int:
        self.next += 1
        return self.next - 1


class Found(Struct, frozen=True):
    """A measure where it stands: section index, index in the section."""

    section: int
    index: int
    measure: Measure


def find_measure(lesson: Lesson, measure_id: int) -> Found:
    """Where a measure is; raises EditRefused when it is gone."""
    for section_index, section in enumerate(lesson.arrangement.sections):
        for index, measure in enumerate(section.measures):
            if measure.id == measure_id:
                return Found(section_index, index, measure)
    raise EditRefused("That measure is no longer there.")


def name_of(lesson: Lesson, measure_id: int) -> str:
    """What a sentence calls the measure: ``measure 7``, ``the pickup``."""
    number = walk.numbers(lesson.arrangement).get(measure_id, 0)
    return f"measure {number}" if number else "the pickup"


def with_arrangement(lesson: Lesson, arrangement: Arrangement, ids: Ids | None = None) -> Lesson:
    """The lesson with another arrangement (and the high-water mark after `ids`)."""
    next_id = lesson.next_id if ids is None else max(ids.next, lesson.next_id)
    return structs.replace(lesson, arrangement=arrangement, next_id=next_id)


def with_section(
    lesson: Lesson, index: int, sections: Sequence[Section], ids: Ids | None = None
) -> Lesson:
    """The lesson with the section at `index` replaced by none, one or several."""
    row = lesson.arrangement.sections
    updated = (*row[:index], *sections, *row[index + 1 :])
    return with_arrangement(lesson, structs.replace(lesson.arrangement, sections=updated), ids)


def with_measure(lesson: Lesson, found: Found, measure: Measure, ids: Ids | None = None) -> Lesson:
    """The lesson with one measure replaced; everything else is shared with the original."""
    section = lesson.arrangement.sections[found.section]
    row = section.measures
    updated = (*row[: found.index], measure, *row[found.index + 1 :])
    return with_section(lesson, found.section, [structs.replace(section, measures=updated)], ids)


def with_events(measure: Measure, voice: int, events: Sequence[Event]) -> Measure:
    """The measure with the events of one voice replaced; voices up to it come into being."""
    rows = list(measure.voices) + [()] * (voice + 1 - len(measure.voices))
    rows[voice] = tuple(events)
    return structs.replace(measure, voices=tuple(rows))


def map_events(measure: Measure, change: Callable[[Event], Event]) -> Measure:
    """The measure with every event mapped; the same object when nothing changed."""
    rows = tuple(tuple(change(event) for event in row) for row in measure.voices)
    same = all(
        a is b
        for old, new in zip(measure.voices, rows, strict=True)
        for a, b in zip(old, new, strict=True)
    )
    return measure if same else structs.replace(measure, voices=rows)
