"""Voices: moving an event to another one, exchanging two."""

from __future__ import annotations

from msgspec import Struct, structs

from core.edit.base import Ids, check_voice, find_event, find_measure, refuse, with_events
from core.edit.mend import put_measure
from core.edit.notes import Spot, place_row, silenced
from core.model import VOICE_NAMES, Lesson


class MoveToVoice(Struct, frozen=True):
    """Move an event, with its time, into another voice; a rest stays, the other voice's time goes.

    Refused where the other voice has notes at that time.
    """

    measure: int
    event: int
    voice: int

    @property
    def label(self) -> str:
        return f"move to {VOICE_NAMES[self.voice]}"

    def apply(self, lesson: Lesson) -> Lesson:
        at = find_event(lesson, self.measure, self.event)
        check_voice(lesson, self.measure, self.voice)
        if at.voice == self.voice or at.event.grace is not None:
            return lesson
        measure, ids = at.found.measure, Ids(lesson)
        other = measure.voices[self.voice] if self.voice < len(measure.voices) else ()
        onset = 0
        for event in other:
            overlap = onset < at.onset + at.event.ticks and onset + event.ticks > at.onset
            if overlap and event.notes:
                voice = VOICE_NAMES[self.voice]
                why = f"{voice} has notes at that time; move or delete them first."
                raise refuse(lesson, self.measure, why)
            onset += event.ticks
        row = place_row(lesson, measure, (at.event,), Spot(self.voice, at.onset, "overwrite"), ids)
        rest = structs.replace(silenced(at.event), id=ids.take(), marks=())
        left = (*at.row[: at.index], rest, *at.row[at.index + 1 :])
        updated = with_events(with_events(measure, at.voice, left), self.voice, row)
        return put_measure(lesson, at.found, updated, ids)


class SwapVoices(Struct, frozen=True):
    """Exchange two voices of a measure."""

    measure: int
    first: int = 0
    second: int = 1

    @property
    def label(self) -> str:
        return f"exchange {VOICE_NAMES[self.first]} and {VOICE_NAMES[self.second]}"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        check_voice(lesson, self.measure, self.first)
        check_voice(lesson, self.measure, self.second)
        highest = max(self.first, self.second)
        rows = list(found.measure.voices) + [()] * (highest + 1 - len(found.measure.voices))
        if self.first == self.second or (not rows[self.first] and not rows[self.second]):
            return lesson
        rows[self.first], rows[self.second] = rows[self.second], rows[self.first]
        while len(rows) > 1 and not rows[-1]:
            rows.pop()
        return put_measure(lesson, found, structs.replace(found.measure, voices=tuple(rows)))
