"""Reading plain-text tablature; `core.formats.plain_tab` describes the form."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Literal

from msgspec import Struct, structs

from core.edit.clip import Clip, Piece
from core.formats.plain_tab_lines import Bar, Column, Figure, System, systems
from core.formats.plain_tab_signs import Beat, length_ticks, shared_out
from core.formats.plain_tab_spacing import spaced, values_between
from core.formats.plain_tab_write import string_name
from core.model import (
    BadInput,
    Event,
    Finger,
    Harmonic,
    Instrument,
    Key,
    Label,
    Metre,
    Note,
    Pitch,
    Place,
    Value,
)
from core.model.notes import HARMONIC_SEMITONES

MOST_CHARACTERS = 120_000
Timing = Literal["written", "spaced", "even"]
TIMINGS: tuple[Timing, ...] = ("written", "spaced", "even")


class PlainTab(Struct, frozen=True):
    """What was read: the music, what told its values, how many fingers, and what to say besides.

    `timing` is the worst of its measures: letters, spacing that fits some values, or none.
    """

    clip: Clip
    timing: Timing
    fingers: int
    remarks: tuple[str, ...] = ()


def read(text: str, instrument: Instrument, metre: Metre, key: Key) -> PlainTab:
    """Read every system of a text; raises BadInput with one sentence that names the line.

    Each measure lasts the metre, or what the text says above it. One at the beginning whose
    letters are shorter is a pickup.
    """
    if len(text) > MOST_CHARACTERS:
        raise BadInput("That text is too long for a tab to paste; copy less of it.")
    strings = len(instrument.strings)
    reader = _Reader(instrument, metre, key)
    for system in systems(text, strings):
        reader.take(system)
    if not any(piece.event.notes for piece in reader.pieces):
        raise BadInput(
            f"That text holds no tab: {strings} lines of dashes under each other, one for each "
            "string, with figures for frets."
        )
    return reader.done()


_Placed = tuple[int, int, Beat, Column | None]  # where it counts, voice, letter, figures there


class _Reader:
    """Goes through the systems from the first measure to the last."""

    def __init__(self, instrument: Instrument, metre: Metre, key: Key) -> None:
        self._instrument, self._metre, self._key = instrument, metre, key
        self._ticks, self._told_length = metre.ticks, False
        self._begin = 0
        self._value: Value | None = None
        self._timings: set[Timing] = set()
        self._fingers = self._dead = 0
        self._signs, self._names = False, ""
        self._last: dict[int, int] = {}  # voice -> index of its latest piece
        self.pieces: list[Piece] = []

    def done(self) -> PlainTab:
        order = {name: index for index, name in enumerate(TIMINGS)}
        timing: Timing = max(self._timings, key=order.__getitem__, default="spaced")
        pieces = sorted(self.pieces, key=lambda piece: (piece.offset, piece.voice))
        return PlainTab(Clip(tuple(pieces)), timing, self._fingers, tuple(self._remarks()))

    def _remarks(self) -> Iterator[str]:
        if self._names:
            yield self._names
        if self._dead:
            one = "1 dead stroke (x) is a rest."
            yield one if self._dead == 1 else f"{self._dead} dead strokes (x) are rests."
        if self._signs:
            yield "Letters and lines between the figures (slurs, slides, bends) are left out."

    def take(self, system: System) -> None:
        """The measures of a system."""
        self._signs = self._signs or system.signs
        self._check_names(system)
        for bar in system.bars:
            begin, end = (bisect_left(system.lengths, (at, "")) for at in (bar.begin, bar.end))
            for _, text in system.lengths[begin:end]:
                self._set_length(text)
            rows = [_within(row, bar) for row in system.values]
            before = len(self.pieces)
            filled = self._bar(system, bar, rows)
            pickup = self._begin == 0 and not self._told_length and 0 < filled < self._ticks
            self._begin += filled if pickup and len(self.pieces) > before else self._ticks

    def _check_names(self, system: System) -> None:
        wanted = [string_name(p, i) for i, p in enumerate(self._instrument.strings)]
        given = [name.rstrip("'0123456789") for name in system.names]
        if all(given) and [n.lower() for n in given] != [n.lower() for n in wanted]:
            self._names = (
                f"The text names its strings {' '.join(given)}, this guitar has "
                f"{' '.join(wanted)}: the places were kept, so that it may sound otherwise."
            )

    def _set_length(self, text: str) -> None:
        ticks = length_ticks(text)
        if ticks is None or ticks > 64 * self._metre.ticks:
            return
        self._ticks, self._told_length = ticks, True
        try:
            self._metre = Metre.parse(text)
        except ValueError:
            return  # the length of one measure, such as 5/16 of a 4/4

    def _bar(self, system: System, bar: Bar, rows: Sequence[Sequence[Beat]]) -> int:
        """The music of one measure; the ticks that letters give it, 0 where there are none."""
        if any(rows) or (any(system.values) and self._value and bar.columns):
            self._timings.add("written")
            return self._lettered(system, bar, rows)
        events, fits = spaced(bar, self._ticks, self._metre)
        if bar.columns:
            self._timings.add("spaced" if fits else "even")
        for start, end, column in events:
            onset = start
            notes = self._notes(column.figures, system, column) if column else ()
            values = values_between(start, end, bool(notes), self._metre)
            for index, value in enumerate(values):
                self._put(0, onset, value, notes if index == 0 else ())
                onset += value.ticks
        return 0

    def _lettered(self, system: System, bar: Bar, rows: Sequence[Sequence[Beat]]) -> int:
        """Each letter at its column; a column without one goes on with the letter before."""
        beats: list[_Placed] = []
        starts = [column.start for column in bar.columns]
        free = set(starts)
        for voice, row in enumerate(rows):
            for beat in row:
                column = _under(beat.at, starts, bar.columns)
                beats.append((column.start if column else beat.at, voice, beat, column))
                free -= {column.start} if column else set()
        beats += self._going_on(bar, free, beats)
        filled = [0] * max(1, len(rows))
        beats.sort(key=lambda entry: entry[:2])
        for _, group in groupby(beats, key=lambda entry: entry[0]):
            here = list(group)
            column = here[0][3]
            parts = {} if column is None else self._parts(here, column, system)
            for _, voice, beat, _ in here:
                self._put(voice, filled[voice], beat.value, tuple(parts.pop(voice, ())))
                filled[voice] += beat.value.ticks
        return max(filled)

    def _going_on(self, bar: Bar, free: set[int], beats: Sequence[_Placed]) -> Iterator[_Placed]:
        columns = {column.start: column for column in bar.columns}
        written = {at: beat.value for at, voice, beat, _ in beats if voice == 0}
        for at in sorted({*free, *written}):
            self._value = written.get(at, self._value)
            if at in free:
                value = self._value or next(iter(written.values()), beats[0][2].value)
                yield at, 0, Beat(at, value, False), columns[at]

    def _parts(
        self, beats: Sequence[_Placed], column: Column, system: System
    ) -> dict[int, list[Note]]:
        """The notes of a column by voice. Where all letters are small, the first is meant."""
        struck = [(voice, beat) for _, voice, beat, _ in beats if not beat.rest]
        struck = struck or [(beats[0][1], beats[0][2])]
        notes = self._notes(column.figures, system, column)
        if not notes:
            return {}
        wanted = [beat.more + 1 for _, beat in struck]
        parts = shared_out(notes, wanted)
        return {voice: part for (voice, _), part in zip(struck, parts, strict=True)}

    # ------------------------------------------------------------------ notes

    def _notes(self, figures: Sequence[Figure], system: System, column: Column) -> tuple[Note, ...]:
        """Notes from string 1 down with their fingers; `tied` marks those in brackets so far."""
        self._dead += sum(figure.how == "dead" for figure in figures)
        notes = []
        for row, figure in enumerate(f for f in figures if f.how != "dead"):
            finger = None
            if row < len(system.hands):
                found = (system.hands[row].get(at) for at in range(column.start, column.end))
                finger = next((Finger(sign) for sign in found if sign), None)
            self._fingers += finger is not None
            note = self._note(figure, system)
            notes.append(structs.replace(note, finger=Label(finger) if finger else None))
        return tuple(notes)

    def _note(self, figure: Figure, system: System) -> Note:
        instrument = self._instrument
        if figure.how == "touched" and figure.fret in HARMONIC_SEMITONES:
            place = Place(figure.string, 0)
            midi = instrument.midi_at(place) + HARMONIC_SEMITONES[figure.fret]
            harmonic = Harmonic("natural", figure.fret)
            return Note(0, Pitch.from_midi(midi, self._key), Label(place), harmonic=harmonic)
        highest = instrument.highest_fret - instrument.capo
        if figure.fret > highest:
            raise BadInput(
                f"Line {system.line + figure.string - 1}: fret {figure.fret} is higher than "
                f"{highest}, the last of this guitar; put a dash between two figures."
            )
        place = Place(figure.string, figure.fret)
        pitch = Pitch.from_midi(instrument.midi_at(place), self._key)
        return Note(0, pitch, Label(place), tied=figure.how == "tied")

    def _put(self, voice: int, onset: int, value: Value, notes: tuple[Note, ...]) -> None:
        """A piece; the bracket of a note goes over to the one before as its tie."""
        came = {note.place for note in notes if note.tied}
        index = self._last.get(voice)
        if came and index is not None:
            piece = self.pieces[index]
            held = tuple(
                structs.replace(note, tied=note.tied or note.place in came)
                for note in piece.event.notes
            )
            self.pieces[index] = structs.replace(
                piece, event=structs.replace(piece.event, notes=held)
            )
        notes = tuple(structs.replace(note, tied=False) for note in notes)
        self._last[voice] = len(self.pieces)
        self.pieces.append(Piece(voice, self._begin + onset, Event(0, value, notes)))


def _within(row: Sequence[Beat], bar: Bar) -> Sequence[Beat]:
    begin = bisect_left(row, bar.begin, key=lambda beat: beat.at)
    return row[begin : bisect_left(row, bar.end, key=lambda beat: beat.at)]


def _under(at: int, starts: Sequence[int], columns: Sequence[Column]) -> Column | None:
    """The column a letter stands over, or beside by one; `starts` are where the columns begin."""
    index = bisect_left(starts, at)
    near = [
        column
        for column in columns[max(0, index - 1) : index + 1]
        if column.start <= at < column.end or abs(column.start - at) <= 1
    ]
    return min(near, key=lambda c: abs(c.start - at), default=None)
