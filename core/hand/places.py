"""Quick places: the cheapest playable string and fret for notes that have none.

A beam over the onsets of the written music. At each onset all notes that sound are looked at
together: ringing notes keep their strings, every string carries one note, the pressed frets lie
within one hand's span in millimetres on this instrument. Low frets, open strings and a hand that
stays where it is are cheap. Weights are house defaults; the real search comes later.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from msgspec import structs

from core.hand.reach import barred_strings, holdable, span_limit_mm, span_mm
from core.hand.sounding import heard
from core.hand.strokes import Limits, Stroke, strokes
from core.model import (
    Arrangement,
    Event,
    HandProfile,
    Label,
    Lesson,
    LevelContract,
    Measure,
    Note,
    Origin,
    Place,
    Section,
    walk,
)

SOLVER = "quick places/1"

MOST_STATES = 16
MOST_PLACINGS = 10
MOST_PARTIAL = 40

FRET_COST = 1.0  # each fret up the neck
HIGH_FRET_COST = 1.0  # each fret beyond the first four, besides
SHIFT_COST = 2.0  # each fret the hand moves along the neck
STRETCH_COST_PER_MM = 0.25
EASY_SPAN_MM = 98.0  # four frets in first position on 650 mm (check: 97.6)
BARRE_COST = 12.0
UNPLACED_COST = 1000.0

Placing = tuple[Place | None, ...]
Ringing = tuple[tuple[Place, int], ...]


class Suggestion(NamedTuple):
    """Suggested places by note id, and the ids of the notes that no hand can place."""

    places: dict[int, Label[Place]]
    unplaced: tuple[int, ...]


class _State(NamedTuple):
    """A way to have come this far: where finger 1 stands, what still rings, and the way here."""

    cost: float
    position: int
    ringing: Ringing
    placing: Placing
    before: _State | None


class _Option(NamedTuple):
    cost: float
    placing: Placing


def suggest(
    arrangement: Arrangement,
    measure_ids: Collection[int] | None = None,
    *,
    contract: LevelContract | None = None,
    hand: HandProfile | None = None,
) -> Suggestion:
    """Places for every note that has none, or only a suggested one.

    With `measure_ids`, for the notes of those measures only. Places from the source and pinned
    ones are kept as they are. Frets go up to the contract's highest (level 1 unless given), the
    span is the student's own where the hand was measured.
    """
    highest_fret = (contract or LevelContract()).highest_fret
    limits = Limits(arrangement.instrument, highest_fret, span_limit_mm(hand or HandProfile()))
    rows = strokes(heard(arrangement, measure_ids), limits, measure_ids)
    places: dict[int, Label[Place]] = {}
    unplaced: list[int] = []
    for row, placing in zip(rows, search(rows, limits), strict=True):
        for stroke, place in zip(row, placing, strict=True):
            for note in _asking(stroke, measure_ids):
                if place is None:
                    unplaced.append(note.id)
                else:
                    places[note.id] = Label(place, Origin.SUGGESTED)
    return Suggestion(places, tuple(unplaced))


def _asking(stroke: Stroke, measure_ids: Collection[int] | None) -> Iterator[Note]:
    """The notes of a stroke whose place is not firm, in the measures asked for."""
    for sound in stroke.sounds:
        for note, measure in zip(sound.notes, sound.measures, strict=True):
            if (note.place is None or not note.place.firm) and (
                measure_ids is None or measure in measure_ids
            ):
                yield note


def search(rows: list[list[Stroke]], limits: Limits) -> list[Placing]:
    """The cheapest placing of every row of strokes; None for a stroke that is left out."""
    states = [_State(0.0, 1, (), (), None)]
    options: dict[object, list[_Option]] = {}
    for row in rows:
        best: dict[tuple[int, Ringing], _State] = {}
        for state in states:
            for after in _steps(state, row, limits, options):
                key = (after.position, after.ringing)
                if key not in best or after.cost < best[key].cost:
                    best[key] = after
        states = sorted(best.values(), key=lambda s: s.cost)[:MOST_STATES]
    placings: list[Placing] = []
    last = states[0]
    while last.before is not None:
        placings.append(last.placing)
        last = last.before
    return placings[::-1]


def _steps(
    state: _State,
    row: list[Stroke],
    limits: Limits,
    known: dict[object, list[_Option]],
) -> Iterator[_State]:
    """The states after the strokes of one moment."""
    moment = row[0].start[0]
    ringing = tuple((place, end) for place, end in state.ringing if end > moment)
    held = tuple(place for place, _ in ringing)
    key = (held, tuple((stroke.choices, stroke.firm) for stroke in row))
    if key not in known:
        known[key] = _options(row, held, limits)
    for cost, placing in known[key]:
        new = [(p, s.end) for p, s in zip(placing, row, strict=True) if p is not None]
        kept = [r for r in ringing if all(r[0].string != p.string for p, _ in new)]
        sounding = tuple(sorted((*kept, *new), key=lambda pair: pair[0].string))
        position = _position(state.position, [place.fret for place, _ in sounding])
        shift = SHIFT_COST * abs(position - state.position)
        yield _State(state.cost + cost + shift, position, sounding, placing, state)


def _position(before: int, frets: list[int]) -> int:
    """Where finger 1 comes to stand: it moves no more than the pressed frets ask for."""
    pressed = [fret for fret in frets if fret > 0]
    if not pressed:
        return before
    return min(max(before, max(pressed) - 3), *pressed)


def _options(row: list[Stroke], held: tuple[Place, ...], limits: Limits) -> list[_Option]:
    """The cheapest placings of one moment; leaving a note unplaced costs more than all else.

    A firm place always stands, even where it takes the string of a ringing note.
    """
    firm = tuple(stroke.firm for stroke in row if stroke.firm is not None)
    taken = {place.string for place in firm}
    kept = tuple(place for place in held if place.string not in taken)
    partial = [_Option(UNPLACED_COST * (len(held) - len(kept)), ())]
    for stroke in row:
        partial = sorted(
            (
                _Option(cost + price, (*placing, place))
                for cost, placing in partial
                for price, place in _priced(stroke, (*kept, *firm, *_given(placing, firm)), limits)
            ),
            key=lambda option: option.cost,
        )[:MOST_PARTIAL]
    options = (_Option(o.cost + _shape_cost(o.placing, kept, limits), o.placing) for o in partial)
    return sorted(options, key=lambda option: option.cost)[:MOST_PLACINGS]


def _given(placing: Placing, firm: tuple[Place, ...] = ()) -> tuple[Place, ...]:
    return tuple(place for place in placing if place is not None and place not in firm)


def _priced(
    stroke: Stroke, sounding: tuple[Place, ...], limits: Limits
) -> Iterator[tuple[float, Place | None]]:
    """The places of a stroke that go with what sounds already, each with its price."""
    if stroke.firm is not None:
        yield 0.0, stroke.firm
        return
    yield UNPLACED_COST * len(stroke.sounds), None
    for place in stroke.choices:
        if holdable((*sounding, place), limits.instrument, limits.span_mm):
            yield FRET_COST * place.fret + HIGH_FRET_COST * max(0, place.fret - 4), place


def _shape_cost(placing: Placing, held: tuple[Place, ...], limits: Limits) -> float:
    together = (*held, *_given(placing))
    width_mm = span_mm(limits.instrument, (place.fret for place in together))
    stretch = STRETCH_COST_PER_MM * max(0.0, width_mm - EASY_SPAN_MM)
    return stretch + BARRE_COST * (barred_strings(together) > 0)


def with_places(
    lesson: Lesson, measure_ids: Collection[int] | None = None
) -> tuple[Lesson, tuple[int, ...]]:
    """The lesson with quick places suggested, and the ids of the notes left without one.

    A suggested place that no longer holds is taken away; firm ones stay. Measures that do not
    change are shared with the original, and so is the lesson when none does.
    """
    found = suggest(
        lesson.arrangement, measure_ids, contract=lesson.brief.level, hand=lesson.brief.hand
    )
    wanted: dict[int, Label[Place] | None] = {**dict.fromkeys(found.unplaced), **found.places}
    sections = tuple(_amended_section(s, wanted) for s in lesson.arrangement.sections)
    if all(new is old for new, old in zip(sections, lesson.arrangement.sections, strict=True)):
        return lesson, found.unplaced
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    return structs.replace(lesson, arrangement=arrangement, solver=SOLVER), found.unplaced


def _amended_section(section: Section, wanted: dict[int, Label[Place] | None]) -> Section:
    measures = tuple(_amended(measure, wanted) for measure in section.measures)
    if all(new is old for new, old in zip(measures, section.measures, strict=True)):
        return section
    return structs.replace(section, measures=measures)


def _amended(measure: Measure, wanted: dict[int, Label[Place] | None]) -> Measure:
    changed = {
        note.id
        for _, note in walk.notes(measure)
        if note.id in wanted and wanted[note.id] != note.place
    }
    if not changed:
        return measure
    voices = tuple(
        tuple(_amended_event(event, changed, wanted) for event in row) for row in measure.voices
    )
    return structs.replace(measure, voices=voices)


def _amended_event(
    event: Event, changed: set[int], wanted: dict[int, Label[Place] | None]
) -> Event:
    if changed.isdisjoint(note.id for note in event.notes):
        return event
    notes = tuple(
        structs.replace(note, place=wanted[note.id]) if note.id in changed else note
        for note in event.notes
    )
    return structs.replace(event, notes=notes)
