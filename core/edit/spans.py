"""What reaches from one thing to another: slurs, hairpins, barres, string lines, talking points."""

from __future__ import annotations

from typing import get_args, get_type_hints

from msgspec import Struct, structs

from core.edit.base import Ids, with_arrangement
from core.model import Barre, EditRefused, Lesson, Measure, Note, Span, walk
from core.model.form import NOTE_SPANS, SPAN_WORDS

SPAN_KINDS: tuple[str, ...] = get_args(get_type_hints(Span)["kind"])


class _Ends(Struct, frozen=True):
    """Where a span begins or ends: the measure's index, the onset, what it is."""

    index: int
    onset: int
    kind: str
    measure: Measure
    note: Note | None = None


def _locate(lesson: Lesson, wanted: set[int]) -> dict[int, _Ends]:
    table: dict[int, _Ends] = {}
    for index, measure in enumerate(walk.measures(lesson.arrangement)):
        if measure.id in wanted:
            table[measure.id] = _Ends(index, 0, "measure", measure)
        for row in measure.voices:
            onset = 0
            for event in row:
                if event.id in wanted:
                    table[event.id] = _Ends(index, onset, "event", measure)
                for note in event.notes:
                    if note.id in wanted:
                        table[note.id] = _Ends(index, onset, "note", measure, note)
                onset += event.ticks
        if len(table) == len(wanted):
            break
    return table


def check_span(lesson: Lesson, span: Span) -> None:
    """Refuse a span that cannot be."""
    if span.kind not in SPAN_KINDS:
        raise EditRefused(f"{span.kind!r} is no line or bow that can be drawn.")
    word = SPAN_WORDS[span.kind]
    ends = _locate(lesson, {span.start, span.end})
    if span.start not in ends or span.end not in ends:
        raise EditRefused(f"A {word} needs something to begin and to end at that is still there.")
    start, end = ends[span.start], ends[span.end]
    _check_ends(span, word, start, end)
    if span.kind == "barre":
        _check_barre(lesson, span.barre)
    elif span.barre is not None:
        raise EditRefused(f"A {word} has no barre figures.")


def _check_ends(span: Span, word: str, start: _Ends, end: _Ends) -> None:
    if span.kind == "talk":
        allowed = {"measure"}
    else:
        allowed = {"note"} if span.kind in NOTE_SPANS else {"note", "event"}
    if not {start.kind, end.kind} <= allowed:
        what = "measures" if span.kind == "talk" else "notes"
        raise EditRefused(f"A {word} reaches between {what}; choose its ends again.")
    if (start.index, start.onset) > (end.index, end.onset):
        raise EditRefused(f"A {word} cannot end before it begins; choose its ends in order.")
    if span.start == span.end and span.kind in ("slur", "hammer-on", "pull-off", "slide"):
        raise EditRefused(f"A {word} needs two different notes; select two.")
    if start.note is not None and end.note is not None and span.kind in NOTE_SPANS:
        _check_notes(span, word, start.note, end.note)


def _check_notes(span: Span, word: str, start: Note, end: Note) -> None:
    """Hammer-ons rise, pull-offs fall, slides and string lines stay on their string (L28)."""
    if span.kind == "hammer-on" and end.pitch.midi <= start.pitch.midi:
        raise EditRefused(
            "A hammer-on goes to a higher note; this one goes down, which is a pull-off."
        )
    if span.kind == "pull-off" and end.pitch.midi >= start.pitch.midi:
        raise EditRefused(
            "A pull-off goes to a lower note; this one goes up, which is a hammer-on."
        )
    if start.place is None or end.place is None:
        return
    strings = start.place.value.string, end.place.value.string
    if strings[0] != strings[1]:
        both = f"{strings[0]} and {strings[1]}"
        raise EditRefused(
            f"A {word} stays on one string; move one of these notes, on strings {both}."
        )


def _check_barre(lesson: Lesson, barre: Barre | None) -> None:
    if barre is None:
        raise EditRefused("A barre needs its fret and its number of strings.")
    strings = len(lesson.arrangement.instrument.strings)
    lowest = barre.strings if barre.lowest is None else barre.lowest
    if not 1 <= barre.fret <= 24 or not 2 <= barre.strings <= lowest <= strings:
        raise EditRefused(f"A barre covers 2 to {strings} strings at a fret from 1 to 24.")


class AddSpan(Struct, frozen=True):
    """Draw a span; its `id` is given by the command."""

    span: Span

    @property
    def label(self) -> str:
        return SPAN_WORDS.get(self.span.kind, self.span.kind)

    def apply(self, lesson: Lesson) -> Lesson:
        check_span(lesson, self.span)
        twin = structs.replace(self.span, id=0)
        if any(structs.replace(s, id=0) == twin for s in lesson.arrangement.spans):
            raise EditRefused(f"That {self.label} is already there.")
        ids = Ids(lesson)
        span = structs.replace(self.span, id=ids.take())
        spans = (*lesson.arrangement.spans, span)
        return with_arrangement(lesson, structs.replace(lesson.arrangement, spans=spans), ids)


def add_span(
    kind: str, start: int, end: int, text: str = "", barre: Barre | None = None
) -> AddSpan:
    """The command that draws a span of a kind between two ids."""
    return AddSpan(Span(0, kind, start, end, text, barre))  # type: ignore[arg-type]


def find_span(lesson: Lesson, span_id: int) -> tuple[int, Span]:
    """A span and its index; raises EditRefused when it is gone."""
    for index, span in enumerate(lesson.arrangement.spans):
        if span.id == span_id:
            return index, span
    raise EditRefused("That line or bow is no longer there; choose another.")


class ChangeSpan(Struct, frozen=True):
    """Change a span's ends, text, barre figures or look; its id and kind stay, and it is the
    teacher's from now on."""

    span: Span

    @property
    def label(self) -> str:
        return f"change the {SPAN_WORDS.get(self.span.kind, self.span.kind)}"

    def apply(self, lesson: Lesson) -> Lesson:
        index, former = find_span(lesson, self.span.id)
        if former == self.span:
            return lesson
        if former.kind != self.span.kind:
            raise EditRefused("A line keeps its kind; remove it and draw another.")
        check_span(lesson, self.span)
        row = lesson.arrangement.spans
        own = structs.replace(self.span, suggested=False)
        spans = (*row[:index], own, *row[index + 1 :])
        return with_arrangement(lesson, structs.replace(lesson.arrangement, spans=spans))


class RemoveSpan(Struct, frozen=True):
    """Take a span away."""

    span: int

    @property
    def label(self) -> str:
        return "remove the line"

    def apply(self, lesson: Lesson) -> Lesson:
        index, _ = find_span(lesson, self.span)
        row = lesson.arrangement.spans
        spans = (*row[:index], *row[index + 1 :])
        return with_arrangement(lesson, structs.replace(lesson.arrangement, spans=spans))


class AddTalk(Struct, frozen=True):
    """A talking point for the measures from one to another."""

    first: int
    last: int
    text: str

    @property
    def label(self) -> str:
        return "talking point"

    def apply(self, lesson: Lesson) -> Lesson:
        if not self.text.strip():
            raise EditRefused("A talking point needs words.")
        return add_span("talk", self.first, self.last, self.text).apply(lesson)
