"""Plain-text tablature: six lines of figures with bar strokes, as players write it in letters.

``e|--0-----1---|`` and so on down to the lowest string. The lines are common practice, no source.
Values are not written in such a text: ours spaces the figures in proportion to time, and reading
takes the time from the spacing within each measure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import reduce
from itertools import pairwise
from math import gcd

from msgspec import Struct

from core.edit.clip import Clip, Piece, Selection, selected
from core.edit.rows import Uncuttable, fill
from core.model import (
    BadInput,
    Base,
    Event,
    Instrument,
    Key,
    Label,
    Lesson,
    Metre,
    Note,
    Pitch,
    Place,
    Value,
)
from core.model.measure import Measure
from core.model.time import TICKS_PER_WHOLE

FEWEST_LINES = 4
MOST_CHARACTERS = 200_000
LINE = re.compile(r"^\s*(?P<name>[A-Ga-g][#b]?)?\s*(?P<body>[|:][-0-9|:.*()xXhpbrstv/\\~^= ]*)$")
FIGURE = re.compile(r"[0-9]{1,2}")
BARS = re.compile(r"[|:*]+")
GRID = TICKS_PER_WHOLE // 32
FINEST = TICKS_PER_WHOLE // 96  # a triplet of thirty-seconds: what spacing may mean besides


def write(lesson: Lesson, what: Selection) -> str:
    """The selected measures as six lines of text; notes without a place are left out.

    Whole measures are written, also where only a part is selected: figures outside it are left out.
    """
    instrument = lesson.arrangement.instrument
    rows = [f"{_letter(pitch, index)}|" for index, pitch in enumerate(instrument.strings)]
    width = max(len(row) for row in rows)
    rows = [row.rjust(width) for row in rows]
    for measure, figures in _figures(lesson, what):
        for index, text in enumerate(_drawn(measure, figures, len(rows))):
            rows[index] += text + "|"
    return "\n".join(rows) + "\n"


def _letter(pitch: Pitch, index: int) -> str:
    """The name of a string: the first one small, as players write it."""
    name = str(pitch)[:-1]
    return name.lower() if index == 0 else name


Figures = list[tuple[int, int, int]]  # onset in ticks, string, fret


def _figures(lesson: Lesson, what: Selection) -> Iterator[tuple[Measure, Figures]]:
    chosen: dict[int, tuple[Measure, Figures]] = {}
    for found, voice, index, _ in selected(lesson, what):
        measure = found.measure
        figures = chosen.setdefault(measure.id, (measure, []))[1]
        event = measure.voices[voice][index]
        onset = sum(e.ticks for e in measure.voices[voice][:index])
        if event.grace is None:
            figures += [
                (onset, n.place.value.string, n.place.value.fret)
                for n in event.notes
                if n.place is not None
            ]
    yield from chosen.values()


def _drawn(measure: Measure, figures: Figures, strings: int) -> list[str]:
    """The lines of one measure: a dash, then as many columns for a unit of time as figures need."""
    length = measure.length_ticks
    unit = reduce(gcd, (onset for onset, _, _ in figures), length)
    if length // unit == 1:
        unit = gcd(unit, measure.metre.pulse_ticks[0])
    room = 2 + max((len(str(fret)) for _, _, fret in figures), default=1)
    lines = [["-"] * (1 + room * (length // unit)) for _ in range(strings)]
    for onset, string, fret in figures:
        at = 1 + room * (onset // unit)
        lines[string - 1][at : at + len(str(fret))] = str(fret)
    return ["".join(line) for line in lines]


class PlainTab(Struct, frozen=True):
    """What was read: the music in one voice, and whether its spacing told the values."""

    clip: Clip
    timed: bool


def read(text: str, instrument: Instrument, metre: Metre, key: Key) -> PlainTab:
    """Read the first block of tab lines and those that follow it; raises BadInput.

    Each measure lasts the metre. Where its columns fit no values they follow each other evenly.
    """
    if len(text) > MOST_CHARACTERS:
        raise BadInput("That text is too long for a tab to paste.")
    strings = len(instrument.strings)
    pieces: list[Piece] = []
    start, timed = 0, True
    for measure in _measures(text, strings):
        events, fits = _timed(measure, metre)
        timed = timed and fits
        for onset, end, figures in events:
            notes = tuple(_note(string, fret, instrument, key) for string, fret in figures)
            pieces += _events(start + onset, start + end, onset, notes, metre)
        start += metre.ticks
    if not any(piece.event.notes for piece in pieces):
        raise BadInput(f"That text holds no tab of {strings} lines with figures.")
    return PlainTab(Clip(tuple(pieces)), timed)


Column = dict[int, list[tuple[int, int]]]  # character -> (string, fret)


class _Text(Struct):
    """One measure as it stands in the text: its width in characters, and figures by column."""

    width: int
    columns: Column


def _measures(text: str, strings: int) -> Iterator[_Text]:
    for block in _blocks(text):
        if len(block) != strings:
            raise BadInput(
                f"A block of this tab has {len(block)} lines; the guitar has {strings} strings."
            )
        yield from _cut(block)


def _blocks(text: str) -> Iterator[list[str]]:
    """Lines of tab that stand together."""
    block: list[str] = []
    for line in [*text.splitlines(), ""]:
        found = LINE.match(line.rstrip())
        if found is not None and "-" in found["body"]:
            block.append(found["body"])
            continue
        if len(block) >= FEWEST_LINES:
            yield block
        block = []


def _cut(block: Sequence[str]) -> Iterator[_Text]:
    """The measures between bar strokes, which stand where the first line has them."""
    strokes = [found.span() for found in BARS.finditer(block[0])]
    spans = [(end, begin) for (_, end), (begin, _) in pairwise(strokes)]
    if strokes[-1][1] < len(block[0].rstrip()):
        spans.append((strokes[-1][1], max(len(line) for line in block)))
    for begin, end in spans:
        columns: Column = {}
        for index, line in enumerate(block):
            for found in FIGURE.finditer(line, begin, end):
                columns.setdefault(found.start() - begin, []).append((index + 1, int(found[0])))
        yield _Text(end - begin, columns)


Timed = list[tuple[int, int, list[tuple[int, int]]]]  # onset, end, (string, fret)


def _timed(measure: _Text, metre: Metre) -> tuple[Timed, bool]:
    """When the columns of a measure begin and end, and whether their spacing told it."""
    columns = sorted(measure.columns)
    if not columns:
        return [(0, metre.ticks, [])], True
    lead = 1 if columns[0] > 0 else 0
    onsets = _spaced(columns, lead, measure.width - lead, metre)
    fits = onsets is not None
    if onsets is None:
        step = _even(len(columns), metre)
        onsets = [index * step for index in range(len(columns))]
    ends = [*onsets[1:], max(metre.ticks, onsets[-1] + GRID)]
    rows = [measure.columns[column] for column in columns]
    timed: Timed = list(zip(onsets, ends, rows, strict=True))
    return ([(0, onsets[0], []), *timed] if onsets[0] else timed), fits


def _spaced(columns: Sequence[int], lead: int, width: int, metre: Metre) -> list[int] | None:
    """Onsets in proportion to the columns, each a value's length after the one before; or None."""
    onsets = [
        round(Fraction((column - lead) * metre.ticks, width * FINEST)) * FINEST
        for column in columns
    ]
    exact = all(
        abs(Fraction((column - lead) * metre.ticks, width) - onset) * width <= metre.ticks
        for column, onset in zip(columns, onsets, strict=True)
    )
    increasing = all(a < b for a, b in pairwise(onsets))
    if not exact or not increasing or onsets[-1] >= metre.ticks:
        return None
    try:
        for begin, end in zip([0, *onsets], [*onsets, metre.ticks], strict=True):
            if end > begin:
                fill(begin, end, metre)
    except Uncuttable:
        return None
    return onsets


def _even(count: int, metre: Metre) -> int:
    """The longest plain value of which `count` fit into the metre, at least a thirty-second."""
    step = TICKS_PER_WHOLE
    while step * count > metre.ticks and step > GRID:
        step //= 2
    return step


def _note(string: int, fret: int, instrument: Instrument, key: Key) -> Note:
    if fret > instrument.highest_fret - instrument.capo:
        raise BadInput(f"The tab has fret {fret}, which this guitar does not have.")
    place = Place(string, fret)
    return Note(0, Pitch.from_midi(instrument.midi_at(place), key), Label(place))


def _events(
    start: int, end: int, onset: int, notes: tuple[Note, ...], metre: Metre
) -> Iterator[Piece]:
    """The event that lasts from one column to the next: as one value where there is one, else

    the note and a rest after it. `onset` is `start` counted from the measure's beginning.
    """
    offset = start
    plain = (Value(base, dots) for base in Base for dots in (0, 1))
    whole = [value for value in plain if notes and value.ticks == end - start]
    for index, value in enumerate(whole or fill(onset, onset + end - start, metre)):
        yield Piece(0, offset, Event(0, value, notes if index == 0 else ()))
        offset += value.ticks
