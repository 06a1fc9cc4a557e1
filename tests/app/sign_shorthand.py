"""The signs of a lesson in short texts, for tests/app/shorthand.py.

Lines and bows are ``slur 1 0 to 1 1``, from measure and quarters to measure and quarters; ``v1``
where they are in another voice than the melody, the note's name where they join notes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from core.model import (
    Arpeggio,
    Articulation,
    Base,
    Breath,
    ChordMark,
    ChordShape,
    Dynamic,
    Event,
    EventMark,
    Fermata,
    Instrument,
    Lesson,
    Measure,
    MeasureMark,
    Note,
    PositionMark,
    Section,
    Span,
    Tempo,
    TempoMark,
    TextMark,
    Value,
    walk,
)

QUARTER = Value(Base.QUARTER).ticks


def braces(signs: Iterable[str]) -> str:
    """``{staccato, mf}``; nothing where there are no signs."""
    text = ", ".join(signs)
    return f"{{{text}}}" if text else ""


def of_event(event: Event) -> Iterator[str]:
    yield from (words for mark in event.marks if (words := _mark(mark)))
    if event.hidden:
        yield "hidden"
    if event.rest_line is not None:
        yield f"height {event.rest_line}"


def _mark(mark: EventMark) -> str:
    match mark:
        case Articulation():
            return mark.kind
        case Dynamic():
            return mark.text
        case Breath():
            return mark.kind
        case Arpeggio():
            return "roll" if mark.roll else f"arpeggio {mark.direction}".strip()
        case Fermata():
            usual = Fermata()
            return " ".join(
                word
                for word, said in (
                    (mark.shape, mark.shape != usual.shape),
                    ("once", mark.last_time_only),
                    ("below", mark.inverted),
                    (f"{mark.hold_percent} %", mark.hold_percent != usual.hold_percent),
                )
                if said
            )


def of_note(note: Note) -> Iterator[str]:
    if note.plucking is not None:
        yield f"pluck {note.plucking.value.value}"
    if note.accidental != "auto":
        yield note.accidental
    for sign in ("let_ring", "circled", "guide", "small"):
        if getattr(note, sign):
            yield sign.replace("_", " ")
    if note.harmonic is not None:
        yield f"{note.harmonic.kind} {note.harmonic.touched_fret}"
    if note.substitute is not None:
        yield f"change to {note.substitute.value}"
    if note.bend is not None:
        yield f"bend {note.bend}"
    other = note.alternative
    if other is not None:
        finger = other.finger.value if other.finger else None
        parts = (finger, str(other.place) if other.place else None, other.reason)
        yield " ".join(("or", *(part for part in parts if part)))


def of_measure(measure: Measure) -> Iterator[str]:
    for mark in measure.marks:
        at = f" at {Fraction(mark.at.ticks, QUARTER)}" if mark.at.ticks else ""
        yield f"{_above(mark)}{at}"
    for sign in measure.signs:
        yield sign.kind
    if measure.barline:
        yield f"{measure.barline} barline"
    if measure.line_break:
        yield "line break"


def _above(mark: MeasureMark) -> str:
    match mark:
        case ChordMark():
            return _shape(mark.shape)
        case TextMark():
            return f"text {'below ' if mark.below else ''}{mark.text}"
        case PositionMark():
            return f"position {mark.fret}"
        case TempoMark():
            figure = f"{mark.beat} {mark.per_minute:g}" if mark.per_minute is not None else ""
            effect = f"({mark.effect})" if mark.effect else ""
            return " ".join(part for part in ("tempo", mark.text, figure, effect) if part)


def _shape(shape: ChordShape) -> str:
    """Name, frets and fingers from the lowest string."""
    frets = "".join("x" if fret is None else str(fret) for fret in reversed(shape.frets))
    fingers = "".join("-" if f is None else f.value for f in reversed(shape.fingers))
    barre = shape.barre
    over = f"barre {barre.fret} {barre.from_string}-{barre.to_string}" if barre else ""
    top = f"from {shape.first_fret}" if shape.first_fret > 1 else ""
    return " ".join(part for part in ("chord", shape.name, frets, fingers, over, top) if part)


def endings(section: Section) -> str:
    """`` (1,2 open: 2)``: for which passes, then the first and last of its measures."""
    order = {measure.id: number for number, measure in enumerate(section.measures, 1)}
    return "".join(
        f" ({','.join(map(str, ending.passes))}{'' if ending.closed else ' open'}: "
        f"{order[ending.first]}-{order[ending.last]})"
        for ending in section.endings
    )


def lines(lesson: Lesson) -> str:
    """Every line and bow, in the order they were drawn."""
    where: dict[int, str] = {}
    for number, measure in enumerate(walk.measures(lesson.arrangement), 1):
        where[measure.id] = str(number)
        for at in walk.events(measure):
            voice = f" v{at.voice}" if at.voice else ""
            where[at.event.id] = f"{number} {Fraction(at.onset, QUARTER)}{voice}"
            for note in at.event.notes:
                where[note.id] = f"{where[at.event.id]} {note.pitch}"
    return "; ".join(_line(span, where) for span in lesson.arrangement.spans)


def _line(span: Span, where: dict[int, str]) -> str:
    barre = span.barre
    parts = [
        "dotted" if span.optional else "",
        span.kind,
        f"{barre.fret} over {barre.strings}" if barre else "",
        f"from {barre.lowest}" if barre and barre.lowest else "",
        span.text,
        f"{where[span.start]} to {where[span.end]}",
    ]
    return " ".join(part for part in parts if part)


def piece(lesson: Lesson) -> str:
    """What is said of the whole piece, where it is not as usual."""
    found, usual = lesson.arrangement, Instrument()
    guitar = found.instrument
    said = (
        (f"capo {guitar.capo}", guitar.capo != usual.capo),
        (" ".join(map(str, reversed(guitar.strings))), guitar.strings != usual.strings),
        (f"{guitar.scale_mm:g} mm", guitar.scale_mm != usual.scale_mm),
        (f"{guitar.hand}-handed", guitar.hand != usual.hand),
        (f"{found.tempo.beat} {found.tempo.per_minute:g}", found.tempo != _TEMPO),
        ("plain clef", not found.clef_shows_octave),
        (lesson.source.credit, bool(lesson.source.credit)),
        (str(found.key), str(found.key) != "C major"),
    )
    return ", ".join(text for text, is_said in said if is_said)


_TEMPO = Tempo(Value(Base.QUARTER), 60.0)
