"""Copies of music with fresh ids."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import structs

from core.edit.base import Ids
from core.model import Event, Measure, OtherVersion, Span

Numbers = dict[int, int]


def copied_event(event: Event, ids: Ids, numbers: Numbers | None = None) -> Event:
    """The event with fresh ids for it and its notes; `numbers` collects former id -> fresh id."""
    fresh = ids.take()
    notes = tuple(structs.replace(note, id=ids.take()) for note in event.notes)
    if numbers is not None:
        numbers[event.id] = fresh
        numbers.update((old.id, new.id) for old, new in zip(event.notes, notes, strict=True))
    return structs.replace(event, id=fresh, notes=notes)


def copied_voices(
    voices: Iterable[Iterable[Event]], ids: Ids, numbers: Numbers | None = None
) -> tuple[tuple[Event, ...], ...]:
    """Voices with fresh ids."""
    return tuple(tuple(copied_event(event, ids, numbers) for event in row) for row in voices)


def copied_measure(measure: Measure, ids: Ids, numbers: Numbers | None = None) -> Measure:
    """The measure with fresh ids throughout, other versions included; its likeness is dropped."""
    fresh = ids.take()
    if numbers is not None:
        numbers[measure.id] = fresh
    voices = copied_voices(measure.voices, ids, numbers)
    others = tuple(
        OtherVersion(other.purpose, copied_voices(other.voices, ids, numbers))
        for other in measure.others
    )
    return structs.replace(measure, id=fresh, voices=voices, others=others, same_as=None)


def copied_spans(spans: Sequence[Span], ids: Ids, numbers: Numbers) -> tuple[Span, ...]:
    """Copies of the spans that lie wholly in copied music."""
    return tuple(
        structs.replace(span, id=ids.take(), start=numbers[span.start], end=numbers[span.end])
        for span in spans
        if span.start in numbers and span.end in numbers
    )
