"""What sounds when: the notes of all voices as strokes, with ties joined and onsets in order."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from msgspec import Struct

from core.model import Arrangement, Event, Measure, Note, walk

Moment = tuple[int, int]
"""Ticks from the start of the written music, and an order within them: grace notes come before."""


class Heard(Struct, frozen=True):
    """A note as it is heard: the written notes that tie into it, its first moment and its end.

    `measures` are the measure ids of the written notes, `event` the id of the first one's event.
    """

    notes: tuple[Note, ...]
    measures: tuple[int, ...]
    event: int
    start: Moment
    end: int

    @property
    def first(self) -> Note:
        """The struck note; the others are tied to it."""
        return self.notes[0]


class _Written(Struct, frozen=True):
    measure: Measure
    moment: Moment
    event: Event


def heard(arrangement: Arrangement, measure_ids: Collection[int] | None = None) -> list[Heard]:
    """The notes of the written music as they are heard, in the order of their onsets.

    Tied notes are one sounding. With `measure_ids`, only notes that sound in those measures.
    """
    chains: list[Heard] = []
    rows = _rows(arrangement)
    for row in rows:
        chains += _chains(row)
    if measure_ids is not None:
        chains = [c for c in chains if any(m in measure_ids for m in c.measures)]
    return sorted(chains, key=lambda chain: (chain.start, -chain.first.pitch.midi))


def _rows(arrangement: Arrangement) -> list[list[_Written]]:
    """The events of each voice through the whole written music."""
    rows: list[list[_Written]] = [[], [], [], []]
    start = 0
    for measure in walk.measures(arrangement):
        for voice, events in enumerate(measure.voices):
            rows[voice].extend(_moments(measure, start, events))
        start += measure.length_ticks
    return rows


def _moments(measure: Measure, start: int, events: tuple[Event, ...]) -> Iterator[_Written]:
    at = start
    graces = 0
    for index, event in enumerate(events):
        if event.grace is not None:
            if graces == 0:
                graces = _run_of_graces(events, index)
            yield _Written(measure, (at, -graces), event)
            graces -= 1
        else:
            yield _Written(measure, (at, 0), event)
            at += event.ticks


def _run_of_graces(events: tuple[Event, ...], index: int) -> int:
    end = index
    while end < len(events) and events[end].grace is not None:
        end += 1
    return end - index


def _chains(row: list[_Written]) -> Iterator[Heard]:
    """Joins tied notes of one voice. A tie that finds no partner simply ends."""
    joined: set[int] = set()
    for index, written in enumerate(row):
        for note in written.event.notes:
            if note.id not in joined:
                notes, measures = _follow(row, index, note, joined)
                joined.update(n.id for n in notes)
                last = row[index + len(notes) - 1]
                end = last.moment[0] + last.event.ticks
                yield Heard(notes, measures, written.event.id, written.moment, end)


def _follow(
    row: list[_Written], index: int, note: Note, joined: set[int]
) -> tuple[tuple[Note, ...], tuple[int, ...]]:
    notes, measures = [note], [row[index].measure.id]
    while notes[-1].tied and index + 1 < len(row):
        index += 1
        same = (n for n in row[index].event.notes if n.pitch.midi == note.pitch.midi)
        partner = next((n for n in same if n.id not in joined), None)
        if partner is None:
            break
        notes.append(partner)
        measures.append(row[index].measure.id)
    return tuple(notes), tuple(measures)


def by_moment(sounds: list[Heard]) -> Mapping[Moment, list[Heard]]:
    """The sounds struck at each moment, moments in order."""
    table: dict[Moment, list[Heard]] = {}
    for sound in sounds:
        table.setdefault(sound.start, []).append(sound)
    return table
