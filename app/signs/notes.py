"""Signs of notes: plucking letters, let ring, circled strings, harmonics, other fingers, graces."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import cycle
from typing import Literal

from msgspec import Struct

from app.signs.here import Here, Spot
from core.edit.base import Command
from core.edit.labels import (
    ExchangeAlternative,
    RefuseSuggestion,
    SetAccidental,
    SetAlternative,
    SetBend,
    SetHarmonic,
    SetNoteSign,
    SetPlucking,
    SetSubstitute,
)
from core.edit.notes import AddGrace, SetPlace
from core.edit.rhythm import DeleteEvent
from core.model import EditRefused, Finger, Fingering, Harmonic, Note, Pitch, Place, Pluck, walk


def _all(here: Here, missing: Callable[[Note], bool]) -> tuple[bool, list[tuple[Spot, Note]]]:
    """Whether the sign is missing somewhere, and the notes to change."""
    notes = here.every_note()
    without = [(spot, note) for spot, note in notes if missing(note)]
    return bool(without), without or list(notes)


class NoteSign(Struct, frozen=True):
    """Let ring, circled string, guide finger or small note, on every note or off all."""

    sign: Literal["let_ring", "circled", "guide", "small"]
    off: bool = False

    def commands(self, here: Here) -> tuple[Command, ...]:
        missing, notes = _all(here, lambda note: not getattr(note, self.sign))
        on = missing and not self.off
        return tuple(SetNoteSign(spot.measure, note.id, self.sign, on) for spot, note in notes)


class PluckSign(Struct, frozen=True):
    """Plucking letters, one for each note in time and upwards, from the first again when used up;
    none: leave it open."""

    letters: tuple[Pluck, ...]

    def commands(self, here: Here) -> tuple[Command, ...]:
        notes = sorted(here.every_note(), key=lambda n: (n[0].time, n[1].pitch.midi))
        wanted = list(zip(notes, cycle(self.letters or (None,)), strict=False))
        off = all(n.plucking and n.plucking.value is letter for (_, n), letter in wanted)
        return tuple(
            SetPlucking(spot.measure, note.id, None if off else letter)
            for (spot, note), letter in wanted
        )


class AccidentalSign(Struct, frozen=True):
    """How accidentals are shown; where they are shown so already, by the rules again."""

    accidental: Literal["auto", "courtesy", "editorial", "hidden"]

    def commands(self, here: Here) -> tuple[Command, ...]:
        missing, notes = _all(here, lambda note: note.accidental != self.accidental)
        how = self.accidental if missing else "auto"
        return tuple(SetAccidental(spot.measure, note.id, how) for spot, note in notes)


class HarmonicSign(Struct, frozen=True):
    """A harmonic: the fret that is touched; none: an octave above what is stopped."""

    kind: Literal["natural", "artificial"]
    fret: int | None = None

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot, note = here.one_note("A harmonic")
        stopped = note.place.value.fret if note.place and self.kind == "artificial" else 0
        wanted = Harmonic(self.kind, stopped + 12 if self.fret is None else self.fret)
        now = None if note.harmonic == wanted else wanted
        return (SetHarmonic(spot.measure, note.id, now),)


class BendSign(Struct, frozen=True):
    """Bend by so many semitones; off where it stands so already."""

    semitones: float

    def commands(self, here: Here) -> tuple[Command, ...]:
        missing, notes = _all(here, lambda note: note.bend != self.semitones)
        how = self.semitones if missing else None
        return tuple(SetBend(spot.measure, note.id, how) for spot, note in notes)


class SubstituteSign(Struct, frozen=True):
    """The finger put down silently in place of the first; off where it stands so already."""

    finger: Finger

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot, note = here.one_note("A change of finger")
        now = None if note.substitute is self.finger else self.finger
        return (SetSubstitute(spot.measure, note.id, now),)


class AlternativeSign(Struct, frozen=True):
    """A second fingering kept beside the first; off where it stands so already."""

    fingering: Fingering

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot, note = here.one_note("Another fingering")
        now = None if note.alternative == self.fingering else self.fingering
        return (SetAlternative(spot.measure, note.id, now),)


class ExchangeSign(Struct, frozen=True):
    """The second fingering becomes the first, and the first the second."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot, note = here.one_note("Another fingering")
        return (ExchangeAlternative(spot.measure, note.id),)


