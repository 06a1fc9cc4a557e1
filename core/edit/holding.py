"""Notes held on: the same ones written again after themselves, tied."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import Ids, check_voice, find_measure, refuse, with_events
from core.edit.mend import put_measure
from core.edit.notes import SetTie, Spot, place_row
from core.model import Event, Lesson, Value, walk


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
        home, before = self._before(lesson)
        if before is None or not before.notes:
            why = "there is no note right before to hold on; write it first."
            raise refuse(lesson, self.measure, why)
        ids = Ids(lesson)
        number = ids.take()
        notes = tuple(structs.replace(n, id=ids.take(), tied=False) for n in before.notes)
        event = Event(number, self.value, notes)
        spot = Spot(self.voice, self.tick, "overwrite")
        row = place_row(lesson, found.measure, (event,), spot, ids)
        written = put_measure(lesson, found, with_events(found.measure, self.voice, row), ids)
        return SetTie(home, before.id).apply(written)

    def _before(self, lesson: Lesson) -> tuple[int, Event | None]:
        """The measure and the event that ends where this one begins; None for a gap."""
        home, event, ends = 0, None, 0
        for measure in walk.measures(lesson.arrangement):
            row = measure.voices[self.voice] if self.voice < len(measure.voices) else ()
            here = measure.id == self.measure
            if here and self.tick == 0:
                break
            event, ends = None, 0
            for one in (e for e in row if e.grace is None):
                if here and ends + one.ticks > self.tick:
                    break
                home, event, ends = measure.id, one, ends + one.ticks
            if here:
                return home, event if ends == self.tick else None
            event = event if ends >= measure.ticks else None
        return home, event
