"""Lines and bows from one note to another: slurs, hairpins, barres, string lines, talking points.

Over a selection they reach from its first note to its last in the caret's voice; a selection of one
note, or the caret alone, means from there to the next note.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from msgspec import Struct, structs

from app.signs.here import Here, Spot
from core.edit.base import Command
from core.edit.spans import AddSpan, AddTalk, ChangeSpan, RemoveSpan
from core.model import Barre, EditRefused, Lesson, Note, Span, walk
from core.model.form import NOTE_SPANS, SPAN_WORDS

LineKind = Literal[
    "slur", "phrase", "hammer-on", "pull-off", "slide", "crescendo", "diminuendo", "string",
    "let ring", "vibrato", "tempo",
]  # fmt: skip


def _ends(here: Here) -> tuple[Spot, Spot]:
    spots = here.events()
    row = [s for s in spots if s.at.voice == here.voice] or list(spots)
    sounding = [s for s in row if s.at.voice == row[0].at.voice and s.at.event.notes]
    if not sounding:
        raise EditRefused("A line needs notes to begin and to end at; here is only a rest.")
    if len(sounding) > 1:
        return sounding[0], sounding[-1]
    after = here.in_voice(sounding[0].at.voice, sounding[0])
    following = next((spot for spot in after if spot.at.event.notes), None)
    if following is None:
        raise EditRefused("There is no note after this one to go to.")
    return sounding[0], following


def _string(note: Note) -> int | None:
    return note.place.value.string if note.place is not None else None


def _notes(here: Here, start: Spot, end: Spot) -> tuple[Note, Note]:
    """Of two chords the notes a line joins: on the caret's string, else on one string."""
    ids = {note.id for _, note in here.notes}
    row = start.at.event.notes
    on_string = [n for n in row if here.string is not None and _string(n) == here.string]
    own = [n for n in row if n.id in ids]
    first = (on_string or own or list(row))[-1]
    others = end.at.event.notes
    last = [n for n in others if _string(n) is not None and _string(n) == _string(first)]
    return first, (last or sorted(others, key=lambda n: abs(n.pitch.midi - first.pitch.midi)))[0]


class LineSign(Struct, frozen=True):
    """A line or bow; off where it stands already, dotted or not as said."""

    kind: LineKind
    text: str = ""
    dotted: bool = False

    def commands(self, here: Here) -> tuple[Command, ...]:
        start, end = _ends(here)
        ids = start.at.event.id, end.at.event.id
        if self.kind in NOTE_SPANS:
            first, last = _notes(here, start, end)
            ids = first.id, last.id
        return _toggled(here.lesson, Span(0, self.kind, *ids, self.text, optional=self.dotted))


def _toggled(lesson: Lesson, wanted: Span) -> tuple[Command, ...]:
    """Draw a span, take it off where it stands already, or give the one there another look."""
    events = {} if wanted.kind in NOTE_SPANS else _event_of(lesson)

    def ends(span: Span) -> tuple[int, int]:
        return events.get(span.start, span.start), events.get(span.end, span.end)

    for span in lesson.arrangement.spans:
        if span.kind == wanted.kind and ends(span) == ends(wanted):
            look = structs.replace(span, barre=wanted.barre, optional=wanted.optional)
            return (RemoveSpan(span.id),) if look == span else (ChangeSpan(look),)
    return (AddSpan(wanted),)


def _event_of(lesson: Lesson) -> dict[int, int]:
    """Note id -> id of its event."""
    return {
        note.id: located.event.id
        for measure in walk.measures(lesson.arrangement)
        for located, note in walk.notes(measure)
    }


class BarreSign(Struct, frozen=True):
    """A barre over the selection, or at the caret; `strings` None covers every string."""

    fret: int
    strings: int | None = None
    lowest: int | None = None
    hinge: bool = False

    def commands(self, here: Here) -> tuple[Command, ...]:
        spots = sorted(here.events(), key=lambda s: (s.time, s.at.voice))
        most = len(here.lesson.arrangement.instrument.strings)
        barre = Barre(self.fret, self.strings or most, self.lowest)
        ids = spots[0].at.event.id, spots[-1].at.event.id
        return _toggled(here.lesson, Span(0, "barre", *ids, barre=barre, optional=self.hinge))


class NoLine(Struct, frozen=True):
    """Take the lines of a kind off that begin, end or go on here: in the caret's voice first."""

    kind: str

    def commands(self, here: Here) -> tuple[Command, ...]:
        found = list(self._found(here))
        own = [span for span, voice in found if voice == here.voice]
        spans = own or [span for span, _ in found]
        if not spans:
            raise EditRefused(f"There is no {SPAN_WORDS[self.kind]} here to take off.")
        return tuple(RemoveSpan(span.id) for span in spans)

    def _found(self, here: Here) -> Iterator[tuple[Span, int]]:
        times = [spot.time for spot in here.events()]
        order: dict[int, tuple[tuple[int, int], int]] = {}
        for index, measure in enumerate(walk.measures(here.lesson.arrangement)):
            for located in walk.events(measure):
                order[located.event.id] = (index, located.onset), located.voice
                for note in located.event.notes:
                    order[note.id] = order[located.event.id]
        for span in here.lesson.arrangement.spans:
            if span.kind != self.kind or span.start not in order or span.end not in order:
                continue
            if order[span.start][0] <= max(times) and order[span.end][0] >= min(times):
                yield span, order[span.start][1]


class TalkSign(Struct, frozen=True):
    """A talking point over the measures; off where the same one stands already."""

    text: str

    def commands(self, here: Here) -> tuple[Command, ...]:
        first, last = here.measures[0].id, here.measures[-1].id
        for span in _talk(here):
            if (span.start, span.end, span.text) == (first, last, self.text):
                return (RemoveSpan(span.id),)
        return (AddTalk(first, last, self.text),)


class RetalkSign(Struct, frozen=True):
    """Other words for the talking point here."""

    text: str

    def commands(self, here: Here) -> tuple[Command, ...]:
        spans = _talk(here)
        if len(spans) != 1:
            why = "are several talking points" if spans else "is no talking point"
            raise EditRefused(f"There {why} here; write a new one, as say Listen to the bass.")
        return (ChangeSpan(structs.replace(spans[0], text=self.text)),)


class NoTalk(Struct, frozen=True):
    """Take the talking points here off."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        spans = _talk(here)
        if not spans:
            raise EditRefused("There is no talking point here to take off.")
        return tuple(RemoveSpan(span.id) for span in spans)


def _talk(here: Here) -> list[Span]:
    """The talking points that reach over one of the measures."""
    arrangement = here.lesson.arrangement
    order = {measure.id: index for index, measure in enumerate(walk.measures(arrangement))}
    first, last = order[here.measures[0].id], order[here.measures[-1].id]
    return [
        span
        for span in arrangement.spans
        if span.kind == "talk" and order[span.start] <= last and order[span.end] >= first
    ]
