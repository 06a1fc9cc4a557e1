"""Random parts of a lesson, for the random commands of tests/moves.py."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random
from typing import TypeVar

from core.model import Event, Lesson, Measure, Note, Pitch, Place, Section, Value, walk
from tests import strategies
from tests.strategies import PLAIN_VALUES

T = TypeVar("T")


class Pick:
    """Random parts of a lesson."""

    def __init__(self, random: Random, lesson: Lesson) -> None:
        self.random, self.lesson = random, lesson
        self.measures = list(walk.measures(lesson.arrangement))

    def one(self, row: Sequence[T]) -> T:
        return row[self.random.randrange(len(row))]

    def maybe(self, value: T) -> T | None:
        return value if self.random.randrange(2) else None

    def odds(self, one_in: int) -> bool:
        return self.random.randrange(one_in) == 0

    def measure(self) -> Measure:
        return self.one(self.measures)

    def section(self) -> Section:
        return self.one(self.lesson.arrangement.sections)

    def event(self, wanted: Callable[[Event], bool] = lambda _: True) -> tuple[int, Event] | None:
        """A measure id and an event of that measure."""
        for _ in range(8):
            measure = self.measure()
            row = [located.event for located in walk.events(measure) if wanted(located.event)]
            if row:
                return measure.id, self.one(row)
        return None

    def note(self, wanted: Callable[[Note], bool] = lambda _: True) -> tuple[int, Note] | None:
        """A measure id and a note of that measure."""
        for _ in range(8):
            measure = self.measure()
            row = [note for _, note in walk.notes(measure) if wanted(note)]
            if row:
                return measure.id, self.one(row)
        return None

    def value(self) -> Value:
        pool = PLAIN_VALUES * 3 + strategies.ODD_VALUES + strategies.TUPLETS[0]
        return self.one(pool)

    def spot(self) -> tuple[int, int, int]:
        """Measure, voice and tick: mostly where an event begins or the voice ends."""
        measure = self.measure()
        voice = 9 if self.odds(60) else self.random.randrange(3)
        row = measure.voices[voice] if voice < len(measure.voices) else ()
        onsets = [0]
        for event in row:
            onsets.append(onsets[-1] + event.ticks)
        if self.odds(5):
            return measure.id, voice, self.random.randrange(8) * Value.parse("16th").ticks
        return measure.id, voice, self.one(onsets)

    def place(self) -> Place:
        return Place(self.random.randrange(1, 8), self.random.randrange(0, 21))

    def pitch(self) -> Pitch:
        return Pitch.from_midi(self.random.randrange(38, 84))

    def words(self) -> str:
        return self.one(strategies.WORDS)

    def run(self) -> tuple[int, int]:
        first = self.random.randrange(len(self.measures))
        last = min(len(self.measures) - 1, first + self.random.randrange(3))
        if self.odds(12):
            first, last = last, first
        return self.measures[first].id, self.measures[last].id
