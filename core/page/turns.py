"""How dear it is to turn the page after a measure: a hand must be free for it.

Common practice, no source: a player turns with the plucking hand while a last note sounds, with the
fretting hand while open strings are played, in a rest, under a pause, between sections. What takes
less than half a second is of no use, two seconds are enough.
"""

from __future__ import annotations

from msgspec import Struct

from core.model import Event, Fermata, Measure, walk

LEAST_SECONDS = 0.5
ENOUGH_SECONDS = 2.0
PAUSE_SECONDS = 1.5  # won by a pause at the end of the page
BETWEEN_SECTIONS = 0.5  # of the cost: a new thing begins after the turn
TURNED_BACK = 0.5  # of what a free hand saves, where a repeat makes the reader turn back again


class Free(Struct, frozen=True, gc=False):
    """How long each hand is free at the two ends of a measure, in ticks: after the last stroke and
    the last stopped note, and up to the first. `pause`: its last event has a fermata."""

    plucking_after: int
    plucking_before: int
    fretting_after: int
    fretting_before: int
    pause: bool


def free_hands(measure: Measure, held: frozenset[int]) -> Free:
    """When hands are free in a measure; `held` are the notes that only continue a tie."""
    length = measure.length_ticks
    strokes: list[int] = []
    stopped: list[tuple[int, int]] = []
    last, pause = -1, False
    for located in walk.events(measure):
        event = located.event
        if located.onset >= last:
            pauses = any(isinstance(mark, Fermata) for mark in event.marks)
            pause = pauses or (pause and located.onset == last)
            last = located.onset
        if any(note.id not in held for note in event.notes):
            strokes.append(located.onset)
        if _stopped(event):
            rings = any(note.let_ring for note in event.notes)
            end = length if rings else located.onset + event.ticks
            stopped.append((located.onset, end))
    return Free(
        max(0, length - max(strokes, default=0)) if strokes else length,
        min(strokes, default=length),
        max(0, length - max((end for _, end in stopped), default=0)),
        min((onset for onset, _ in stopped), default=length),
        pause,
    )


def _stopped(event: Event) -> bool:
    """Whether a finger of the fretting hand is at work; a note without a place may need one."""
    return any(
        note.place is None or note.place.value.fret > 0 or note.harmonic is not None
        for note in event.notes
    )


def turn_cost(
    here: Free, after: Free, ticks_per_second: float, *, ends_section: bool, repeated: bool
) -> float:
    """The cost of turning between two measures: 0 where there is time, 1 where both hands play on.

    The first of them `ends_section`, or stands inside a section that is `repeated`.
    """
    ticks = max(
        here.plucking_after + after.plucking_before, here.fretting_after + after.fretting_before
    )
    seconds = ticks / ticks_per_second + (PAUSE_SECONDS if here.pause else 0.0)
    share = (seconds - LEAST_SECONDS) / (ENOUGH_SECONDS - LEAST_SECONDS)
    cost = 1.0 - min(1.0, max(0.0, share))
    if ends_section:
        return cost * BETWEEN_SECTIONS
    return 1.0 - (1.0 - cost) * TURNED_BACK if repeated else cost
