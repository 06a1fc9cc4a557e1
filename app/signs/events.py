"""Signs of events: articulations, dynamics, pauses, breaths, broken chords; hidden rests."""

from __future__ import annotations

from msgspec import Struct

from app.signs.here import Here, Spot
from core.edit.base import Command
from core.edit.marks import SetMark, ToggleFermata, same_slot, words_of
from core.edit.rhythm import HideRest
from core.model import Arpeggio, Articulation, Breath, EditRefused, EventMark, Fermata


class MarkSign(Struct, frozen=True):
    """A mark on the event; over a selection an articulation or a broken chord on each, a dynamic
    on the first, a breath on the last."""

    mark: EventMark

    def commands(self, here: Here) -> tuple[Command, ...]:
        spots = self._spots(here)
        on = not all(self.mark in spot.at.event.marks for spot in spots)
        return tuple(
            SetMark(spot.measure, spot.at.event.id, self.mark, on)
            for spot in spots
            if on != (self.mark in spot.at.event.marks)
        )

    def _spots(self, here: Here) -> tuple[Spot, ...]:
        mark = self.mark
        struck = isinstance(mark, Articulation) and mark.kind != "damp"
        spots = here.events(sounding=struck or isinstance(mark, Arpeggio))
        if isinstance(mark, Arpeggio):
            chords = tuple(spot for spot in spots if len(spot.at.event.notes) > 1)
            return chords or spots[:1]
        if isinstance(mark, Articulation):
            return spots
        own = tuple(spot for spot in spots if spot.at.voice == here.voice) or spots
        return own[-1:] if isinstance(mark, Breath) else own[:1]


class PauseSign(Struct, frozen=True):
    """A fermata on every voice at the event, the last one of a selection."""

    fermata: Fermata

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot = max(here.events(), key=lambda s: s.time)
        toggle = ToggleFermata(spot.measure, spot.at.event.id, self.fermata)
        other = any(isinstance(m, Fermata) and m != self.fermata for m in spot.at.event.marks)
        return (toggle, toggle) if other else (toggle,)


class NoMark(Struct, frozen=True):
    """Take the marks of one kind off: of an articulation that one, of others whatever stands."""

    mark: EventMark

    def commands(self, here: Here) -> tuple[Command, ...]:
        found = tuple(
            SetMark(spot.measure, spot.at.event.id, mark, on=False)
            for spot in (*here.events(), *(() if here.selected else here.beginning))
            for mark in spot.at.event.marks
            if same_slot(mark, self.mark)
        )
        if not found:
            raise EditRefused(f"There is no {self._name} here to take off.")
        return tuple(dict.fromkeys(found))

    @property
    def _name(self) -> str:
        if isinstance(self.mark, Articulation):
            return words_of(self.mark)
        return {Fermata: "fermata", Arpeggio: "broken chord", Breath: "breath"}.get(
            type(self.mark), "dynamic"
        )


class RestSign(Struct, frozen=True):
    """Hide the rests, or show them again; or place them so many steps above the middle line."""

    hide: bool = True
    line: int | None = None

    def commands(self, here: Here) -> tuple[Command, ...]:
        rests = [spot for spot in here.beginning if spot.at.event.is_rest]
        own = [spot for spot in rests if spot.at.voice == here.voice]
        if not here.selected:
            rests = own[:1] or rests[:1]
        if not rests:
            raise EditRefused("There is no rest here; put the caret on one, or R makes one.")
        hidden = not all(spot.at.event.hidden for spot in rests)
        return tuple(
            HideRest(spot.measure, spot.at.event.id, hidden, spot.at.event.rest_line)
            if self.hide
            else HideRest(spot.measure, spot.at.event.id, spot.at.event.hidden, self.line)
            for spot in rests
        )
