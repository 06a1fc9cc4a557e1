"""Notes held on: the same ones written again after themselves, tied."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import Found, Ids, check_voice, find_measure, refuse, with_events
from core.edit.mend import measure_before, put_measure
from core.edit.notes import SetTie, Spot, place_row
from core.model import Event, Lesson, Measure, Value, walk


class HoldOn(Struct, frozen=True):
    """Let the notes that end at (measure, voice, tick) sound on for a value: written again, tied.

    At the start of a measure they are the last ones of the measure before.
    """

    measure: int
    voice: int
    tick: int
    value: Value

    @property
    def label(self) -> str:
        return "hold on"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        check_voice(lesson, self.measure, self.voice)
        before = self._before(lesson, found)
        if before is None or not before[1].notes:
            why = "there is no note right before to hold on; write it first."
            raise refuse(lesson, self.measure, why)
        home, held = before
        ids = Ids(lesson)
        number = ids.take()
        notes = tuple(structs.replace(n, id=ids.take(), tied=False) for n in held.notes)
        event = Event(number, self.value, notes)
        spot = Spot(self.voice, self.tick, "overwrite")
        row = place_row(lesson, found.measure, (event,), spot, ids)
        written = put_measure(lesson, found, with_events(found.measure, self.voice, row), ids)
        return SetTie(home.id, held.id).apply(written)

    def _before(self, lesson: Lesson, found: Found) -> tuple[Measure, Event] | None:
        """The measure and the event that ends where this one begins; None for a gap."""
        where, end = found, self.tick
        if end == 0:
            before = measure_before(lesson, found)
            if before is None or self.voice >= len(before.measure.voices):
                return None
            where, end = before, max(before.measure.ticks, before.measure.filled_ticks(self.voice))
        for at in walk.events(where.measure):
            timed = at.voice == self.voice and at.event.grace is None
            if timed and at.onset + at.event.ticks == end:
                return where.measure, at.event
        return None
