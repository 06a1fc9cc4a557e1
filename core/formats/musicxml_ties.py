"""Ties of other programs that lead to no note: they let the note ring."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import structs

from core.formats.imported import Ledger
from core.formats.musicxml_raw import RawMeasure
from core.model import Event, Pitch

MOST_GRACES = 16
Rows = list[list[list[Event]]]


def ended(rows: Rows, raws: Sequence[RawMeasure], ledger: Ledger) -> Rows:
    """The voices of every measure with each tie leading to its pitch in the voice's next event.

    A tie without such a note becomes "let ring" and is told; at a repeat sign or an ending it
    stays, since it may lead back.
    """
    for voice in range(max((len(row) for row in rows), default=0)):
        line = [
            (index, place)
            for index, measure in enumerate(rows)
            if voice < len(measure)
            for place in range(len(measure[voice]))
        ]
        for here, (index, place) in enumerate(line):
            row, raw = rows[index][voice], raws[index]
            turning = any(bar.repeat or bar.ending for bar in raw.bars)
            if turning and place == len(row) - 1:
                continue
            after = _after(rows, voice, line[here + 1 : here + 1 + MOST_GRACES])
            row[place] = _ringing(row[place], after, raw.number, ledger)
    return rows


def _after(rows: Rows, voice: int, line: Sequence[tuple[int, int]]) -> frozenset[Pitch]:
    """The pitches of the next event, and of the one behind its grace notes."""
    pitches: set[Pitch] = set()
    for index, place in line:
        event = rows[index][voice][place]
        pitches.update(note.pitch for note in event.notes)
        if event.grace is None:
            break
    return frozenset(pitches)


def _ringing(event: Event, following: frozenset[Pitch], number: str, ledger: Ledger) -> Event:
    loose = [note for note in event.notes if note.tied and note.pitch not in following]
    if not loose:
        return event
    ledger.mend("Ties that lead to no note of their voice are kept as let ring", number)
    notes = tuple(
        structs.replace(note, tied=False, let_ring=True) if note in loose else note
        for note in event.notes
    )
    return structs.replace(event, notes=notes)
