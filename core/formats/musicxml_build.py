"""From what the parts of a file say to measures of ours: voices without gaps, notes, marks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec

from core.formats.imported import Ledger
from core.formats.lesson_json import from_text
from core.formats.musicxml_frames import finger_of
from core.formats.musicxml_octave import is_keyboard, sounding
from core.formats.musicxml_raw import RawEvent, RawMeasure, RawNote, RawPart
from core.formats.musicxml_values import Ticks, several
from core.model import (
    ChordMark,
    ChordShape,
    Event,
    Finger,
    Fingering,
    Harmonic,
    Instrument,
    Label,
    Length,
    Measure,
    Metre,
    Note,
    Origin,
    OtherVersion,
    Pitch,
    Place,
    Pluck,
    TempoMark,
)
from core.model.errors import BadInput
from core.model.instrument import HIGHEST_FRET
from core.model.measure import MOST_VOICES, MeasureMark, Sign
from core.model.notes import HARMONIC_SEMITONES
from core.model.time import TICKS_PER_WHOLE

USUAL_METRE = Metre((4,), 4)
SHORTEST_GAP = TICKS_PER_WHOLE // 128


class Ids:
    """Hands out ids from 1."""

    def __init__(self) -> None:
        self.next = 1

    def take(self) -> int:
        self.next += 1
        return self.next - 1


@dataclass(slots=True)
class Builder:
    """What the building of one part needs to know."""

    part: RawPart
    shift: int
    instrument: Instrument
    ids: Ids
    ledger: Ledger
    file_name: str
    ours: bool
    origin: Origin = Origin.SOURCE

    def refuse(self, measure: RawMeasure, what: str) -> BadInput:
        return BadInput(f"{self.file_name}, measure {measure.number}: {what}.")


# ---------------------------------------------------------------- voices


def voice_rows(
    builder: Builder, measure: RawMeasure, staves: frozenset[int]
) -> dict[str, list[Event]]:
    """The voices of a measure as contiguous rows, by name, in the order of the page.

    `staves` are those whose events count (the tablature of a pair does not). What overlaps in
    one voice of the file makes a voice more.
    """
    rows: dict[str, list[RawEvent]] = {}
    ends: dict[str, Ticks] = {}
    slack = measure.rounded + 1
    events = [event for event in measure.events if event.staff in staves]
    for event in sorted(events, key=lambda event: event.onset):
        name = event.voice
        while ends.get(name, 0) > event.onset + slack:
            name += "'"
        rows.setdefault(name, []).append(event)
        ends[name] = event.onset + event.ticks
    names = sorted(rows, key=_voice_order)
    return {name: _row(builder, measure, rows[name], slack) for name in names}


def columns(table: Sequence[dict[str, list[Event]]], ours: bool) -> list[list[list[Event]]]:
    """The voices of each measure of a part in their columns.

    Where the part never has more voices than a page holds, a voice keeps its column in every
    measure; else each measure counts its own. Files of this program number them 1 to 4.
    """
    names = sorted({name for row in table for name in row}, key=_voice_order)
    usual = [str(number) for number in range(1, MOST_VOICES + 1)]
    if ours and set(names) <= set(usual):
        names = usual
    if len(names) > MOST_VOICES:
        return [list(row.values()) for row in table]
    return [[row.get(name, []) for name in names] for row in table]


def _voice_order(name: str) -> tuple[int, int, str]:
    plain = name.rstrip("'")
    number = int(plain) if plain.isdecimal() and len(plain) < 6 else 10**6
    return (number, len(name) - len(plain), name)


def _row(
    builder: Builder, measure: RawMeasure, events: Sequence[RawEvent], slack: Ticks
) -> list[Event]:
    row: list[Event] = []
    cursor: Ticks = 0
    for event in events:
        gap = event.onset - cursor
        if gap > slack:
            row += _gap(builder, measure, gap)
            cursor = event.onset
        row += _events(builder, measure, event)
        cursor += event.ticks
    return row


def _gap(builder: Builder, measure: RawMeasure, gap: Ticks) -> list[Event]:
    values = several(gap) or several(round(gap / SHORTEST_GAP) * SHORTEST_GAP) or ()
    if not values and gap >= SHORTEST_GAP:
        raise builder.refuse(measure, "the voices do not add up")
    if sum(value.ticks for value in values) != gap:
        builder.ledger.mend("Gaps that no rest can fill are rounded", measure.number)
    return [Event(builder.ids.take(), value, hidden=True) for value in values]


# ---------------------------------------------------------------- events and notes


def _events(builder: Builder, measure: RawMeasure, raw: RawEvent) -> list[Event]:
    """One raw event as one event, or as several tied ones."""
    made: list[Event] = []
    last = len(raw.values) - 1
    hidden = raw.hidden and not raw.notes
    for index, value in enumerate(raw.values):
        number = builder.ids.take()
        notes = [_note(builder, measure, note, number, index, index < last) for note in raw.notes]
        kept = tuple(note for note in notes if note is not None)
        made.append(
            Event(
                number, value, kept,
                marks=tuple(raw.marks) if index == 0 else (),
                grace=raw.grace,
                hidden=hidden or (not kept and bool(raw.notes)),
                rest_line=None if raw.rest_at is None or kept else _rest_line(builder, raw),
            )
        )  # fmt: skip
        raw.event_id = raw.event_id or number
        raw.last_id = number
    return made


def _rest_line(builder: Builder, raw: RawEvent) -> int | None:
    """Steps above the middle line of the treble clef (B4 as written)."""
    assert raw.rest_at is not None
    step, octave = raw.rest_at
    if step not in tuple("CDEFGAB"):
        return None
    clef = builder.part.clefs.get(raw.staff)
    low = -7 if clef is not None and clef.octave == -1 else 0
    steps = "CDEFGAB".index(step) + 7 * octave - (6 + 7 * 4) - low
    if clef is not None and clef.sign == "F":
        steps += 12
    return steps if abs(steps) <= 20 else None


def _note(
    builder: Builder, measure: RawMeasure, raw: RawNote, event_id: int, piece: int, more: bool
) -> Note | None:
    pitch = sounding(raw, builder.shift, measure.key)
    if pitch is None:
        builder.ledger.drop("note out of range", "notes out of range", measure.number)
        return None
    harmonic = _harmonic(raw)
    if harmonic is not None:
        pitch = _sounding_harmonic(builder, measure, raw, pitch, harmonic)
    label = _place(builder, measure, raw, pitch.midi, harmonic)
    number = builder.ids.take()
    if piece == 0:
        raw.note_id, raw.event_id = number, event_id
    finger, substitute, second = _fingers(builder, measure, raw)
    first = piece == 0
    plain = raw.pluck.strip().lower()
    pluck = Label(Pluck(plain), _origin(raw, "pluck")) if plain in set(Pluck) else None
    if raw.pluck and pluck is None and first:
        builder.ledger.drop("plucking sign", "plucking signs", measure.number)
    return Note(
        number,
        pitch,
        place=label,
        finger=finger if first else None,
        plucking=pluck if first else None,
        tied=raw.tie or more,
        accidental=raw.accidental_kind if first else "auto",  # type: ignore[arg-type]
        let_ring=raw.let_ring and not more,
        harmonic=harmonic,
        circled=first and _circled(raw, label),
        guide=raw.guide and first,
        substitute=substitute if first else None,
        bend=raw.bend if first else None,
        small=raw.small,
        alternative=(raw.alternative or second) if first else None,
    )


def _origin(raw: RawNote, what: str) -> Origin:
    return Origin.SUGGESTED if what in raw.suggested else Origin.SOURCE


def _circled(raw: RawNote, label: Label[Place] | None) -> bool:
    if raw.circled is not None:
        return raw.circled
    return label is not None and raw.string is not None and raw.fret is None


def _harmonic(raw: RawNote) -> Harmonic | None:
    if not raw.harmonic:
        return None
    kind = raw.harmonic
    touched = raw.touched_fret
    if touched is None and kind == "natural" and raw.fret in HARMONIC_SEMITONES:
        touched = raw.fret
    if touched is None:
        touched = 12 + (raw.fret or 0) if kind == "artificial" else 12
    return Harmonic(kind, touched)  # type: ignore[arg-type]


def _sounding_harmonic(
    builder: Builder, measure: RawMeasure, raw: RawNote, pitch: Pitch, harmonic: Harmonic
) -> Pitch:
    """The pitch a harmonic sounds, where the file gives the string's or the touched note's.

    A harmonic on a known string whose pitch is the one of the touched fret is taken for touched.
    """
    above = HARMONIC_SEMITONES.get(harmonic.touched_fret)
    string = raw.string or 0
    open_midi = (
        builder.instrument.open_midi(string)
        if 1 <= string <= len(builder.instrument.strings)
        else None
    )
    touched = open_midi is not None and pitch.midi == open_midi + harmonic.touched_fret
    told = raw.harmonic_pitch != "sounding-pitch" and raw.fret is not None
    if harmonic.kind != "natural" or above is None or not told:
        return pitch
    if raw.harmonic_pitch == "base-pitch":
        midi = pitch.midi + above
    elif raw.harmonic_pitch == "touching-pitch" or touched:
        midi = pitch.midi - harmonic.touched_fret + above
    else:
        return pitch
    if midi == pitch.midi:
        return pitch
    builder.ledger.mend("Harmonics are read at the pitch that sounds", measure.number)
    return Pitch.from_midi(midi, measure.key)


def _place(
    builder: Builder,
    measure: RawMeasure,
    raw: RawNote,
    midi: int,
    harmonic: Harmonic | None,
) -> Label[Place] | None:
    """Where the file says the note is played, if that sounds the note."""
    string, fret = raw.string, raw.fret
    if string is None:
        return None
    known = 1 <= string <= len(builder.instrument.strings)
    if harmonic is not None and harmonic.kind == "natural" and raw.touched_fret is None:
        fret = 0
    if known and fret is None:
        fret = midi - builder.instrument.open_midi(string)
    if not known or fret is None or not 0 <= fret <= HIGHEST_FRET:
        builder.ledger.drop(
            "place that is not on the neck", "places that are not on the neck", measure.number
        )
        return None
    place = Place(string, fret)
    if harmonic is None and builder.instrument.midi_at(place) != midi:
        builder.ledger.drop(
            "string and fret that do not sound their note",
            "strings and frets that do not sound their note",
            measure.number,
        )
        return None
    return Label(place, _origin(raw, "place"))


def _fingers(
    builder: Builder, measure: RawMeasure, raw: RawNote
) -> tuple[Label[Finger] | None, Finger | None, Fingering | None]:
    """The finger, the one put in its place, and a second fingering."""
    finger: Label[Finger] | None = None
    substitute: Finger | None = None
    second: Fingering | None = None
    for text, substitution, alternate in raw.fingers:
        known = None if is_keyboard(builder.part) else finger_of(text)
        if known is None:
            builder.ledger.drop("fingering", "fingerings", measure.number)
        elif alternate:
            second = second or Fingering(finger=known)
        elif substitution or finger is not None:
            if substitute is None:
                substitute = known
            else:
                builder.ledger.drop("fingering", "fingerings", measure.number)
        else:
            finger = Label(known, _origin(raw, "finger"))
    return finger, substitute, second


# ---------------------------------------------------------------- measures


def measure_of(
    builder: Builder,
    raw: RawMeasure,
    voices: Sequence[Sequence[Event]],
    marks: Iterable[tuple[str, Ticks, object]],
    *,
    free: bool,
) -> Measure:
    """The measure with its marks; `free` where it may have a length of its own."""
    number = builder.ids.take()
    rows = [tuple(row) for row in voices]
    while len(rows) > 1 and not rows[-1]:
        rows.pop()
    metre = raw.metre or USUAL_METRE
    own, counted = _own_length(builder, raw, rows, metre, free), not raw.implicit
    measure = Measure(
        number, metre, raw.key, tuple(rows) or ((),),
        own_length=own, counted=counted, barline=_barline(raw),  # type: ignore[arg-type]
        others=_versions(builder, raw), line_break=raw.ours.get("line_break") is True,
    )  # fmt: skip
    shown, signs = _marks(builder, raw, marks, measure.length_ticks)
    return msgspec.structs.replace(measure, marks=shown, signs=signs)


def _own_length(
    builder: Builder, raw: RawMeasure, rows: Sequence[Sequence[Event]], metre: Metre, free: bool
) -> Length | None:
    said = raw.ours.get("own_length", ...)
    if said is None or isinstance(said, str):
        try:
            return None if said is None else Length.parse(said)
        except ValueError:
            return None
    filled = max((sum(event.ticks for event in row) for row in rows), default=0)
    far = max(raw.length - filled, filled - raw.length) > raw.rounded + 1
    ticks = round(raw.length) if far and raw.length > filled else filled
    if not ticks or abs(ticks - metre.ticks) <= raw.rounded or builder.ours:
        return None if not builder.ours or not ticks or ticks == metre.ticks else Length(ticks)
    if raw.metre is None or raw.ours.get("senza") or free or raw.implicit or raw.split:
        return Length(ticks)
    if ticks > metre.ticks:
        builder.ledger.mend("Measures longer than their metre are kept as they are", raw.number)
        return None
    # nothing sounds in the rest of it in any part: halves of a measure, cadences without a metre
    builder.ledger.mend("Measures shorter than their metre keep their own length", raw.number)
    return Length(ticks)


def _barline(raw: RawMeasure) -> str:
    said = raw.ours.get("barline")
    if said in ("", "single", "double", "final", "dashed", "none"):
        return str(said)
    for bar in raw.bars:
        if bar.location != "left" and bar.style and not bar.repeat:
            return bar.style
    return ""


def _versions(builder: Builder, raw: RawMeasure) -> tuple[OtherVersion, ...]:
    found = []
    rows = raw.ours.get("versions")
    for content in rows if isinstance(rows, list) else []:
        try:
            version = msgspec.convert(content, OtherVersion, dec_hook=from_text)
        except (msgspec.ValidationError, ValueError):
            builder.ledger.drop("other version", "other versions", raw.number)
            continue
        voices = tuple(tuple(_renumbered(event, builder.ids) for event in row)
                       for row in version.voices)  # fmt: skip
        found.append(OtherVersion(version.purpose, voices))
    return tuple(found)


def _renumbered(event: Event, ids: Ids) -> Event:
    number = ids.take()
    notes = tuple(msgspec.structs.replace(note, id=ids.take()) for note in event.notes)
    return msgspec.structs.replace(event, id=number, notes=notes)


def _marks(
    builder: Builder,
    raw: RawMeasure,
    marks: Iterable[tuple[str, Ticks, object]],
    limit: int,
) -> tuple[tuple[MeasureMark, ...], tuple[Sign, ...]]:
    shown: list[MeasureMark] = []
    signs: list[Sign] = []
    for kind, tick, value in marks:
        at = Length(min(max(0, round(tick)), limit))
        if kind == "sign" and isinstance(value, Sign):
            if value not in signs or builder.ours:
                signs.append(value)
        elif kind == "chord" and isinstance(value, ChordShape):
            shown.append(ChordMark(value, at))
        elif kind in ("tempo", "text", "position"):
            mark: Any = msgspec.structs.replace(value, at=at)  # type: ignore[type-var]
            if isinstance(mark, TempoMark) and mark in shown and not builder.ours:
                continue
            shown.append(mark)
    return tuple(shown), tuple(signs)


def mean(values: Sequence[int]) -> float | None:
    """The mean, or None of nothing."""
    return sum(values) / len(values) if values else None
