"""How commands work: a frozen value with `label` and `apply`; the applied edit; addressing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from msgspec import Struct, structs

from core.edit.change import Change, difference
from core.model import (
    Arrangement,
    EditRefused,
    Event,
    Lesson,
    Measure,
    Note,
    Section,
    walk,
)
from core.model.measure import MOST_VOICES


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


class At(Struct, frozen=True):
    """An event where it stands: its measure, voice and index in the voice, onset in ticks."""

    found: Found
    voice: int
    index: int
    onset: int
    event: Event

    @property
    def row(self) -> tuple[Event, ...]:
        """The events of its voice."""
        return self.found.measure.voices[self.voice]


def find_measure(lesson: Lesson, measure_id: int) -> Found:
    """Where a measure is; raises EditRefused when it is gone."""
    for section_index, section in enumerate(lesson.arrangement.sections):
        for index, measure in enumerate(section.measures):
            if measure.id == measure_id:
                return Found(section_index, index, measure)
    raise EditRefused("That measure is no longer there; choose another.")


def find_section(lesson: Lesson, section_id: int) -> tuple[int, Section]:
    """A section and its index; raises EditRefused when it is gone."""
    for index, section in enumerate(lesson.arrangement.sections):
        if section.id == section_id:
            return index, section
    raise EditRefused("That section is no longer there; choose another.")


def find_event(lesson: Lesson, measure_id: int, event_id: int) -> At:
    """Where an event is; raises EditRefused when it is gone."""
    found = find_measure(lesson, measure_id)
    for voice, row in enumerate(found.measure.voices):
        onset = 0
        for index, event in enumerate(row):
            if event.id == event_id:
                return At(found, voice, index, onset, event)
            onset += event.ticks
    name = name_of(lesson, measure_id)
    raise EditRefused(f"The note or rest is no longer there in {name}.")


def find_note(lesson: Lesson, measure_id: int, note_id: int) -> tuple[At, Note]:
    """A note and the event it belongs to; raises EditRefused when it is gone."""
    found = find_measure(lesson, measure_id)
    for located, note in walk.notes(found.measure):
        if note.id == note_id:
            where = At(found, located.voice, located.index, located.onset, located.event)
            return where, note
    raise EditRefused(f"The note is no longer there in {name_of(lesson, measure_id)}.")


def name_of(lesson: Lesson, measure_id: int) -> str:
    """What a sentence calls the measure: ``measure 7``, ``the pickup``."""
    return walk.called(walk.numbers(lesson.arrangement).get(measure_id, 0))


def refuse(lesson: Lesson, measure_id: int, why: str) -> EditRefused:
    """The refusal of an edit in a measure, to be raised: ``In measure 7 there is no note.``"""
    return EditRefused(f"In {name_of(lesson, measure_id)} {why}")


def check_voice(lesson: Lesson, measure_id: int, voice: int) -> None:
    """Refuse voices outside 0 to 3."""
    if not 0 <= voice < MOST_VOICES:
        raise refuse(
            lesson, measure_id, f"there can be no voice {voice + 1}; a measure has at most 4."
        )


def with_arrangement(lesson: Lesson, arrangement: Arrangement, ids: Ids | None = None) -> Lesson:
    """The lesson with another arrangement (and the high-water mark after `ids`)."""
    next_id = lesson.next_id if ids is None else max(ids.next, lesson.next_id)
    return structs.replace(lesson, arrangement=arrangement, next_id=next_id)


def with_sections(lesson: Lesson, sections: Sequence[Section], ids: Ids | None = None) -> Lesson:
    """The lesson with other sections."""
    updated = structs.replace(lesson.arrangement, sections=tuple(sections))
    return with_arrangement(lesson, updated, ids)


def with_section(
    lesson: Lesson, index: int, sections: Sequence[Section], ids: Ids | None = None
) -> Lesson:
    """The lesson with the section at `index` replaced by none, one or several."""
    row = lesson.arrangement.sections
    return with_sections(lesson, (*row[:index], *sections, *row[index + 1 :]), ids)


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


def with_event(at: At, event: Event) -> Measure:
    """The measure with one event replaced."""
    row = (*at.row[: at.index], event, *at.row[at.index + 1 :])
    return with_events(at.found.measure, at.voice, row)


def with_note(at: At, note: Note) -> Measure:
    """The measure with one note (found by its id) replaced."""
    notes = tuple(note if old.id == note.id else old for old in at.event.notes)
    return with_event(at, structs.replace(at.event, notes=notes))


def map_events(measure: Measure, change: Callable[[Event], Event]) -> Measure:
    """The measure with every event mapped; the same object when nothing changed."""
    rows = tuple(tuple(change(event) for event in row) for row in measure.voices)
    same = all(
        a is b
        for old, new in zip(measure.voices, rows, strict=True)
        for a, b in zip(old, new, strict=True)
    )
    return measure if same else structs.replace(measure, voices=rows)


def by_pitch(notes: Sequence[Note]) -> tuple[Note, ...]:
    """The notes of a chord from the lowest to the highest."""
    return tuple(sorted(notes, key=lambda note: (note.pitch.midi, note.pitch.diatonic)))
