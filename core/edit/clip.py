"""Selections: copying, cutting and pasting music."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct, structs

from core.edit.base import Found, Ids, check_voice, find_measure, refuse, with_events, with_section
from core.edit.copying import copied_event, copied_spans
from core.edit.measures import run_of, with_spans
from core.edit.mend import check_length, put_measure, put_measures
from core.edit.notes import CANNOT_CUT, Spot, place_row, silenced
from core.edit.rows import Mode, Pen, Row, Uncuttable, overwrite, split
from core.model import EditRefused, Event, Instrument, Lesson, Measure, Note, Span, walk
from core.model.measure import MOST_VOICES

ALL_VOICES = tuple(range(MOST_VOICES))


class Selection(Struct, frozen=True):
    """Music from a tick of one measure up to (not including) a tick of the same or a later one.

    An event is in it when it begins there.
    """

    first: int
    start: int
    last: int
    end: int
    voices: tuple[int, ...] = ALL_VOICES


class Piece(Struct, frozen=True):
    """One event of a clip: its voice, and its ticks after the clip's beginning."""

    voice: int
    offset: int
    event: Event


class Clip(Struct, frozen=True):
    """Music taken along: events in order, and the lines that lie wholly in it."""

    pieces: tuple[Piece, ...]
    spans: tuple[Span, ...] = ()

    @property
    def top(self) -> int:
        """Its first voice."""
        return min(piece.voice for piece in self.pieces)


def selected(lesson: Lesson, what: Selection) -> Iterator[tuple[Found, int, int, int]]:
    """Where the selected events are: measure, voice, index in the voice, ticks from the start."""
    begin = 0
    for found in run_of(lesson, what.first, what.last):
        measure = found.measure
        for voice, row in enumerate(measure.voices):
            onset = 0
            for index, event in enumerate(row):
                early = measure.id == what.first and onset < what.start
                late = measure.id == what.last and onset >= what.end
                if voice in what.voices and not early and not late:
                    yield found, voice, index, begin + onset - what.start
                onset += event.ticks
        begin += measure.ticks


def copy(lesson: Lesson, what: Selection) -> Clip:
    """The selected music as a clip; raises EditRefused when there is none."""
    pieces = tuple(
        Piece(voice, offset, found.measure.voices[voice][index])
        for found, voice, index, offset in selected(lesson, what)
    )
    if not pieces:
        raise EditRefused("Nothing is selected; select notes or measures first.")
    numbers = {n for p in pieces for n in (p.event.id, *(note.id for note in p.event.notes))}
    spans = tuple(
        span for span in lesson.arrangement.spans if span.start in numbers and span.end in numbers
    )
    return Clip(pieces, spans)


class ClearSelection(Struct, frozen=True):
    """Take selected music out: rests stay in its time, or what follows moves up (`close_up`)."""

    what: Selection
    close_up: bool = False

    @property
    def label(self) -> str:
        return "cut" if self.close_up else "clear"

    def apply(self, lesson: Lesson) -> Lesson:
        chosen: dict[int, set[int]] = {}
        for found, voice, index, _ in selected(lesson, self.what):
            event = found.measure.voices[voice][index]
            if self.close_up or event.notes:
                chosen.setdefault(found.measure.id, set()).add(event.id)
        changed: dict[int, Measure] = {}
        for number, events in chosen.items():
            measure = find_measure(lesson, number).measure
            rows = tuple(self._cleared(row, events) for row in measure.voices)
            changed[number] = structs.replace(measure, voices=rows)
        return put_measures(lesson, changed) if changed else lesson

    def _cleared(self, row: Row, events: set[int]) -> Row:
        return tuple(
            silenced(event) if event.id in events else event
            for event in row
            if event.id not in events or not (self.close_up or event.grace is not None)
        )


class Paste(Struct, frozen=True):
    """Put a clip in at a tick of a measure.

    Overwriting, it takes the place of what is there and goes on over barlines (notes across one
    are tied) and, where the piece ends, into new measures. Inserting, all of it is pushed into
    the one measure. `voice` is where its first voice goes (None: where it came from).
    Places that do not sound the pitch on this guitar are left open.
    """

    measure: int
    tick: int
    clip: Clip
    voice: int | None = None
    mode: Mode = "overwrite"

    @property
    def label(self) -> str:
        return "paste"

    def apply(self, lesson: Lesson) -> Lesson:
        if not self.clip.pieces:
            raise EditRefused("There is nothing to paste; copy something first.")
        if self.tick < 0:
            raise refuse(
                lesson, self.measure, "there is no moment before its start; choose one inside it."
            )
        ids, numbers = Ids(lesson), dict[int, int]()
        pieces = tuple(self._fresh(lesson, ids, numbers))
        if self.mode == "insert":
            pasted = self._inserted(lesson, pieces, ids)
        else:
            pasted = _overwritten(lesson, self.measure, self.tick, pieces, ids)
        spans = copied_spans(self.clip.spans, ids, numbers)
        return with_spans(pasted, _in_order(pasted, spans), ids)

    def _fresh(self, lesson: Lesson, ids: Ids, numbers: dict[int, int]) -> Iterator[Piece]:
        shift = 0 if self.voice is None else self.voice - self.clip.top
        instrument = lesson.arrangement.instrument
        for piece in self.clip.pieces:
            check_voice(lesson, self.measure, piece.voice + shift)
            event = copied_event(piece.event, ids, numbers)
            notes = tuple(_fitting(note, instrument) for note in event.notes)
            yield Piece(piece.voice + shift, piece.offset, structs.replace(event, notes=notes))

    def _inserted(self, lesson: Lesson, pieces: Sequence[Piece], ids: Ids) -> Lesson:
        found = find_measure(lesson, self.measure)
        measure = found.measure
        for voice in sorted({piece.voice for piece in pieces}):
            middle = tuple(piece.event for piece in pieces if piece.voice == voice)
            row = place_row(lesson, measure, middle, Spot(voice, self.tick, "insert"), ids)
            measure = with_events(measure, voice, row)
        return put_measure(lesson, found, measure, ids)


