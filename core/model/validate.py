"""The validator: what every lesson must hold, however it came to be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from msgspec import Struct

from core.model import walk
from core.model.form import Arrangement, Section
from core.model.instrument import Instrument
from core.model.lesson import Lesson
from core.model.measure import MOST_VOICES, Measure
from core.model.notes import Note


class Problem(Struct, frozen=True):
    """Why a lesson is not sound, as a sentence, and at which measure id (None: the lesson)."""

    sentence: str
    measure: int | None = None


def problems(lesson: Lesson) -> list[Problem]:
    """Everything wrong with a lesson; empty for a sound one."""
    arrangement = lesson.arrangement
    found = list(_id_problems(lesson))
    if not arrangement.sections:
        found.append(Problem("The arrangement has no section."))
    numbers = walk.numbers(arrangement)
    for section in arrangement.sections:
        found += _section_problems(section)
        for measure in section.measures:
            name = f"measure {numbers[measure.id]}"
            found += measure_problems(measure, arrangement.instrument, name)
    found += _span_problems(arrangement)
    return found


def _id_problems(lesson: Lesson) -> Iterator[Problem]:
    counts = Counter(walk.ids(lesson))
    for number, count in counts.items():
        if count > 1:
            yield Problem(f"The id {number} is used {count} times.")
        if not 0 < number < lesson.next_id:
            yield Problem(f"The id {number} is outside 1 to {lesson.next_id - 1}.")


def _section_problems(section: Section) -> Iterator[Problem]:
    name = f"Section {section.letter or section.title or section.id}"
    if not section.measures:
        yield Problem(f"{name} has no measure.")
    if not 1 <= section.times <= 99:
        yield Problem(f"{name} is played {section.times} times; 1 to 99 are possible.")
    order = {measure.id: index for index, measure in enumerate(section.measures)}
    for ending in section.endings:
        if ending.first not in order or ending.last not in order:
            yield Problem(f"{name} has an ending whose measures are elsewhere.")
        elif order[ending.first] > order[ending.last]:
            yield Problem(f"{name} has an ending that ends before it begins.", ending.first)
        if not ending.passes or not all(1 <= p <= section.times for p in ending.passes):
            yield Problem(f"{name} has an ending for a time it is never played.", ending.first)


def measure_problems(measure: Measure, instrument: Instrument, name: str) -> Iterator[Problem]:
    """What is wrong inside one measure; `name` begins each sentence."""
    if not 1 <= len(measure.voices) <= MOST_VOICES:
        yield Problem(f"In {name} there are {len(measure.voices)} voices, not 1 to 4.", measure.id)
    if measure.ticks <= 0:
        yield Problem(f"{name.capitalize()} has no length.", measure.id)
    for _, note in walk.notes(measure):
        yield from _note_problems(note, instrument, name, measure.id)
    for mark in measure.marks:
        if mark.at.ticks > measure.length_ticks:
            yield Problem(f"A mark of {name} stands after its end.", measure.id)


def _note_problems(
    note: Note, instrument: Instrument, name: str, measure_id: int
) -> Iterator[Problem]:
    if note.place is None:
        return
    place = note.place.value
    if place.string > len(instrument.strings):
        yield Problem(
            f"In {name} a note is on string {place.string}, which is not there.", measure_id
        )
    elif note.harmonic is None and instrument.midi_at(place) != note.pitch.midi:
        yield Problem(
            f"In {name} string {place.string}, fret {place.fret} does not sound {note.pitch}.",
            measure_id,
        )


def _span_problems(arrangement: Arrangement) -> Iterator[Problem]:
    known: set[int] = set()
    for measure in walk.measures(arrangement):
        known.update(walk.measure_ids(measure))
    for span in arrangement.spans:
        if span.start not in known or span.end not in known:
            yield Problem(f"A {span.kind} reaches from or to something that is not there.")
