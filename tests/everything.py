"""One lesson that holds every sign the model has, for goldens and for exchange.

Built from the tables of tests/strategies.py: what is added there turns up here.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Any

from msgspec import structs

from core.model import (
    SIGN_WORDS,
    Arrangement,
    Brief,
    ChordMark,
    Ending,
    Event,
    Grace,
    HandProfile,
    Harmonic,
    Instrument,
    Key,
    Label,
    Length,
    Lesson,
    LevelContract,
    Measure,
    Metre,
    Note,
    OtherVersion,
    Pitch,
    Place,
    PositionMark,
    Section,
    Settings,
    Sign,
    Source,
    SourceCard,
    SourcePart,
    Span,
    Tempo,
    TempoMark,
    TextMark,
    Value,
    Waiver,
)
from tests import strategies
from tests.strategies import EVENT_MARKS, NOTE_EXTRAS, NOTE_SPANS, SHAPES, choices

QUARTER = Value.parse("quarter")
FOUR = Metre.parse("4/4")
KEY = Key.parse("A minor")
GUITAR = Instrument()


def _note(ids: Iterator[int], place: Place, **extra: Any) -> Note:
    pitch = Pitch.from_midi(GUITAR.midi_at(place), KEY)
    return Note(next(ids), pitch, Label(place), **extra)


def _measure(ids: Iterator[int], rows: list[list[Event]], **more: Any) -> Measure:
    return Measure(next(ids), FOUR, KEY, tuple(map(tuple, rows)), **more)


def _by_fours(ids: Iterator[int], row: list[Event]) -> list[Measure]:
    """Measures of four quarters, the last filled with rests."""
    while len(row) % 4:
        row.append(Event(next(ids), QUARTER))
    return [_measure(ids, [row[n : n + 4]]) for n in range(0, len(row), 4)]


def _notes_section(ids: Iterator[int]) -> Section:
    """Every extra of a note, the harmonics, and a note without a place."""
    row = [Event(next(ids), QUARTER, (_note(ids, Place(2, 1), **extra),)) for extra in NOTE_EXTRAS]
    for harmonic, place, up in (
        (Harmonic(), Place(4, 0), 12),
        (Harmonic("natural", 7), Place(5, 0), 19),
        (Harmonic("artificial", 14), Place(1, 2), 12),
    ):
        pitch = Pitch.from_midi(GUITAR.midi_at(place) + up, KEY)
        note = Note(next(ids), pitch, Label(place), harmonic=harmonic)
        row.append(Event(next(ids), QUARTER, (note,)))
    row.append(Event(next(ids), QUARTER, (Note(next(ids), Pitch.parse("F#4")),)))
    return Section(next(ids), tuple(_by_fours(ids, row)), "A", "Every note")


def _events_section(ids: Iterator[int]) -> Section:
    """Every mark of an event, on chords; grace notes, hidden and placed rests."""
    row = [
        Event(next(ids), QUARTER, tuple(_note(ids, p) for p in (Place(5, 0), Place(2, 1))), (mark,))
        for mark in EVENT_MARKS
    ]
    row.append(Event(next(ids), QUARTER, hidden=True))
    row.append(Event(next(ids), QUARTER, rest_line=-2))
    measures = _by_fours(ids, row)
    eighth = Value.parse("eighth")
    graces = [
        Event(next(ids), eighth, (_note(ids, Place(1, 1)),), grace=Grace(slashed))
        for slashed in (True, False)
    ]
    first = (*graces, *measures[0].voices[0])
    measures[0] = structs.replace(measures[0], voices=(first,))
    return Section(next(ids), tuple(measures), "B", "Every mark")


def _rhythm_section(ids: Iterator[int]) -> Section:
    """Values, dots, tuplets, ties across a barline, four voices, metres, keys and lengths."""
    measures: list[Measure] = []
    texts = (
        "whole",
        "half quarter. eighth",
        "half.. 16th. 64th 128th 128th",
        "eighth@3:2 eighth@3:2 eighth@3:2 quarter@3:2 eighth@3:2 half",
        "16th@5:4 " * 5 + "quarter@3:2 " + "16th@3:2@5:4 " * 5 + "quarter@3:2 quarter",
    )
    for text in texts:
        row = [
            Event(next(ids), Value.parse(word), (_note(ids, Place(1, 0)),)) for word in text.split()
        ]
        last = row[-1]
        tied = structs.replace(last.notes[0], tied=True)
        row[-1] = structs.replace(last, notes=(tied,))
        measures.append(_measure(ids, [row]))
    rows = [
        [Event(next(ids), Value.parse("whole"), (_note(ids, Place(string, 0)),))]
        for string in (1, 5, 3, 4)
    ]
    measures.append(_measure(ids, rows))
    for text in ("3/4", "6/8", "2+3/8", "4/4 common", "2/2 cut"):
        key = Key(-3, "major") if text == "6/8" else KEY
        measures.append(Measure(next(ids), Metre.parse(text), key))
    short = Event(next(ids), QUARTER, (_note(ids, Place(3, 2)),))
    measures.append(_measure(ids, [[short]], own_length=Length(QUARTER.ticks), counted=False))
    return Section(next(ids), tuple(measures), "C", "Every rhythm")


def _form_section(ids: Iterator[int]) -> Section:
    """Signs, barlines, marks above, other versions, endings, three times."""
    measures = [
        _measure(ids, [[Event(next(ids), Value.parse("whole"), (_note(ids, Place(2, 0)),))]],
                 signs=(Sign(kind, "last time only" if kind == "fine" else ""),))
        for kind in sorted(SIGN_WORDS)
    ]  # fmt: skip
    for index, barline in enumerate(choices(Measure, "barline")):
        measures[index] = structs.replace(measures[index], barline=barline)
    half = Length(Value.parse("half").ticks)
    marks = (
        TempoMark(Length(0), "Gently", QUARTER, 66.0),
        *(TempoMark(half, word, effect=word) for word in choices(TempoMark, "effect") if word),
        TextMark("dolce"),
        TextMark("count aloud", half, below=True),
        *(ChordMark(shape, half) for shape in SHAPES),
        PositionMark(5),
    )
    others = tuple(
        OtherVersion(purpose, ((Event(next(ids), QUARTER, (_note(ids, Place(1, 3)),)),),))
        for purpose in choices(OtherVersion, "purpose")
    )
    measures[0] = structs.replace(measures[0], marks=marks, others=others, line_break=True)
    measures[1] = structs.replace(measures[1], same_as=measures[0].id)
    endings = (
        Ending((1, 2), measures[-2].id, measures[-2].id),
        Ending((3,), measures[-1].id, measures[-1].id, closed=False),
    )
    return Section(next(ids), tuple(measures), "D", "Every sign", 3, endings)


def _spans(ids: Iterator[int], sections: tuple[Section, ...]) -> tuple[Span, ...]:
    """Every kind of span, and each look of a barre."""
    measures = sections[0].measures
    events = [event for measure in measures for event in measure.voices[0] if event.notes]
    spans: list[Span] = []
    for index, kind in enumerate(strategies.SPAN_KINDS):
        if kind == "barre":
            continue
        if kind == "talk":
            ends = measures[0].id, measures[1].id
        elif kind in NOTE_SPANS:
            ends = events[index].notes[0].id, events[index + 1].notes[0].id
        else:
            ends = events[index].id, events[index + 2].id
        text = "Listen to the bass" if kind == "talk" else ""
        spans.append(Span(next(ids), kind, *ends, text))  # type: ignore[arg-type]
    for barre in strategies.BARRES:
        spans.append(Span(next(ids), "barre", events[0].id, events[3].id, barre=barre))
    last = strategies.BARRES[-1]
    spans.append(Span(next(ids), "barre", events[1].id, events[2].id, barre=last, suggested=True))
    spans.append(Span(next(ids), "slur", events[0].id, events[1].id, optional=True))
    spans.append(Span(next(ids), "tuplet", events[0].id, events[1].id, "3", hidden=True))
    return tuple(spans)


def lesson() -> Lesson:
    """The lesson."""
    ids = count(1)
    sections = tuple(
        make(ids) for make in (_notes_section, _events_section, _rhythm_section, _form_section)
    )
    spans = _spans(ids, sections)
    tempo = Tempo(Value.parse("quarter."), 54.0)
    arrangement = Arrangement(sections, GUITAR, KEY, tempo, spans, clef_shows_octave=False)
    source = Source("duet", (SourcePart("Canto", (_measure(ids, [[]]),)),), melody=0, bass=0)
    return Lesson(
        "Everything", arrangement, next(ids),
        source=SourceCard("Nobody", "made for testing", "2026", "none", "ours", "no notes"),
        sources=(source,),
        brief=Brief("Ada", 9, "to hold the bass", 30.0, HandProfile({"14": 92.5}, "small hand"),
                    LevelContract(2, 7, 3, 4, 4, True, 2.5, 3)),
        waivers=(Waiver("L13", sections[0].measures[0].id, "known from the last lesson"),),
        settings=Settings(60, "tab", "fixed do", True, True, "Letter", True, True, True),
        solver="1",
    )  # fmt: skip
