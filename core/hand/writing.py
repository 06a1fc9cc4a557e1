"""Suggestions written into a lesson: suggested labels, never firm ones."""

from __future__ import annotations

from msgspec import structs

from core.hand.barres import marked
from core.hand.fingering import SOLVER, Suggested
from core.model import Event, Lesson, Measure, Note, Section


def with_suggestions(lesson: Lesson, found: Suggested) -> Lesson:
    """The lesson with suggested places, fingers and barres. Firm labels and the barres that
    somebody set stay; measures that do not change are shared with the original; a note that cannot
    be played loses what was suggested before."""
    sections = tuple(_section(section, found) for section in lesson.arrangement.sections)
    if not all(a is b for a, b in zip(sections, lesson.arrangement.sections, strict=True)):
        arrangement = structs.replace(lesson.arrangement, sections=sections)
        lesson = structs.replace(lesson, arrangement=arrangement, solver=SOLVER)
    return with_barres(lesson, found)


def with_barres(lesson: Lesson, found: Suggested) -> Lesson:
    """The lesson with the suggested barres instead of those that were suggested before in the
    measures asked for; the same object where nothing is new."""
    return marked(lesson, found.barres, found.window, SOLVER)


def _section(section: Section, found: Suggested) -> Section:
    measures = tuple(_measure(measure, found) for measure in section.measures)
    if all(a is b for a, b in zip(measures, section.measures, strict=True)):
        return section
    return structs.replace(section, measures=measures)


def _measure(measure: Measure, found: Suggested) -> Measure:
    voices = tuple(tuple(_event(event, found) for event in row) for row in measure.voices)
    same = all(
        a is b
        for mine, theirs in zip(voices, measure.voices, strict=True)
        for a, b in zip(mine, theirs, strict=True)
    )
    return measure if same else structs.replace(measure, voices=voices)


def _event(event: Event, found: Suggested) -> Event:
    notes = tuple(_note(note, found) for note in event.notes)
    if all(a is b for a, b in zip(notes, event.notes, strict=True)):
        return event
    return structs.replace(event, notes=notes)


def _note(note: Note, found: Suggested) -> Note:
    place, finger = note.place, note.finger
    if place is None or not place.firm:
        place = found.places.get(note.id, None if note.id in found.unplaced else place)
    if finger is None or not finger.firm:
        finger = found.fingers.get(note.id, None if note.id in found.unplaced else finger)
    if place == note.place and finger == note.finger:
        return note
    return structs.replace(note, place=place, finger=finger)
