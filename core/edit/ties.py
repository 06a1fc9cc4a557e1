"""Ties that lose their other note in an edit are taken off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import structs

from core.model import Event, Measure, Note


def loosened(original: Sequence[Measure], updated: Sequence[Measure]) -> list[Measure]:
    """The updated measures without the ties that met their note in the original ones and no longer

    do. Both rows are neighbours in written order; they may differ in length.
    """
    lost = _held(original) - _held(updated)
    return [_untied(measure, lost) for measure in updated] if lost else list(updated)


def _held(row: Sequence[Measure]) -> set[int]:
    """The ids of the notes whose tie meets its other note."""
    held: set[int] = set()
    for index, measure in enumerate(row):
        following = row[index + 1] if index + 1 < len(row) else None
        for voice, events in enumerate(measure.voices):
            if not any(note.tied for event in events for note in event.notes):
                continue
            first = None if following is None else _first(following, voice)
            for event, later in _pairs(events, first):
                held.update(note.id for note in event.notes if note.tied and _meets(note, later))
    return held


def _pairs(row: Sequence[Event], following: Event | None) -> Iterator[tuple[Event, Event | None]]:
    sounding = [event for event in row if event.grace is None]
    yield from zip(sounding, [*sounding[1:], following], strict=False)


def _first(measure: Measure, voice: int) -> Event | None:
    row = measure.voices[voice] if voice < len(measure.voices) else ()
    return next((event for event in row if event.grace is None), None)


def _meets(note: Note, following: Event | None) -> bool:
    return following is not None and any(n.pitch == note.pitch for n in following.notes)


def _untied(measure: Measure, lost: set[int]) -> Measure:
    rows = tuple(tuple(_event(event, lost) for event in row) for row in measure.voices)
    same = all(
        a is b
        for old, new in zip(measure.voices, rows, strict=True)
        for a, b in zip(old, new, strict=True)
    )
    return measure if same else structs.replace(measure, voices=rows)


def _event(event: Event, lost: set[int]) -> Event:
    if not any(note.id in lost and note.tied for note in event.notes):
        return event
    notes = tuple(
        structs.replace(note, tied=False) if note.id in lost else note for note in event.notes
    )
    return structs.replace(event, notes=notes)
