"""Shared hypothesis generators: every sign the model has turns up in what they draw.

`lessons()` and `arrangements()` draw sound values (the validator accepts them); their parts are
usable alone. The tables of extras (`NOTE_EXTRAS`, `EVENT_MARKS`, ...) are checked against the
model by ``tests/test_strategies.py``: a field or a sign added to the model must be added here.
`commands(lesson)` draws commands of core.edit for a lesson; see ``tests/moves.py``.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Any, get_args, get_type_hints

from hypothesis import strategies as st
from msgspec import structs

from core.edit import Command
from core.model import (
    SIGN_WORDS,
    Arpeggio,
    Arrangement,
    Articulation,
    Barre,
    Base,
    Breath,
    Brief,
    ChordMark,
    ChordShape,
    Dynamic,
    Ending,
    Event,
    EventMark,
    Fermata,
    Finger,
    Fingering,
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
    MeasureMark,
    Metre,
    Note,
    Origin,
    OtherVersion,
    Pitch,
    Place,
    Pluck,
    PositionMark,
    Section,
    Settings,
    ShapeBarre,
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
from core.model.pitch import MODES

# ---------------------------------------------------------------- choices of the model


def choices(struct: type, field: str) -> tuple[str, ...]:
    """The values a Literal field of a model struct may take."""
    return tuple(get_args(get_type_hints(struct)[field]))


SPAN_KINDS = choices(Span, "kind")
NOTE_SPANS = ("hammer-on", "pull-off", "slide", "string")
WORDS = ("", "dolce", "sul tasto", "«Abend» – ó", "l.v.", '5 < 6 & "so"', "拍")

NOTE_EXTRAS: tuple[dict[str, Any], ...] = (
    *({"finger": Label(finger, origin)} for finger in Finger for origin in Origin),
    *({"plucking": Label(pluck)} for pluck in Pluck),
    {"plucking": Label(Pluck.I, Origin.SUGGESTED)},
    {"tied": True},
    *({"accidental": kind} for kind in choices(Note, "accidental") if kind != "auto"),
    {"let_ring": True},
    {"circled": True},
    {"guide": True, "finger": Label(Finger.LITTLE)},
    {"substitute": Finger.RING, "finger": Label(Finger.INDEX)},
    {"bend": 1.0},
    {"bend": 0.5},
    {"small": True},
    {"alternative": Fingering(Place(3, 5), Finger.MIDDLE, "keeps the bass")},
    {"alternative": Fingering(finger=Finger.RING)},
)

EVENT_MARKS: tuple[EventMark, ...] = (
    *(Articulation(kind) for kind in choices(Articulation, "kind")),
    *(Fermata(shape) for shape in choices(Fermata, "shape")),
    Fermata(inverted=True, hold_percent=150, last_time_only=True),
    *(Arpeggio(direction) for direction in choices(Arpeggio, "direction")),
    Arpeggio("down", roll=True),
    *(Breath(kind) for kind in choices(Breath, "kind")),
    *(Dynamic(text) for text in ("pp", "mf", "ff", "sf", "fp")),
)

EVENT_EXTRAS: tuple[dict[str, Any], ...] = (
    *({"marks": (mark,)} for mark in EVENT_MARKS),
    {"marks": (Articulation("accent"), Fermata(), Dynamic("p"))},
    {"hidden": True},
    {"rest_line": -2},
)

SHAPES = (
    ChordShape("Am", (0, 1, 2, 2, 0, None)),
    ChordShape(
        "F", (1, 1, 2, 3, None, None),
        (Finger.INDEX, Finger.INDEX, Finger.MIDDLE, Finger.RING, None, None), ShapeBarre(1, 2, 1),
    ),
    ChordShape("C (VIII)", (8, 8, 9, 10, 10, 8), barre=ShapeBarre(8, 6, 1), first_fret=8),
)  # fmt: skip

BARRES = (Barre(1), Barre(2, 3), Barre(7, 3, lowest=5))

INSTRUMENTS = (
    Instrument(),
    Instrument(tuple(map(Pitch.parse, ("E4", "B3", "G3", "D3", "A2", "D2")))),
    Instrument(capo=2, scale_mm=580.0, nut_mm=40.0, highest_fret=14, hand="left"),
    Instrument(tuple(map(Pitch.parse, ("D4", "B3", "G3", "D3", "G2", "D2", "C2")))),
)

# ---------------------------------------------------------------- small values

PLAIN_VALUES = tuple(
    Value(base, dots)
    for base in (Base.WHOLE, Base.HALF, Base.QUARTER, Base.EIGHTH, Base.SIXTEENTH)
    for dots in (0, 1)
)
ODD_VALUES = (
    Value(Base.BREVE), Value(Base.THIRTY_SECOND), Value(Base.SIXTY_FOURTH),
    Value(Base.HUNDRED_TWENTY_EIGHTH), Value(Base.HALF, 2), Value(Base.QUARTER, 3),
)  # fmt: skip
TUPLETS = (
    tuple([Value(Base.EIGHTH, 0, [(3, 2)])] * 3),
    (Value(Base.QUARTER, 0, [(3, 2)]), Value(Base.EIGHTH, 0, [(3, 2)])),
    tuple([Value(Base.SIXTEENTH, 0, [(5, 4)])] * 5),
    tuple([Value(Base.EIGHTH, 0, [(2, 3)])] * 2),
    (
        Value(Base.QUARTER, 0, [(3, 2)]),
        *[Value(Base.SIXTEENTH, 0, [(3, 2), (5, 4)])] * 5,
        Value(Base.QUARTER, 0, [(3, 2)]),
    ),
)

keys = st.builds(Key, st.integers(-7, 7), st.sampled_from(sorted(MODES)))
metres = st.sampled_from(
    [Metre.parse(t) for t in
     ("4/4", "3/4", "6/8", "2/4", "4/4 common", "2/2 cut", "3/8", "9/8", "2+3/8", "12/8", "5/4",
      "6/4", "1/4", "3/2", "7/16")]
)  # fmt: skip
pitches = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(2, 5)
)  # fmt: skip
values = st.one_of(
    st.sampled_from(PLAIN_VALUES), st.sampled_from(ODD_VALUES + sum(TUPLETS, ()))
)  # fmt: skip
lengths = st.integers(0, 24).map(lambda n: Length(n * Value(Base.SIXTEENTH).ticks))
words = st.sampled_from(WORDS)
instruments = st.sampled_from(INSTRUMENTS)
tempos = st.builds(
    Tempo, st.sampled_from(PLAIN_VALUES[2:]), st.sampled_from([40.0, 54.5, 72.0, 132.0])
)  # fmt: skip


def maybe(strategy: st.SearchStrategy[Any], otherwise: Any = None) -> st.SearchStrategy[Any]:
    """Mostly `otherwise`, sometimes drawn."""
    return st.one_of(st.just(otherwise), st.just(otherwise), strategy)


# ---------------------------------------------------------------- notes and events


@st.composite
def notes(draw: st.DrawFn, ids: Iterator[int], instrument: Instrument, key: Key) -> Note:
    """One note, mostly with a place that sounds its pitch."""
    place = Place(draw(st.integers(1, len(instrument.strings))), draw(st.integers(0, 12)))
    return _note(draw, ids, instrument, key, place)


def _note(
    draw: st.DrawFn, ids: Iterator[int], instrument: Instrument, key: Key, place: Place
) -> Note:
    pitch = Pitch.from_midi(instrument.midi_at(place), draw(st.sampled_from([key, None])))
    extra = dict(draw(st.sampled_from(({}, {}, *NOTE_EXTRAS))))
    how = draw(st.sampled_from(["pinned"] * 4 + ["source", "suggested", "none", "harmonic"]))
    if how == "harmonic":
        harmonic = draw(st.sampled_from([Harmonic(), Harmonic("natural", 7),
                                         Harmonic("artificial", place.fret + 12)]))  # fmt: skip
        if harmonic.kind == "natural":
            place = Place(place.string, 0)
        octave = Pitch.from_midi(instrument.midi_at(place) + 12)
        return Note(next(ids), octave, Label(place), harmonic=harmonic, **extra)
    label = None if how == "none" else Label(place, Origin(how))
    return Note(next(ids), pitch, label, **extra)


@st.composite
def events(
    draw: st.DrawFn, ids: Iterator[int], instrument: Instrument, key: Key, value: Value
) -> Event:
    """A rest, a note or a chord (on different strings) of a given value."""
    number = next(ids)
    strings = draw(
        st.lists(st.integers(1, len(instrument.strings)), max_size=3, unique=True)
    )  # fmt: skip
    places = [Place(string, draw(st.integers(0, 9))) for string in sorted(strings)]
    parts = tuple(_note(draw, ids, instrument, key, place) for place in places)
    extra = dict(draw(st.sampled_from(({}, {}, {}, *EVENT_EXTRAS))))
    if parts:
        extra.pop("hidden", None)
        extra.pop("rest_line", None)
    return Event(number, value, parts, **extra)


@st.composite
def rhythms(draw: st.DrawFn, ticks: int, most: int = 6) -> list[Value]:
    """Values that together last exactly `ticks` when they can be found, else a little less."""
    row: list[Value] = []
    while ticks > 0 and len(row) < most:
        groups = [(value,) for value in PLAIN_VALUES + ODD_VALUES] + list(TUPLETS)
        fitting = [g for g in groups if sum(value.ticks for value in g) <= ticks]
        if not fitting:
            break
        chosen = draw(st.sampled_from(fitting))
        row += chosen
        ticks -= sum(value.ticks for value in chosen)
    for value in (*PLAIN_VALUES, *ODD_VALUES):
        while value.ticks <= ticks and len(row) < 2 * most:
            row.append(value)
            ticks -= value.ticks
    return row


@st.composite
def voices(
    draw: st.DrawFn, ids: Iterator[int], instrument: Instrument, key: Key, ticks: int
) -> tuple[Event, ...]:
    """The events of one voice, mostly as long as the measure; sometimes with a grace note."""
    row = [
        draw(events(ids, instrument, key, value))
        for value in draw(rhythms(draw(st.sampled_from([ticks, ticks, ticks, ticks * 2 // 3]))))
    ]
    row = _tied(draw, ids, row)
    if row and draw(st.integers(0, 5)) == 5:
        slashed = draw(st.booleans())
        small = draw(events(ids, instrument, key, Value(Base.EIGHTH)))
        place = draw(st.integers(0, len(row)))
        row.insert(place, structs.replace(small, grace=Grace(slashed)))
    return tuple(row)


def _tied(draw: st.DrawFn, ids: Iterator[int], row: list[Event]) -> list[Event]:
    """Sometimes an event holds the notes of the one before it by a tie."""
    if len(row) < 2 or draw(st.integers(0, 2)) < 2:
        return row
    at = draw(st.integers(0, len(row) - 2))
    first, held = row[at], row[at + 1]
    notes = tuple(structs.replace(note, tied=True) for note in first.notes)
    same = tuple(structs.replace(note, id=next(ids), tied=False) for note in notes)
    row[at] = structs.replace(first, notes=notes)
    row[at + 1] = structs.replace(held, notes=same, hidden=False, rest_line=None)
    return row


# ---------------------------------------------------------------- measures

measure_marks: st.SearchStrategy[MeasureMark] = st.one_of(
    st.builds(
        TempoMark, lengths, words, st.sampled_from(PLAIN_VALUES[2:]), st.just(66.0),
        st.sampled_from(choices(TempoMark, "effect")),
    ),
    st.builds(TempoMark, lengths, st.just("rit."), effect=st.just("slower")),
    st.builds(TextMark, st.sampled_from(WORDS[1:]), lengths, st.booleans()),
    st.builds(ChordMark, st.sampled_from(SHAPES), lengths),
    st.builds(PositionMark, st.integers(1, 12), lengths),
)  # fmt: skip
signs = st.builds(Sign, st.sampled_from(sorted(SIGN_WORDS)), maybe(words, ""))


@st.composite
def measures(
    draw: st.DrawFn,
    ids: Iterator[int],
    instrument: Instrument = INSTRUMENTS[0],
    metre: Metre | None = None,
    key: Key | None = None,
) -> Measure:
    """One measure of one to four voices with its marks, sometimes over- or under-full."""
    metre = draw(metres) if metre is None else metre
    key = draw(keys) if key is None else key
    number = next(ids)
    own = draw(maybe(st.sampled_from([Length(metre.ticks // 2), Length(metre.ticks * 5 // 4)])))
    ticks = metre.ticks if own is None else own.ticks
    how_many = draw(st.sampled_from([1, 1, 2, 2, 2, 3, 4]))
    rows = tuple(draw(voices(ids, instrument, key, ticks)) for _ in range(how_many))
    measure = Measure(number, metre, key, rows, own_length=own)
    limit = measure.length_ticks
    marks = draw(maybe(st.lists(measure_marks, min_size=1, max_size=3), ()))
    others = draw(maybe(st.just(True), False)) and (
        OtherVersion(
            draw(st.sampled_from(choices(OtherVersion, "purpose"))),
            (draw(voices(ids, instrument, key, ticks)),),
        ),
    )
    return structs.replace(
        measure,
        marks=tuple(mark for mark in marks if mark.at.ticks <= limit),
        barline=draw(maybe(st.sampled_from(choices(Measure, "barline")), "")),
        counted=draw(st.sampled_from([True, True, True, False])),
        line_break=draw(maybe(st.booleans(), False)),
        others=others or (),
    )


# ---------------------------------------------------------------- sections and spans


def _endings(draw: st.DrawFn, row: tuple[Measure, ...], times: int) -> tuple[Ending, ...]:
    if times < 2 or len(row) < 2 or not draw(st.booleans()):
        return ()
    early = tuple(range(1, times))
    first = Ending(early, row[-2].id, row[-2].id)
    return (first, Ending((times,), row[-1].id, row[-1].id, closed=draw(st.booleans())))


@st.composite
def sections(
    draw: st.DrawFn, ids: Iterator[int], instrument: Instrument, most_measures: int = 4
) -> Section:
    """A section in one metre and key for the most part, with repeats and endings."""
    number = next(ids)
    metre, key = draw(metres), draw(keys)
    row = tuple(
        draw(measures(ids, instrument, draw(maybe(metres, metre)), draw(maybe(keys, key))))
        for _ in range(draw(st.integers(1, most_measures)))
    )
    times = draw(st.sampled_from([1, 1, 2, 3]))
    return Section(
        number, row, draw(st.sampled_from(["", "A", "B", "C1"])), draw(words), times,
        _endings(draw, row, times),
    )  # fmt: skip


def _span(draw: st.DrawFn, number: int, row: list[Measure]) -> Span | None:
    kind = draw(st.sampled_from(SPAN_KINDS))
    if kind == "talk":
        pool = [measure.id for measure in row]
    elif kind in NOTE_SPANS:
        pool = [n.id for m in row for voice in m.voices for e in voice for n in e.notes]
    else:
        pool = [event.id for m in row for voice in m.voices for event in voice]
    if not pool:
        return None
    start = draw(st.integers(0, len(pool) - 1))
    end = draw(st.integers(start, min(start + 6, len(pool) - 1)))
    barre = draw(st.sampled_from(BARRES)) if kind == "barre" else None
    dotted = draw(maybe(st.booleans(), False))
    hidden = draw(maybe(st.booleans(), False))
    suggested = barre is not None and draw(maybe(st.booleans(), False))
    return Span(
        number,
        kind,
        pool[start],
        pool[end],
        draw(words),
        barre,
        dotted,
        hidden,
        suggested,  # type: ignore[arg-type]
    )


@st.composite
def arrangements(
    draw: st.DrawFn,
    most_sections: int = 3,
    most_measures: int = 3,
    instrument: Instrument | None = None,
    ids: Iterator[int] | None = None,
) -> Arrangement:
    """A sound arrangement; ids count up from 1 unless `ids` hands them out."""
    ids = count(1) if ids is None else ids
    instrument = draw(instruments) if instrument is None else instrument
    rows = [
        draw(sections(ids, instrument, most_measures))
        for _ in range(draw(st.integers(1, most_sections)))
    ]
    rows = [structs.replace(s, measures=_signed(draw, s.measures)) for s in rows]
    written = [measure for section in rows for measure in section.measures]
    drawn = [_span(draw, next(ids), written) for _ in range(draw(st.integers(0, 5)))]
    return Arrangement(
        tuple(rows), instrument, draw(keys), draw(tempos),
        tuple(span for span in drawn if span is not None), draw(st.booleans()),
    )  # fmt: skip


def _signed(draw: st.DrawFn, row: tuple[Measure, ...]) -> tuple[Measure, ...]:
    """Road map signs and links to a like measure, here and there."""
    signed: list[Measure] = []
    for measure in row:
        kinds = draw(maybe(st.lists(signs, min_size=1, max_size=2), ()))
        same_as = signed[0].id if signed and draw(st.integers(0, 7)) == 7 else None
        signed.append(structs.replace(measure, signs=tuple(kinds), same_as=same_as))
    return tuple(signed)


# ---------------------------------------------------------------- lessons

source_cards = st.builds(SourceCard, words, words, st.just("1871"), words, words, words)
briefs = st.builds(
    Brief,
    words,
    maybe(st.integers(4, 90)),
    words,
    maybe(st.just(12.5)),
    st.builds(HandProfile, st.sampled_from([{}, {"12": 52.0, "14": 97.5}]), words),
    st.builds(
        LevelContract, st.integers(1, 8), st.integers(0, 12), st.integers(1, 9), st.integers(1, 4),
        st.integers(1, 6), st.booleans(), st.sampled_from([1.5, 2.0, 6.0]), st.integers(1, 4),
    ),
)  # fmt: skip
settings_values = st.builds(
    Settings, st.integers(20, 150), st.sampled_from(choices(Settings, "staves")),
    st.sampled_from(choices(Settings, "names")), st.booleans(), st.booleans(),
    st.sampled_from(choices(Settings, "paper")), st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip


@st.composite
def sources(draw: st.DrawFn, ids: Iterator[int]) -> Source:
    """A multi-part original kept with the lesson."""
    parts = tuple(
        SourcePart(name, (draw(measures(ids)),)) for name in draw(st.sampled_from([("1",), "SB"]))
    )
    return Source("duet.musicxml", parts, draw(maybe(st.just(0))), draw(maybe(st.just(0))))


@st.composite
def lessons(
    draw: st.DrawFn,
    most_sections: int = 2,
    most_measures: int = 3,
    instrument: Instrument | None = None,
) -> Lesson:
    """A sound lesson: an arrangement and everything said about it."""
    ids = count(1)
    arrangement = draw(arrangements(most_sections, most_measures, instrument, ids))
    first = arrangement.sections[0].measures[0].id
    kept = (draw(sources(ids)),) if draw(st.integers(0, 4)) == 4 else ()
    return Lesson(
        draw(words), arrangement, next(ids),
        source=draw(maybe(source_cards, SourceCard())),
        sources=kept,
        brief=draw(maybe(briefs, Brief())),
        waivers=draw(st.sampled_from([(), (Waiver("L13", first, "known from lesson 3"),)])),
        settings=draw(maybe(settings_values, Settings())),
        solver=draw(st.sampled_from(["", "1"])),
    )  # fmt: skip


@st.composite
def commands(draw: st.DrawFn, lesson: Lesson) -> Command:
    """A command for a lesson; it may have to be refused."""
    # Imported here because tests.moves itself builds on the tables above.
    from tests.moves import random_command

    return random_command(draw(st.randoms(use_true_random=False)), lesson)
