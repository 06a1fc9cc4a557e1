"""Melody and bass out of one stream of notes, and written events out of a voice's notes.

The split follows the usual picture of two-part guitar music (common practice, no source): what
sounds together is parted into the highest note and the rest; a note alone goes to the voice
whose last pitches it is nearer to.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from msgspec import Struct

from core.model import Base, Metre, Value
from core.model.time import written_values

SPLIT_SEMITONES = 5  # two notes struck together this far apart are taken for two voices


class Placed(Struct, frozen=True):
    """A note in model ticks from the beginning of the piece."""

    start: int
    end: int
    midi: int


class Chord(Struct, frozen=True):
    """Notes of one voice struck together and ended together; rests are not told."""

    start: int
    end: int
    pitches: tuple[int, ...]


def split(notes: Sequence[Placed]) -> tuple[list[Placed], list[Placed]]:
    """(melody, bass) of the notes of one player; the bass is empty where one voice is enough."""
    groups = [list(g) for _, g in groupby(sorted(notes, key=_order), key=lambda n: n.start)]
    if not _needs_two(groups):
        return [note for group in groups for note in group], []
    high, low = _first_pitches(groups)
    melody: list[Placed] = []
    bass: list[Placed] = []
    for group in groups:
        upper, lower = _parted(group, high, low, melody, bass)
        melody += upper
        bass += lower
        high = (2 * high + upper[-1].midi) / 3 if upper else high
        low = (2 * low + lower[0].midi) / 3 if lower else low
    return melody, bass


def _order(note: Placed) -> tuple[int, int]:
    return note.start, note.midi


def _needs_two(groups: Sequence[Sequence[Placed]]) -> bool:
    """Whether something begins while another note is held, or a chord's notes end apart."""
    held = 0
    for group in groups:
        ends = {note.end for note in group}
        if len(ends) > 1 or held > group[0].start:
            return True
        held = max(held, *ends)
    return False


def _first_pitches(groups: Sequence[Sequence[Placed]]) -> tuple[float, float]:
    """Where melody and bass begin: the mean of the upper and of the lower half of the pitches."""
    pitches = sorted(note.midi for group in groups for note in group)
    half = len(pitches) // 2
    lower, upper = pitches[: half or 1], pitches[half:]
    return sum(upper) / len(upper), sum(lower) / len(lower)


def _parted(
    group: list[Placed], high: float, low: float, melody: list[Placed], bass: list[Placed]
) -> tuple[list[Placed], list[Placed]]:
    """(upper, lower) of the notes of one onset, lowest first."""
    start, top = group[0].start, group[-1]
    if len(group) == 1:
        if bass and bass[-1].end > start and top.midi > bass[-1].midi:
            return group, []
        if melody and melody[-1].end > start and top.midi < melody[-1].midi:
            return [], group
        return (group, []) if abs(top.midi - high) <= abs(top.midi - low) else ([], group)
    upper = [note for note in group if note.end == top.end and top.midi - note.midi <= 9]
    lower = [note for note in group if note not in upper]
    if not lower and top.midi - group[0].midi >= SPLIT_SEMITONES:
        return upper[1:], upper[:1]
    return upper, lower


class Loss(Struct):
    """What making a voice of notes cost."""

    shortened: int = 0
    doubled: int = 0


def chords(notes: Sequence[Placed], bridge: int, loss: Loss) -> list[Chord]:
    """The events of a voice: equal onsets are chords, ends stop at the next onset.

    A gap of at most `bridge` ticks, and half as long as what sounds before it, is closed: that is
    how notes are played, not written. Pass 0 to keep every gap.
    """
    groups = [list(g) for _, g in groupby(sorted(notes, key=_order), key=lambda n: n.start)]
    row: list[Chord] = []
    for index, group in enumerate(groups):
        pitches = tuple(sorted({note.midi for note in group}))
        loss.doubled += len(group) - len(pitches)
        start, end = group[0].start, max(note.end for note in group)
        loss.shortened += sum(note.end < end for note in group)
        if index + 1 < len(groups):
            following = groups[index + 1][0].start
            loss.shortened += end > following
            gap = following - end
            if gap < 0 or 0 < 2 * gap <= min(2 * bridge, end - start):
                end = following
        row.append(Chord(start, end, pitches))
    return row


