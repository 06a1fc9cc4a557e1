"""The validator: what every lesson must hold, however it came to be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from math import isfinite

from msgspec import Struct

from core.model import walk
from core.model.form import NOTE_SPANS, Arrangement, Section
from core.model.instrument import Instrument
from core.model.lesson import Lesson, Source
from core.model.measure import MOST_VOICES, Measure, TempoMark
from core.model.notes import Event, Fermata, Note
from core.model.roadmap import MOST_OCCURRENCES, most_played
from core.model.time import TICKS_PER_WHOLE

LONGEST_MEASURE = 64 * TICKS_PER_WHOLE
MOST_TIMES = 99


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
    if most_played(arrangement) > MOST_OCCURRENCES:
        found.append(Problem(f"The road map plays more than {MOST_OCCURRENCES} measures."))
    numbers = walk.numbers(arrangement)
    for section in arrangement.sections:
        found += _section_problems(section)
        for measure in section.measures:
            name = walk.called(numbers[measure.id])
            found += measure_problems(measure, arrangement.instrument, name)
            if measure.same_as is not None and measure.same_as not in numbers:
                found.append(Problem(f"{upper(name)} is like one that is gone.", measure.id))
    found += span_problems(arrangement)
    found += (
        Problem(f"A waiver of {waiver.rule} is for a measure that is not there.")
        for waiver in lesson.waivers
        if waiver.measure not in numbers
    )
    for source in lesson.sources:
        found += _source_problems(source)
    return found


def upper(sentence: str) -> str:
    """The sentence with a capital first letter."""
    return sentence[:1].upper() + sentence[1:]


def _id_problems(lesson: Lesson) -> Iterator[Problem]:
    counts = Counter(walk.ids(lesson))
    for number, count in counts.items():
        if count > 1:
            where = " and ".join(_holders(lesson, number))
            yield Problem(f"The id {number} is used {count} times, in {where}.")
        if not 0 < number < lesson.next_id:
            (where, *_) = _holders(lesson, number)
            yield Problem(f"In {where} the id {number} is outside 1 to {lesson.next_id - 1}.")


def _holders(lesson: Lesson, number: int) -> list[str]:
    """What holds an id, as people call it: ``measure 3``, ``section B``, ``a slur``."""
    arrangement = lesson.arrangement
    numbers = walk.numbers(arrangement)
    named: list[tuple[str, Iterable[int]]] = []
    for index, section in enumerate(arrangement.sections, start=1):
        named.append((f"section {section.letter or section.title or index}", (section.id,)))
        named += (
            (walk.called(numbers[measure.id]), walk.measure_ids(measure))
            for measure in section.measures
        )
    named += ((f"the list of spans ({span.kind})", (span.id,)) for span in arrangement.spans)
    for source in lesson.sources:
        for part in source.parts:
            inside = (n for measure in part.measures for n in walk.measure_ids(measure))
            named.append((f"the source {source.name}", inside))
    return list(dict.fromkeys(name for name, ids in named if number in ids))


def _section_problems(section: Section) -> Iterator[Problem]:
    name = f"Section {section.letter or section.title or section.id}"
    if not section.measures:
        yield Problem(f"{name} has no measure.")
    if not 1 <= section.times <= MOST_TIMES:
        yield Problem(f"{name} is played {section.times} times; 1 to {MOST_TIMES} are possible.")
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
        yield Problem(f"{upper(name)} has no length.", measure.id)
    if measure.length_ticks > LONGEST_MEASURE:
        yield Problem(f"{upper(name)} is longer than 64 whole notes.", measure.id)
    for voices in (measure.voices, *(other.voices for other in measure.others)):
        for row in voices:
            for event in row:
                yield from _event_problems(event, instrument, name, measure.id)
    for mark in measure.marks:
        if mark.at.ticks > measure.length_ticks:
            yield Problem(f"A mark of {name} stands after its end.", measure.id)
        speed = mark.per_minute if isinstance(mark, TempoMark) else None
        if speed is not None and not 5 <= speed <= 600:
            yield Problem(f"A tempo of {name} is outside 5 to 600 a minute.", measure.id)


def _event_problems(
    event: Event, instrument: Instrument, name: str, measure_id: int
) -> Iterator[Problem]:
    for note in event.notes:
        yield from _note_problems(note, instrument, name, measure_id)
    for mark in event.marks:
        if isinstance(mark, Fermata) and not 100 <= mark.hold_percent <= 1000:
            yield Problem(f"A fermata of {name} holds outside 100 to 1000 percent.", measure_id)


def _note_problems(
    note: Note, instrument: Instrument, name: str, measure_id: int
) -> Iterator[Problem]:
    if note.bend is not None and not (isfinite(note.bend) and abs(note.bend) <= 12):
        yield Problem(f"In {name} a bend is wider than an octave.", measure_id)
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


def span_problems(arrangement: Arrangement) -> Iterator[Problem]:
    """What is wrong with the spans."""
    order: dict[int, tuple[int, str]] = {}
    for index, measure in enumerate(walk.measures(arrangement)):
        order[measure.id] = index, "measure"
        for event in walk.all_events(measure):
            order[event.id] = index, "event"
            order.update((note.id, (index, "note")) for note in event.notes)
    for span in arrangement.spans:
        start, end = order.get(span.start), order.get(span.end)
        if start is None or end is None:
            yield Problem(f"A {span.kind} reaches from or to something that is not there.")
            continue
        if span.kind == "talk":
            allowed = {"measure"}
        else:
            allowed = {"note"} if span.kind in NOTE_SPANS else {"note", "event"}
        if not {start[1], end[1]} <= allowed:
            yield Problem(f"A {span.kind} cannot reach from {_a(start[1])} to {_a(end[1])}.")
        if start[0] > end[0]:
            yield Problem(f"A {span.kind} ends before it begins.")
        if (span.barre is not None) != (span.kind == "barre"):
            yield Problem(f"A {span.kind} has the figures of a barre, or a barre has none.")


def _a(word: str) -> str:
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def _source_problems(source: Source) -> Iterator[Problem]:
    for part in (source.melody, source.bass):
        if part is not None and not 0 <= part < len(source.parts):
            yield Problem(f"The source {source.name} has no part {part + 1}.")
