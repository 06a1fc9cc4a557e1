"""Writing plain-text tablature; `core.formats.plain_tab` describes the form."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import accumulate
from math import gcd

from msgspec import Struct

from core.edit.base import name_of
from core.edit.clip import Selection, selected
from core.edit.marks import measure_mark_words, words_of
from core.edit.measures import run_of
from core.edit.rows import Uncuttable, fill
from core.formats.plain_tab_signs import HAND, SILENT, beat_text, length_text, shared_out
from core.model import (
    SIGN_WORDS,
    Event,
    Finger,
    Instrument,
    Lesson,
    Measure,
    Note,
    Pitch,
    Value,
)
from core.model.notes import HARMONIC_SEMITONES

WIDEST = 76  # characters to a line, so that a mail does not break it
SPREAD = 52  # characters to a measure up to which figures are set in proportion to time
LEGEND = (
    "Letters: W whole, H half, Q quarter, E eighth, S 16th, T 32nd; a small letter is a rest,\n"
    "a dot lengthens by half, 3 is a triplet. Below the lines: the bass. LH: left-hand fingers.\n"
)


class Written(Struct, frozen=True):
    """A tab as text, and in words what of the music it does not carry (``2 grace notes``)."""

    text: str
    left_out: tuple[str, ...]


Lost = Counter[tuple[str, str]]  # the word for one and for several


class _Figure(Struct, frozen=True):
    """What stands on a string for one note, and its finger."""

    string: int
    text: str
    finger: Finger | None = None


class _Stroke(Struct, frozen=True):
    """What one voice begins at a moment: its value, and the figures of its notes by string."""

    voice: int
    onset: int
    value: Value
    figures: tuple[_Figure, ...] = ()


class _Bars(Struct, frozen=True):
    """One measure to be written: how long it is meant to be, in words too, and what begins."""

    ticks: int
    length: str
    strokes: tuple[_Stroke, ...]


class _Drawn(Struct, frozen=True):
    """The lines of one measure, each `width` wide: lengths, values by voice, strings, fingers."""

    width: int
    length: str
    values: tuple[str, ...]
    strings: tuple[str, ...]
    fingers: tuple[str, ...]


def write(lesson: Lesson, what: Selection) -> Written:
    """The selected music as tab.

    A selection that begins within a measure is written from there, as a shorter measure.
    """
    lost: Lost = Counter()
    instrument = lesson.arrangement.instrument
    bars = list(_bars(lesson, what, lost))
    voices = sorted({stroke.voice for bar in bars for stroke in bar.strokes})
    known = ""
    drawn: list[_Drawn] = []
    for bar in bars:
        length = "" if bar.length == known else bar.length
        known = bar.length or known
        drawn.append(_draw(bar, length, voices, len(instrument.strings), lost))
    text = "\n".join(_system(row, instrument) for row in _systems(drawn, instrument))
    _count_signs(lesson, what, lost)
    return Written(
        text, tuple(f"{n} {one if n == 1 else many}" for (one, many), n in lost.items() if n)
    )


def _count_signs(lesson: Lesson, what: Selection, lost: Lost) -> None:
    """What no figure and no letter says."""
    run = run_of(lesson, what.first, what.last)
    chosen = [f.measure.voices[voice][index] for f, voice, index, _ in selected(lesson, what)]
    notes = [note for event in chosen for note in event.notes]
    numbers = {event.id for event in chosen} | {note.id for note in notes}
    spans = [s for s in lesson.arrangement.spans if {s.start, s.end} <= numbers]
    sections = {found.section for found in run}
    lost["line or slur", "lines and slurs"] += len(spans)
    lost["plucking letter", "plucking letters"] += sum(n.plucking is not None for n in notes)
    for sign, measures in _signs_by_name(lesson, what).items():
        where = ", ".join(dict.fromkeys(measures))
        lost[f"{sign} sign ({where})", f"{sign} signs ({where})"] += len(measures)
    lost["repeat", "repeats"] += sum(
        lesson.arrangement.sections[index].times > 1 for index in sections
    )


NOTE_SIGNS = {
    "let_ring": "let-ring", "circled": "string", "guide": "guide", "small": "small-note",
    "substitute": "finger-change", "bend": "bend", "alternative": "other-fingering",
}  # fmt: skip
"""Field of a note -> what its sign is called."""


def _signs_by_name(lesson: Lesson, what: Selection) -> dict[str, list[str]]:
    """Each kind of sign at the selected notes and over their measures -> the measures it is in."""
    found: dict[str, list[str]] = {}
    for at, voice, index, _ in selected(lesson, what):
        event = at.measure.voices[voice][index]
        names = [words_of(mark) for mark in event.marks]
        names += [
            sign for note in event.notes for field, sign in NOTE_SIGNS.items()
            if getattr(note, field)
        ]  # fmt: skip
        for sign in names:
            found.setdefault(sign, []).append(name_of(lesson, at.measure.id))
    for at in run_of(lesson, what.first, what.last):
        names = [measure_mark_words(mark) for mark in at.measure.marks]
        names += [SIGN_WORDS[sign.kind] for sign in at.measure.signs]
        for sign in names:
            found.setdefault(sign, []).append(name_of(lesson, at.measure.id))
    return found


# ---------------------------------------------------------------------- what begins when


def _bars(lesson: Lesson, what: Selection, lost: Lost) -> Iterator[_Bars]:
    chosen: dict[int, dict[int, list[int]]] = {}
    for found, voice, index, _ in selected(lesson, what):
        chosen.setdefault(found.measure.id, {}).setdefault(voice, []).append(index)
    before: dict[int, Event] = {}
    for found in run_of(lesson, what.first, what.last):
        measure = found.measure
        start = what.start if measure.id == what.first else 0
        if measure.id == what.last and what.end <= start and measure.id not in chosen:
            continue
        strokes: list[_Stroke] = []
        for voice, indices in sorted(chosen.get(measure.id, {}).items()):
            strokes += _voice(lesson, measure, voice, indices, start, before, lost)
        yield _Bars(measure.ticks - start, _length(measure, start), tuple(strokes))


def _length(measure: Measure, start: int) -> str:
    """The metre, or how long this measure is."""
    if measure.own_length is None and not start:
        return "+".join(map(str, measure.metre.groups)) + f"/{measure.metre.unit}"
    return length_text(measure.ticks - start) if measure.ticks > start else ""


def _voice(
    lesson: Lesson, measure: Measure, voice: int, indices: Sequence[int], start: int,
    before: dict[int, Event], lost: Lost,
) -> Iterator[_Stroke]:  # fmt: skip
    """The selected events of a voice; a gap before the first of them is written as rests."""
    row = measure.voices[voice]
    onsets = [0, *accumulate(event.ticks for event in row)]
    indices = [index for index in indices if row[index].grace is None]
    lost["grace note", "grace notes"] += sum(e.grace is not None for e in row) * (not start)
    if not indices:
        return
    try:
        gap = fill(start, onsets[indices[0]], measure.metre) if onsets[indices[0]] > start else ()
    except Uncuttable:
        gap = ()
        lost["rest of a cut tuplet", "rests of cut tuplets"] += 1
    onset = 0
    for value in gap:
        yield _Stroke(voice, onset, value)
        onset += value.ticks
    for index in indices:
        event = row[index]
        figures = tuple(_figures(lesson.arrangement.instrument, event, before.get(voice), lost))
        yield _Stroke(voice, onsets[index] - start, event.value, figures)
        before[voice] = event


def _figures(
    instrument: Instrument, event: Event, before: Event | None, lost: Lost
) -> Iterator[_Figure]:
    earlier = before.notes if before is not None else ()
    came = {(note.pitch, note.place and note.place.value) for note in earlier if note.tied}
    reached = 0
    for note in event.notes:
        if note.place is None:
            lost["note without a place", "notes without a place"] += 1
            continue
        place = note.place.value
        text = _harmonic(note, instrument, lost) or str(place.fret)
        if (note.pitch, place) in came and text.isdigit():
            text = f"({text})"
            reached += 1
        yield _Figure(place.string, text, note.finger.value if note.finger else None)
    lost["tie", "ties"] += len(came) - reached


def _harmonic(note: Note, instrument: Instrument, lost: Lost) -> str:
    """``<12>`` for a natural harmonic of the open string; other harmonics are only a figure."""
    if note.harmonic is None or note.place is None:
        return ""
    touched, place = note.harmonic.touched_fret, note.place.value
    sounds = instrument.midi_at(place) + HARMONIC_SEMITONES.get(touched, 0)
    if note.harmonic.kind == "natural" and place.fret == 0 and sounds == note.pitch.midi:
        return f"<{touched}>"
    lost["harmonic", "harmonics"] += 1
    return ""


# ---------------------------------------------------------------------- lines of a measure


def _draw(bar: _Bars, length: str, voices: Sequence[int], strings: int, lost: Lost) -> _Drawn:
    onsets = sorted({stroke.onset for stroke in bar.strokes})
    columns = [
        _shared([s for s in bar.strokes if s.onset == onset], voices, lost) for onset in onsets
    ]
    deepest = max((len(fingers) for _, _, fingers in columns), default=0)
    needs = [
        1 + max(map(len, (*letters.values(), *figures.values(), "")), default=1)
        for letters, figures, _ in columns
    ]
    at, width = _places(bar, onsets, needs, len(length) + 2)
    tokens = [[(at[i], c[0].get(v, "")) for i, c in enumerate(columns)] for v in voices]
    figures = [
        [(at[i], c[1].get(string, "")) for i, c in enumerate(columns)]
        for string in range(1, strings + 1)
    ]
    fingers = [
        [(at[i], c[2][row]) for i, c in enumerate(columns) if row < len(c[2])]
        for row in range(deepest)
    ]
    return _Drawn(
        width,
        _line(width, " ", [(1, length)]),
        tuple(_line(width, " ", row) for row in tokens),
        tuple(_line(width, "-", row) for row in figures),
        tuple(_line(width, " ", row) for row in fingers),
    )


def _line(width: int, ground: str, texts: Sequence[tuple[int, str]]) -> str:
    line = [ground] * width
    for at, text in texts:
        line[at : at + len(text)] = text
    return "".join(line)


def _shared(
    strokes: Sequence[_Stroke], voices: Sequence[int], lost: Lost
) -> tuple[dict[int, str], dict[int, str], list[str]]:
    """One column: letters by voice, figures by string, fingers from string 1 down."""
    on_string: dict[int, _Figure] = {}
    kept: dict[int, list[int]] = {}
    for stroke in strokes:
        for figure in stroke.figures:
            there = on_string.setdefault(figure.string, figure)
            if there.text != figure.text:
                lost["note on a taken string", "notes on a taken string"] += 1
                continue
            if there.finger is None:
                on_string[figure.string] = figure
            kept.setdefault(stroke.voice, []).append(figure.string)
    rows = [sorted(kept[voice]) for voice in voices if voice in kept]
    taken = sorted(on_string)
    if rows and shared_out(taken, [len(row) for row in rows]) != rows:
        lost["moment where voices cross", "moments where voices cross"] += 1
    first = min(kept, default=0)
    letters = {
        s.voice: beat_text(
            s.value, s.voice not in kept, 0 if s.voice == first else len(kept.get(s.voice, "-")) - 1
        )
        for s in strokes
    }
    fingers = [str(on_string[string].finger or ".") for string in taken]
    while fingers and fingers[-1] == ".":
        fingers.pop()
    return letters, {string: figure.text for string, figure in on_string.items()}, fingers


def _places(
    bar: _Bars, onsets: Sequence[int], needs: Sequence[int], least: int
) -> tuple[list[int], int]:
    """Where the columns stand and how wide the measure is: in proportion to time where that
    stays narrow, else one after another."""
    end = max([bar.ticks, *(s.onset + s.value.ticks for s in bar.strokes)])
    if end > 0:
        unit = reduce(gcd, onsets, end)
        count = end // unit
        room = max([*needs, 2, -(-(max(least, 8) - 1) // count)])
        if 1 + room * count <= SPREAD:
            return [1 + room * (onset // unit) for onset in onsets], 1 + room * count
    ends = list(accumulate(needs, initial=1))
    return ends[:-1], max(ends[-1] + 1, least)


# ---------------------------------------------------------------------- lines of a system


def _systems(drawn: Sequence[_Drawn], instrument: Instrument) -> Iterator[list[_Drawn]]:
    """As many measures to a line as it holds."""
    row: list[_Drawn] = []
    width = begin = len(_names(instrument)[0])
    for measure in drawn:
        if row and width + measure.width + 1 > WIDEST:
            yield row
            row, width = [], begin
        row.append(measure)
        width += measure.width + 1
    if row:
        yield row


def _system(row: Sequence[_Drawn], instrument: Instrument) -> str:
    names = _names(instrument)
    begin = len(names[0])
    strings = [
        name + "".join(measure.strings[index] + "|" for measure in row)
        for index, name in enumerate(names)
    ]
    values = [_joined([m.values[v] for m in row]) for v in range(len(row[0].values))]
    while values and not values[-1]:
        values.pop()
    margin = " " * begin
    values = [margin + (line or " " + SILENT) for line in values]
    fingers = [
        HAND.ljust(begin)
        + _joined([m.fingers[r] if r < len(m.fingers) else " " * m.width for m in row])
        for r in range(max(len(m.fingers) for m in row))
    ]
    lengths = _joined([m.length for m in row])
    above = ([margin + lengths] if lengths else []) + values[:1]
    return "\n".join([*above, *strings, *values[1:], *fingers]) + "\n"


def _joined(parts: Sequence[str]) -> str:
    return " ".join(parts).rstrip()


def _names(instrument: Instrument) -> list[str]:
    rows = [string_name(pitch, index) + "|" for index, pitch in enumerate(instrument.strings)]
    width = max(map(len, [*rows, HAND]))
    return [row.rjust(width) for row in rows]


def string_name(pitch: Pitch, index: int) -> str:
    """The name of a string: the first one small, as players write it."""
    name = str(pitch)[:-1]
    return name.lower() if index == 0 else name
