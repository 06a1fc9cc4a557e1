"""Where a sign goes: the caret's note, event and measure, or what is selected."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from msgspec import Struct

from core.edit.base import Command
from core.model import EditRefused, Lesson, Measure, Note, Section, walk
from core.model.walk import Located
from core.page.fingered import Shift


class Spot(Struct, frozen=True):
    """An event where it stands: the id and the place of its measure, and itself."""

    measure: int
    index: int
    at: Located

    @property
    def time(self) -> tuple[int, int]:
        """Its order in the piece: the place of its measure, ticks in it."""
        return self.index, self.at.onset


class Here(Struct, frozen=True):
    """The caret, or what is selected, in one lesson.

    `measures` are the selected ones or the caret's. The moment is `ticks` after the start of the
    first of them: of the caret, or where the selection begins. `spots` are the selected events or
    the one at the caret, `notes` the selected notes or the caret's, `beginning` every event that
    begins at the caret. Lines are drawn in `voice`, on `string` where the caret is on the tab.
    """

    lesson: Lesson
    measures: tuple[Measure, ...]
    ticks: int
    spots: tuple[Spot, ...] = ()
    notes: tuple[tuple[Spot, Note], ...] = ()
    beginning: tuple[Spot, ...] = ()
    voice: int = 0
    string: int | None = None
    selected: bool = False
    shift: Shift = Shift()

    @property
    def section(self) -> tuple[int, Section]:
        """The section the first measure is in, and its place."""
        for index, section in enumerate(self.lesson.arrangement.sections):
            if any(measure.id == self.measures[0].id for measure in section.measures):
                return index, section
        raise EditRefused("That measure is no longer there.")

    def events(self, sounding: bool = False) -> tuple[Spot, ...]:
        """The events; raises EditRefused where there are none, or only rests."""
        found = tuple(s for s in self.spots if s.at.event.notes) if sounding else self.spots
        if not found and self.spots:
            raise EditRefused("There is only a rest here; put the caret on a note.")
        if not found:
            raise EditRefused("There is no note or rest here yet.")
        return found

    def every_note(self) -> tuple[tuple[Spot, Note], ...]:
        """The notes; raises EditRefused where there are none."""
        if not self.notes:
            raise EditRefused("There is no note here; put the caret on one.")
        return self.notes

    def one_note(self, what: str) -> tuple[Spot, Note]:
        """The only note; raises EditRefused where there are none or several."""
        found = self.every_note()
        if len(found) > 1:
            raise EditRefused(f"{what} is for one note; put the caret on it, nothing selected.")
        return found[0]

    def in_voice(self, voice: int, after: Spot) -> Iterator[Spot]:
        """The events of a voice that follow one, grace notes apart, to the end of the piece."""
        for index, measure in enumerate(walk.measures(self.lesson.arrangement)):
            if index < after.index or voice >= len(measure.voices):
                continue
            for located in walk.events(measure):
                spot = Spot(measure.id, index, located)
                if (
                    located.voice == voice
                    and located.event.grace is None
                    and spot.time > after.time
                ):
                    yield spot


class Sign(Protocol):
    """What words mean: the commands that write it, or take it off where it stands already."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        """At least one command; raises EditRefused where the sign cannot stand."""
        ...
