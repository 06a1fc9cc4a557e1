"""From notes on a grid to voices, and from voices to written events with ties and triplets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise

from core.formats.imported import Ledger
from core.formats.midi_grid import Bar, Grid, QuantNote, compound
from core.model import TICKS_PER_QUARTER, Base, Event, Key, Note, Pitch, Value
from core.model.time import written_values

_SINGLE = {Value(base, dots).ticks: Value(base, dots) for base in Base for dots in (0, 1)}
_TRIPLETS = {
    Value(base, dots, [(3, 2)]).ticks: Value(base, dots, [(3, 2)])
    for base in (Base.QUARTER, Base.EIGHTH, Base.SIXTEENTH, Base.THIRTY_SECOND)
    for dots in (0, 1)
}
_SHORTENED = "Notes are shortened where their voice goes on (more than the voices can hold)"
_CLOSED = "Short gaps between notes are closed"


@dataclass(slots=True)
class Chord:
    """Notes struck and released together, in our ticks."""

    start: int
    end: int
    pitches: tuple[int, ...]


@dataclass(slots=True)
class Row:
    """One voice in the making."""

    chords: list[Chord] = field(default_factory=list)

    @property
    def free_from(self) -> int:
        return self.chords[-1].end if self.chords else 0

    def distance(self, pitches: Sequence[int]) -> float:
        """How far a chord lies from where the voice was; a voice not begun is far away."""
        last = self.chords[-1].pitches if self.chords else None
        return abs(max(pitches) - max(last)) if last else 1000.0


def rows_of_line(
    notes: Sequence[QuantNote], ledger: Ledger, name: Callable[[int], str]
) -> list[Row]:
    """Two voices of a line: the upper one, and a lower one where notes overlap.

    `name` gives the printed name of the measure at a tick.
    """
    upper, lower = Row(), Row()
    for _, group in groupby(notes, key=lambda n: n.start):
        for chord in _chords(list(group)):
            row = _choose(upper, lower, chord)
            if row.free_from > chord.start:
                ledger.mend(_SHORTENED, name(chord.start))
                if not _make_room(row, chord):
                    continue
            row.chords.append(chord)
    for row in (upper, lower):
        _close_gaps(row, ledger, name)
    return [upper, lower]


def _chords(notes: list[QuantNote]) -> list[Chord]:
    """The chords of one onset by their ends, the highest first."""
    ends = sorted({n.end for n in notes})
    rows = [
        Chord(notes[0].start, end, tuple(sorted(n.midi for n in notes if n.end == end)))
        for end in ends
    ]
    return sorted(rows, key=lambda c: -max(c.pitches))


def _choose(upper: Row, lower: Row, chord: Chord) -> Row:
    free = [row for row in (upper, lower) if row.free_from <= chord.start]
    if len(free) == 2:
        return min(free, key=lambda row: row.distance(chord.pitches)) if upper.chords else upper
    if free:
        return free[0]
    return min((upper, lower), key=lambda row: row.distance(chord.pitches))


def _make_room(row: Row, chord: Chord) -> bool:
    """Shorten what the voice holds; False where the chord was joined to one of the same onset."""
    last = row.chords[-1]
    if last.start < chord.start:
        last.end = chord.start
        return True
    last.pitches = tuple(sorted({*last.pitches, *chord.pitches}))
    return False


def _close_gaps(row: Row, ledger: Ledger, name: Callable[[int], str]) -> None:
    """Notes let go a little early reach the next one: less than a quarter of the way is missing."""
    for chord, following in pairwise(row.chords):
        gap = following.start - chord.end
        if 0 < 4 * gap < following.start - chord.start:
            chord.end = following.start
            ledger.mend(_CLOSED, name(chord.start))


@dataclass(slots=True)
class Writer:
    """Writes the events of one voice, bar by bar."""

    points: Grid
    ids: Iterator[int]

    def bar(self, row: Row, bar: Bar, key: Key) -> tuple[Event, ...]:
        """The events of a voice in a bar, rests filled in; empty where it has no note there."""
        end = bar.start + bar.length
        inside = [c for c in row.chords if c.start < end and c.end > bar.start]
        if not inside:
            return ()
        events: list[Event] = []
        at = bar.start
        for chord in inside:
            start, stop = max(chord.start, bar.start), min(chord.end, end)
            events += self._events(at, start, bar, None, key)
            events += self._events(start, stop, bar, chord, key)
            at = stop
        return (*events, *self._events(at, end, bar, None, key))

    def rest(self, bar: Bar, key: Key) -> tuple[Event, ...]:
        """A bar of rests."""
        return tuple(self._events(bar.start, bar.start + bar.length, bar, None, key))

    def _events(
        self, start: int, end: int, bar: Bar, chord: Chord | None, key: Key
    ) -> Iterator[Event]:
        for value in self._values(start, end, bar, chord is None):
            start += value.ticks
            number = next(self.ids)
            if chord is None:
                yield Event(number, value)
                continue
            tied = start < chord.end
            pitches = [Pitch.from_midi(midi, key) for midi in chord.pitches]
            yield Event(number, value, tuple(Note(next(self.ids), p, tied=tied) for p in pitches))

    def _values(self, start: int, end: int, bar: Bar, rest: bool) -> Iterator[Value]:
        """Values that fill a stretch: triplets in the beats that are divided so."""
        while start < end:
            beat, length, parts = self.points.parts_at(start)
            if _odd(length, parts, bar) and (start > beat or end < beat + length):
                stop = min(end, beat + length)
                yield from _triplets(stop - start)
            else:
                last, last_length, last_parts = self.points.parts_at(end - 1)
                partial = last > start and end < last + last_length
                stop = last if partial and _odd(last_length, last_parts, bar) else end
                yield from _plain(start - bar.start, stop - bar.start, bar, rest)
            start = stop


def _odd(length: int, parts: int, bar: Bar) -> bool:
    """Whether a beat is in triplets: a cut one, at the end of a short bar, never is."""
    return parts in (3, 6) and length == TICKS_PER_QUARTER and not compound(bar.metre)


def _plain(start: int, end: int, bar: Bar, rest: bool) -> Iterator[Value]:
    single = _SINGLE.get(end - start)
    if single is not None and not rest:
        yield single
        return
    offset = bar.metre.ticks - bar.length if bar.own and bar.length < bar.metre.ticks else 0
    yield from written_values(start + offset, end + offset, bar.metre)


def _triplets(ticks: int) -> Iterator[Value]:
    while ticks > 0:
        fitting = [length for length in _TRIPLETS if length <= ticks]
        length = ticks if ticks in _TRIPLETS else max(fitting)
        yield _TRIPLETS[length]
        ticks -= length