def _in_order(lesson: Lesson, spans: tuple[Span, ...]) -> tuple[Span, ...]:
    """The spans both of whose ends came in, the first not in a later measure than the second.

    Where a clip is over-full its voices come apart at a barline.
    """
    if not spans:
        return ()
    order = {
        number: index
        for index, measure in enumerate(walk.measures(lesson.arrangement))
        for number in walk.measure_ids(measure)
    }
    behind = len(order)
    return tuple(s for s in spans if s.end in order and order.get(s.start, behind) <= order[s.end])


def _fitting(note: Note, instrument: Instrument) -> Note:
    """The note, without a place that is not on this guitar or does not sound its pitch there."""
    if note.place is None:
        return note
    place = note.place.value
    there = place.string <= len(instrument.strings)
    if there and (note.harmonic is not None or instrument.midi_at(place) == note.pitch.midi):
        return note
    return structs.replace(note, place=None, harmonic=None, circled=False)


def _overwritten(
    lesson: Lesson, measure_id: int, tick: int, pieces: Sequence[Piece], ids: Ids
) -> Lesson:
    find_measure(lesson, measure_id)
    rest = [structs.replace(piece, offset=piece.offset + tick) for piece in pieces]
    number: int | None = measure_id
    while rest and number is not None:
        found = find_measure(lesson, number)
        measure, rest = _one_measure(lesson, found.measure, rest, ids)
        lesson = put_measure(lesson, found, measure, ids)
        if rest:
            lesson, number = _next_measure(lesson, find_measure(lesson, number), ids)
    return lesson


def _one_measure(
    lesson: Lesson, measure: Measure, pieces: Sequence[Piece], ids: Ids
) -> tuple[Measure, list[Piece]]:
    """The measure with the pieces that begin in it, and what is left for the following ones."""
    end, left = measure.ticks, []
    pen = Pen(measure.metre, ids)
    for piece in pieces:
        event, onset = piece.event, piece.offset
        if onset >= end:
            left.append(structs.replace(piece, offset=onset - end))
            continue
        try:
            middle: Row = (event,)
            if onset + event.ticks > end:
                middle, later = _across(event, onset, end, pen)
                left += [Piece(piece.voice, offset, part) for offset, part in later]
            row = measure.voices[piece.voice] if piece.voice < len(measure.voices) else ()
            row = overwrite(row, onset, middle, pen)
        except Uncuttable:
            raise refuse(lesson, measure.id, CANNOT_CUT) from None
        measure = with_events(measure, piece.voice, row)
    return measure, left


def _across(event: Event, onset: int, end: int, pen: Pen) -> tuple[Row, list[tuple[int, Event]]]:
    """An event cut at the barline: what stays before it, and tied to it what comes after."""
    head = split(event, onset, end, pen)
    held = tuple(structs.replace(note, tied=True) for note in head[-1].notes)
    head = (*head[:-1], structs.replace(head[-1], notes=held))
    notes = tuple(structs.replace(note, id=pen.ids.take()) for note in event.notes)
    later = structs.replace(event, id=pen.ids.take(), notes=notes, marks=())
    tail: list[tuple[int, Event]] = []
    offset = 0
    for part in split(later, 0, onset + event.ticks - end, pen):
        tail.append((offset, part))
        offset += part.ticks
    return head, tail


def _next_measure(lesson: Lesson, found: Found, ids: Ids) -> tuple[Lesson, int]:
    """The id of the measure after one; a new one where the piece ends."""
    sections = lesson.arrangement.sections
    row = sections[found.section].measures
    if found.index + 1 < len(row):
        return lesson, row[found.index + 1].id
    if found.section + 1 < len(sections):
        return lesson, sections[found.section + 1].measures[0].id
    added = Measure(ids.take(), found.measure.metre, found.measure.key)
    section = structs.replace(sections[found.section], measures=(*row, added))
    return check_length(with_section(lesson, found.section, [section], ids)), added.id
