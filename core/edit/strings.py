"""Selected notes on other strings, and the figure 0 at open strings."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct, structs

from core.edit.base import find_measure, map_events
from core.edit.clip import Selection, selected
from core.edit.mend import put_measures
from core.edit.notes import moved
from core.model import EditRefused, Event, Finger, Instrument, Label, Lesson, Measure, Note


class MoveStrings(Struct, frozen=True):
    """Play selected notes on the next string down (1) or up (-1), at the same pitch.

    Notes that the next string cannot sound, harmonics and notes without a place stay as they are,
    and so does a chord in which two notes would come to the same string. Refused when none moves.
    """

    what: Selection
    by: int

    @property
    def label(self) -> str:
        return "to the string below" if self.by > 0 else "to the string above"

    def apply(self, lesson: Lesson) -> Lesson:
        instrument = lesson.arrangement.instrument
        changed = _changed(lesson, self.what, lambda event: self._event(event, instrument))
        if not changed:
            raise EditRefused(
                "No selected note can be played on the next string that way; try the other way."
            )
        return put_measures(lesson, changed)

    def _event(self, event: Event, instrument: Instrument) -> Event:
        notes = tuple(self._note(note, instrument) for note in event.notes)
        strings = [n.place.value.string for n in notes if n.place is not None]
        if len(set(strings)) < len(strings) or notes == event.notes:
            return event
        return structs.replace(event, notes=notes)

    def _note(self, note: Note, instrument: Instrument) -> Note:
        if note.place is None or note.harmonic is not None:
            return note
        string = note.place.value.string + self.by
        place = instrument.place_on(string, note.pitch.midi)
        return note if place is None else moved(note, note.pitch, Label(place))


class FigureOpenStrings(Struct, frozen=True):
    """Write the figure 0 at every selected open string that has no firm figure yet."""

    what: Selection

    @property
    def label(self) -> str:
        return "0 at open strings"

    def apply(self, lesson: Lesson) -> Lesson:
        changed = _changed(lesson, self.what, _figured)
        if not changed:
            raise EditRefused("There is no open string without its figure in the selection.")
        return put_measures(lesson, changed)


def _figured(event: Event) -> Event:
    notes = tuple(
        structs.replace(note, finger=Label(Finger.OPEN))
        if note.place is not None
        and note.place.value.fret == 0
        and note.harmonic is None
        and (note.finger is None or not note.finger.firm)
        else note
        for note in event.notes
    )
    return event if notes == event.notes else structs.replace(event, notes=notes)


def _changed(
    lesson: Lesson, what: Selection, change: Callable[[Event], Event]
) -> dict[int, Measure]:
    """The measures in which the selected events change, by id."""
    chosen: dict[int, set[int]] = {}
    for found, voice, index, _ in selected(lesson, what):
        event = found.measure.voices[voice][index]
        chosen.setdefault(found.measure.id, set()).add(event.id)
    changed: dict[int, Measure] = {}
    for number, events in chosen.items():
        measure = find_measure(lesson, number).measure
        updated = map_events(measure, lambda e, ids=events: change(e) if e.id in ids else e)  # type: ignore[misc]
        if updated is not measure:
            changed[number] = updated
    return changed