class Slot(Struct, frozen=True):
    """A written value of a voice; a rest without pitches; `tied` to the next slot."""

    value: Value
    pitches: tuple[int, ...] = ()
    tied: bool = False


class Piece(Struct, frozen=True):
    """A beat written as a tuplet: where it begins and ends, and of how many (3, 5 or 7)."""

    start: int
    end: int
    tuplet: int


_NORMAL = {3: 2, 5: 4, 7: 4}


def slots(
    row: Sequence[Chord], start: int, end: int, metre: Metre, pieces: Sequence[Piece]
) -> Iterator[Slot]:
    """The written values that fill a measure from `start` to `end` with the chords of a voice."""
    cut = sorted(
        {end, *(p.start for p in pieces if p.tuplet), *(p.end for p in pieces if p.tuplet)}
    )
    for low, high, chord in _stretches(row, start, end):
        stops = [c for c in cut if low < c < high] + [high]
        for index, stop in enumerate(stops):
            piece = next((p for p in pieces if p.start <= low < p.end), None)
            values = _tuplet(low, stop, piece) if piece else _plain(low, stop, start, metre)
            for number, value in enumerate(values):
                last = index == len(stops) - 1 and number == len(values) - 1
                goes_on = chord is not None and (not last or chord.end > high)
                yield Slot(value, chord.pitches if chord else (), goes_on)
            low = stop  # noqa: PLW2901 (the stretch is eaten up)


def _stretches(
    row: Sequence[Chord], start: int, end: int
) -> Iterator[tuple[int, int, Chord | None]]:
    """The chords and the gaps between them, cut to the measure."""
    now = start
    for chord in row:
        if chord.end <= start or chord.start >= end:
            continue
        if chord.start > now:
            yield now, chord.start, None
        yield max(chord.start, start), min(chord.end, end), chord
        now = min(chord.end, end)
    if now < end:
        yield now, end, None


def _plain(low: int, high: int, start: int, metre: Metre) -> tuple[Value, ...]:
    """One value where it is easy to read: from a beat on, inside a beat, or a beat long."""
    single = _single(high - low)
    if single is not None and _readable(low - start, high - start, metre):
        return (single,)
    return written_values(low - start, high - start, metre)


def _single(length: int) -> Value | None:
    values = (Value(base, dots) for base in Base for dots in (0, 1))
    return next((value for value in values if value.ticks == length), None)


def _readable(low: int, high: int, metre: Metre) -> bool:
    edges = [0]
    while edges[-1] < high:
        edges.append(edges[-1] + metre.pulse_ticks[(len(edges) - 1) % len(metre.pulse_ticks)])
    beat = metre.pulse_ticks[0]
    return (
        low in edges
        or not any(low < edge < high for edge in edges)
        or (high - low == beat and not metre.compound)
    )


def _tuplet(low: int, high: int, piece: Piece) -> tuple[Value, ...]:
    """Values inside a tuplet beat: a triplet eighth is a third of a quarter."""
    actual = piece.tuplet
    normal = _NORMAL[actual]
    whole = piece.end - piece.start
    left, values = high - low, []
    pair = ((actual, normal),)
    candidates = [
        Value(base, dots, pair)
        for base in Base
        for dots in (1, 0)
        if Value(base, dots).ticks * normal // actual <= whole
    ]
    while left > 0:
        fitting = [value for value in candidates if value.ticks <= left]
        if not fitting:
            break
        value = max(fitting, key=lambda v: v.ticks)
        values.append(value)
        left -= value.ticks
    return tuple(values)