class RefuseSign(Struct, frozen=True):
    """Take what the program suggests for the notes off."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        suggested = [(s, n) for s, n in here.every_note() if any(_suggested(n))]
        if not suggested:
            raise EditRefused("Nothing is suggested here; what you set yourself stays.")
        return tuple(RefuseSuggestion(spot.measure, note.id) for spot, note in suggested)


def _suggested(note: Note) -> Iterator[bool]:
    for label in (note.place, note.finger, note.plucking):
        yield label is not None and not label.firm


class Off(Struct, frozen=True):
    """Take something of the notes off that has one value."""

    what: Literal["bend", "harmonic", "substitute", "alternative", "plucking"]

    def commands(self, here: Here) -> tuple[Command, ...]:
        notes = [(s, n) for s, n in here.every_note() if getattr(n, self.what) is not None]
        if not notes:
            raise EditRefused(f"There is no {_OFF_WORDS[self.what]} here to take off.")
        return tuple(self._command(spot.measure, note.id) for spot, note in notes)

    def _command(self, measure: int, note: int) -> Command:
        match self.what:
            case "bend":
                return SetBend(measure, note, None)
            case "harmonic":
                return SetHarmonic(measure, note, None)
            case "substitute":
                return SetSubstitute(measure, note, None)
            case "alternative":
                return SetAlternative(measure, note, None)
            case "plucking":
                return SetPlucking(measure, note, None)


_OFF_WORDS = {
    "bend": "bend", "harmonic": "harmonic", "substitute": "change of finger",
    "alternative": "other fingering", "plucking": "plucking letter",
}  # fmt: skip


class GraceSign(Struct, frozen=True):
    """A grace note before the event: a pitch as the staff names it, or a place."""

    pitch: Pitch | None
    place: Place | None = None

    def commands(self, here: Here) -> tuple[Command, ...]:
        spot = here.events(sounding=True)[0]
        event, lesson = spot.at.event, here.lesson
        if self.pitch is None:
            return self._at_place(here, spot)
        key = here.measures[0].key
        try:
            sounding = here.shift.sounding(self.pitch, key)
        except ValueError:
            raise EditRefused(f"{self.pitch} cannot sound on this guitar.") from None
        adding = AddGrace(spot.measure, event.id, sounding)
        taken = {n.place.value.string for n in event.notes if n.place}
        possible = lesson.arrangement.instrument.places(sounding.midi)
        on_string = [p for p in possible if p.string in taken] or list(possible)
        if not on_string:
            return (adding,)
        return adding, SetPlace(spot.measure, lesson.next_id, on_string[0])

    def _at_place(self, here: Here, spot: Spot) -> tuple[Command, ...]:
        instrument, place = here.lesson.arrangement.instrument, self.place
        if place is None or place.string > len(instrument.strings):
            raise EditRefused("That string is not on this guitar.")
        pitch = Pitch.from_midi(instrument.midi_at(place), here.measures[0].key)
        adding = AddGrace(spot.measure, spot.at.event.id, pitch)
        return adding, SetPlace(spot.measure, here.lesson.next_id, place)


class NoGrace(Struct, frozen=True):
    """Take the grace notes before the events away."""

    def commands(self, here: Here) -> tuple[Command, ...]:
        found: list[Command] = []
        for spot in here.events():
            measure = next(
                m for m in walk.measures(here.lesson.arrangement) if m.id == spot.measure
            )
            for event in reversed(measure.voices[spot.at.voice][: spot.at.index]):
                if event.grace is None:
                    break
                found.append(DeleteEvent(spot.measure, event.id))
        if not found:
            raise EditRefused("There is no grace note before this note.")
        return tuple(found)
