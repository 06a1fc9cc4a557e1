"""Invariant 11: whatever the lesson says has a primitive. Each sign is taken out of the lesson that
holds every sign, one at a time, and the page must become another."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from msgspec import structs

from core.model import Arrangement, Event, Lesson, Measure, Note, Section
from core.page.engrave import Cache, engrave
from core.page.style import PageStyle
from tests import everything
from tests.core.page.kit import metrics

NOT_DRAWN = {
    "measure.barline.single": "the bar line that is there without it",
    "note.accidental.hidden": "takes away, and here there is nothing",
    "measure.same_as": "a link for the teacher's work",
    "span.hidden": "hidden",
    "span.tuplet": "brackets are drawn from the values",
}
USUAL_NOTE = Note(1, everything.GUITAR.strings[0])
USUAL_EVENT = Event(1, everything.QUARTER)
USUAL_MEASURE = Measure(1, everything.FOUR, everything.KEY)
USUAL_SECTION = Section(1, ())


def without(lesson: Lesson) -> Iterator[tuple[str, Lesson]]:
    """(what was taken out, the lesson without it), for every sign of the lesson."""
    arrangement = lesson.arrangement
    for at, span in enumerate(arrangement.spans):
        rest = (*arrangement.spans[:at], *arrangement.spans[at + 1 :])
        name = "span.hidden" if span.hidden else f"span.{span.kind}"
        yield name, _with(lesson, structs.replace(arrangement, spans=rest))
    for at, section in enumerate(arrangement.sections):
        for name, changed in _of_section(section):
            sections = (*arrangement.sections[:at], changed, *arrangement.sections[at + 1 :])
            yield name, _with(lesson, structs.replace(arrangement, sections=sections))


def _with(lesson: Lesson, arrangement: Arrangement) -> Lesson:
    return structs.replace(lesson, arrangement=arrangement)


def _of_section(section: Section) -> Iterator[tuple[str, Section]]:
    for field in ("letter", "title", "times", "endings"):
        if getattr(section, field) != getattr(USUAL_SECTION, field):
            usual = getattr(USUAL_SECTION, field)
            yield f"section.{field}", structs.replace(section, **{field: usual})
    for at, measure in enumerate(section.measures):
        for name, changed in _of_measure(measure):
            row = (*section.measures[:at], changed, *section.measures[at + 1 :])
            yield name, structs.replace(section, measures=row)


def _of_measure(measure: Measure) -> Iterator[tuple[str, Measure]]:
    for field in ("barline", "counted", "line_break", "same_as", "others"):
        usual = getattr(USUAL_MEASURE, field)
        if getattr(measure, field) != usual:
            value = f".{measure.barline}" if field == "barline" else ""
            yield f"measure.{field}{value}", structs.replace(measure, **{field: usual})
    for field in ("marks", "signs"):
        row = getattr(measure, field)
        for at, sign in enumerate(row):
            rest = (*row[:at], *row[at + 1 :])
            name = f"measure.{field}.{type(sign).__name__}.{getattr(sign, 'kind', '')}"
            yield name, structs.replace(measure, **{field: rest})
    for voice, row in enumerate(measure.voices):
        for at, event in enumerate(row):
            for name, changed in _of_event(event):
                events = (*row[:at], changed, *row[at + 1 :])
                voices = (*measure.voices[:voice], events, *measure.voices[voice + 1 :])
                yield name, structs.replace(measure, voices=voices)


def _of_event(event: Event) -> Iterator[tuple[str, Event]]:
    for at, mark in enumerate(event.marks):
        rest = (*event.marks[:at], *event.marks[at + 1 :])
        kind = getattr(mark, "kind", getattr(mark, "shape", getattr(mark, "text", "")))
        yield f"mark.{type(mark).__name__}.{kind}", structs.replace(event, marks=rest)
    for field in ("hidden", "rest_line"):
        usual = getattr(USUAL_EVENT, field)
        if getattr(event, field) != usual:
            yield f"event.{field}", structs.replace(event, **{field: usual})
    for at, note in enumerate(event.notes):
        for field in Note.__struct_fields__[2:]:
            usual = getattr(USUAL_NOTE, field)
            if getattr(note, field) != usual:
                changed = structs.replace(note, **{field: usual})
                notes = (*event.notes[:at], changed, *event.notes[at + 1 :])
                value = f".{note.accidental}" if field == "accidental" else ""
                yield f"note.{field}{value}", structs.replace(event, notes=notes)


@pytest.mark.parametrize("style", [PageStyle(), PageStyle(staves="staff")], ids=["both", "staff"])
def test_every_sign_is_drawn(style: PageStyle) -> None:
    lesson, cache = everything.lesson(), Cache()
    whole = engrave(lesson, style, metrics(), cache).sheets
    missing = {
        name
        for name, less in without(lesson)
        if engrave(less, style, metrics(), cache).sheets == whole
    }
    assert missing == set(NOT_DRAWN)
