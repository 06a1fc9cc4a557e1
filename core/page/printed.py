"""A lesson as paper shows it: a student's page does not tell whose idea a finger was."""

from __future__ import annotations

from typing import TypeVar

from msgspec import structs

from core.edit.base import map_events
from core.model import Event, Label, Lesson, Measure, Note, Origin, Section, walk
from core.page.style import PageStyle

T = TypeVar("T")


def printed(lesson: Lesson, style: PageStyle) -> Lesson:
    """The lesson with what is suggested drawn like what is pinned, where it is shown at all.

    The screen tells the two apart; on paper they are alike. What has no suggestion is shared.
    """
    if not style.show_suggested:
        return lesson
    arrangement = lesson.arrangement
    sections = tuple(map(_section, arrangement.sections))
    spans = tuple(
        structs.replace(span, suggested=False) if span.suggested else span
        for span in arrangement.spans
    )
    firm = structs.replace(arrangement, sections=sections, spans=spans)
    return structs.replace(lesson, arrangement=firm)


def _section(section: Section) -> Section:
    return structs.replace(section, measures=tuple(map(_measure, section.measures)))


def _measure(measure: Measure) -> Measure:
    if not any(_suggested(note) for event in walk.all_events(measure) for note in event.notes):
        return measure
    others = tuple(
        structs.replace(other, voices=tuple(tuple(map(_event, row)) for row in other.voices))
        for other in measure.others
    )
    return structs.replace(map_events(measure, _event), others=others)


def _event(event: Event) -> Event:
    return structs.replace(event, notes=tuple(map(_note, event.notes)))


def _suggested(note: Note) -> bool:
    labels = (note.place, note.finger, note.plucking)
    return any(label is not None and not label.firm for label in labels)


def _note(note: Note) -> Note:
    if not _suggested(note):
        return note
    return structs.replace(
        note, place=_firm(note.place), finger=_firm(note.finger), plucking=_firm(note.plucking)
    )


def _firm(label: Label[T] | None) -> Label[T] | None:
    return None if label is None else structs.replace(label, origin=Origin.PINNED)
