"""Writing: the caret, and what each key does to the music at it. Holds no widget."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from PySide6.QtCore import QObject, Signal

from app import caret as carets
from app.caret import Caret, On
from app.messages import Messages
from app.session import OPENED, Outline, Session, require_measure
from core.edit.base import Command
from core.edit.change import Change
from core.edit.labels import PinMeasure, PinSuggestion, SetFinger
from core.edit.marks import ToggleFermata
from core.edit.measures import DeleteMeasures, InsertMeasures, RepeatMeasure
from core.edit.notes import AddPitch, DeleteNote, MoveToString, PutFret, SetPitch, SetTie
from core.edit.rhythm import (
    CompleteMeasure,
    DeleteEvent,
    InsertRest,
    SetValue,
    ToggleDot,
    TrimMeasure,
    TurnToRest,
)
from core.model import Base, EditRefused, Finger, Measure, Pitch, Value, walk
from core.model.walk import Located

TENS = (1, 2)  # figures that a second one, typed at once, makes a fret of two figures

VALUE_WORDS = {
    Base.WHOLE: "whole note", Base.HALF: "half note", Base.QUARTER: "quarter note",
    Base.EIGHTH: "eighth note", Base.SIXTEENTH: "sixteenth note",
    Base.THIRTY_SECOND: "thirty-second note",
}  # fmt: skip


class Writing(QObject):
    """The caret and the value of the next new note; every method is what one key does.

    Methods raise EditRefused with a sentence. `moved()` is emitted when the caret or what it
    says about itself is another.
    """

    moved = Signal()

    def __init__(self, session: Session, messages: Messages) -> None:
        super().__init__()
        self._session = session
        self._messages = messages
        self._value = Value(Base.QUARTER)
        self._figure: tuple[Caret, int] | None = None
        self._before: dict[int, Caret] = {}
        self._after: dict[int, Caret] = {}
        self._caret = self._first()
        self._position = 0
        self.go(self._caret)
        session.changed.connect(self._session_changed)

    @property
    def caret(self) -> Caret:
        return self._caret

    @property
    def value(self) -> Value:
        """The value of the next new note."""
        return self._value

    @property
    def outline(self) -> Outline:
        return self._session.outline

    @property
    def measure(self) -> Measure:
        """The measure the caret is in."""
        return require_measure(self.outline, self._caret.measure)

    @property
    def pending(self) -> int | None:
        """The figure that a second one, typed now, would make a fret of two figures."""
        if self._figure is not None and self._figure[0] == self._caret:
            return self._figure[1]
        return None

    @property
    def strings(self) -> int:
        return len(self._session.lesson.arrangement.instrument.strings)

    def _first(self) -> Caret:
        measure = self.outline.measures[0]
        onset = carets.stops(measure, 0)[0]
        placed = (s.note.place for s in carets.struck(measure, onset) if s.note.place is not None)
        place = next(placed, None)
        return Caret(measure.id, onset, "tab", place.value.string if place is not None else 1)

    # ------------------------------------------------------------------------- moving

    def go(self, caret: Caret) -> None:
        """Put the caret somewhere; a figure waiting for a second one is settled by that."""
        moved = carets.mend(self.outline, caret, self.strings)
        self._figure = None if self._figure and self._figure[0] != moved else self._figure
        self._caret = moved
        self._position = self.outline.index[moved.measure]
        found = carets.note_at(self.measure, moved)
        if found is not None:
            self._value = found.at.event.value
        self.moved.emit()

    def go_to(self, measure: int, onset: int, note: int = 0) -> None:
        """To a note, or to a moment on the present staff or tab."""
        found = carets.on_note(self.outline, note) if note else None
        if found is None:
            on, string, voice = self._caret.on, self._caret.string, self._caret.voice
            found = Caret(measure, onset, on, string, 0, voice)
        self.go(found)

    def step(self, by: int) -> None:
        self.go(carets.step(self.outline, self._caret, by))

    def step_measure(self, by: int) -> None:
        self.go(carets.step_measure(self.outline, self._caret, by))

    def step_section(self, by: int) -> None:
        self.go(carets.step_section(self.outline, self._caret, by))

    def to_end(self, last: bool) -> None:
        self.go(carets.ends(self.outline, self._caret, last))

    def to_measure_end(self) -> None:
        """To the last event of the caret's measure."""
        last = carets.stops(self.measure, self._caret.voice)[-1]
        self.go_to(self._caret.measure, last)

    def note_id(self) -> int:
        """The id of the note at the caret, 0 where there is none."""
        found = carets.note_at(self.measure, self._caret)
        return found.note.id if found is not None else 0

    def climb(self, by: int) -> None:
        self.go(carets.climb(self.outline, self._caret, by, self.strings))

    def cross(self, on: On) -> None:
        self.go(carets.cross(self.outline, self._caret, on))

    def other_voice(self) -> None:
        """New notes go to the other of melody and bass."""
        voice = 1 - min(self._caret.voice, 1)
        caret = self._caret
        self.go(Caret(caret.measure, caret.onset, caret.on, caret.string, caret.rank, voice))
        self._messages.note(f"New notes go to the {'bass' if voice else 'melody'}.")

    # ------------------------------------------------------------------------- figures

    def figure(self, figure: int) -> None:
        """A figure: a fret where the caret is on the tab, a finger where it is on the staff."""
        if self._caret.on == "tab":
            self._fret(figure)
        else:
            self._finger(figure)

    def _fret(self, figure: int) -> None:
        caret, first = self._caret, self.pending
        highest = self._session.lesson.arrangement.instrument.highest_fret
        amend = first in TENS and 10 * first + figure <= highest
        fret = 10 * first + figure if amend and first else figure
        voice = carets.voice_at(self.measure, caret)
        new = not any(
            at.voice == voice and at.onset == caret.onset for at in _plain_events(self.measure)
        )
        value = self._value if new else None
        put = PutFret(caret.measure, voice, caret.onset, caret.string, fret, value)
        self._do(put, amend=bool(amend))
        self._figure = None if amend else (self._caret, figure)
        self._tell_fret(fret, waiting=not amend and figure in TENS)

    def _tell_fret(self, fret: int, waiting: bool) -> None:
        if waiting:
            self._messages.note(
                f"Fret {fret}. A second figure typed here makes it {fret}0 to {fret}9; "
                "moving on keeps it."
            )
        self.moved.emit()

    def _finger(self, figure: int) -> None:
        if figure > 4:
            raise EditRefused(f"There is no finger {figure}: 1 to 4, and 0 for an open string.")
        self.set_finger(Finger(str(figure)))

    def set_finger(self, finger: Finger | None) -> None:
        """Pin a finger (None: leave it open) and go on to the next note that needs one."""
        found = self._note()
        self._do(SetFinger(self._caret.measure, found.note.id, finger))
        if finger is not None and self._caret.on == "staff":
            self.go(carets.next_unfingered(self.outline, self._caret))

    # ------------------------------------------------------------------------- rhythm

    def set_value(self, base: Base) -> None:
        """Give the event at the caret a value; where there is none, the next new note."""
        at = self._event()
        tuplets = () if at is None else at.event.value.tuplets
        value = Value(base, 0, tuplets)
        if at is not None:
            self._do(SetValue(self._caret.measure, at.event.id, value))
        self._choose_value(value)

    def _choose_value(self, value: Value) -> None:
        self._value = value
        self.moved.emit()

    def dot(self) -> None:
        """Dot the event at the caret or take its dot off; where there is none, the next note."""
        at = self._event()
        if at is None:
            self._choose_value(Value(self._value.base, 0 if self._value.dots else 1))
            return
        self._do(ToggleDot(self._caret.measure, at.event.id))
        now = self._event()
        if now is not None:
            self._choose_value(now.event.value)

    def rest(self) -> None:
        """Make a rest of the event at the caret, or write one where there is none."""
        at = self._event()
        if at is None:
            caret = self._caret
            self._do(InsertRest(caret.measure, caret.voice, caret.onset, self._value))
        elif at.event.is_rest:
            raise EditRefused("There is a rest here already; Delete takes it out.")
        else:
            self._do(TurnToRest(self._caret.measure, at.event.id))

    def tie(self) -> None:
        """Tie the note (or every note) at the caret to the next, or take the tie off."""
        found = carets.note_at(self.measure, self._caret)
        at = self._require_event()
        notes = [found.note] if found is not None else at.event.notes
        on = not any(note.tied for note in notes)
        only = found.note.id if found is not None else None
        self._do(SetTie(self._caret.measure, at.event.id, on, only))

    def fermata(self) -> None:
        """A fermata on every voice at the caret, or off all of them."""
        self._do(ToggleFermata(self._caret.measure, self._require_event().event.id))

    # ------------------------------------------------------------------------- notes

    def add_pitch(self, step: str) -> None:
        """Add a note by its name, as near as can be to the note before; it waits for a place."""
        caret = self._caret
        midi = self._nearest(step)
        key = self.measure.key
        pitch = Pitch(step, key.alter_of(step), 4)
        octave = round((midi - pitch.midi) / 12) + 4
        at = self._event()
        voice = at.voice if at is not None else caret.voice
        value = self._value if at is None else None
        added = AddPitch(caret.measure, voice, caret.onset, Pitch(step, pitch.alter, octave), value)
        self._do(added)

    def _nearest(self, step: str) -> int:
        """The MIDI number of the last note up to the caret; of the open third string if none."""
        before = [
            at.event.notes[-1].pitch.midi
            for at in _plain_events(self.measure)
            if at.event.notes and at.onset <= self._caret.onset
        ]
        return before[-1] if before else 55

    def shift_pitch(self, semitones: int) -> None:
        """Raise or lower the note at the caret, spelled by the key."""
        found = self._note()
        midi = found.note.pitch.midi + semitones
        pitch = Pitch.from_midi(midi, self.measure.key)
        self._do(SetPitch(self._caret.measure, found.note.id, pitch))

    def to_string(self, by: int) -> None:
        """Play the note at the caret on the next string down (1) or up (-1), at the same pitch."""
        found = self._note()
        place = found.note.place
        string = place.value.string + by if place is not None else 1 if by > 0 else self.strings
        self._do(MoveToString(self._caret.measure, found.note.id, string))
        moved = carets.on_note(self.outline, found.note.id, self._caret.on)
        if moved is not None:
            self.go(moved)

    def delete(self) -> None:
        """Take the note at the caret away, or the rest; where a note was alone a rest stays."""
        found = carets.note_at(self.measure, self._caret)
        if found is not None:
            self._do(DeleteNote(self._caret.measure, found.note.id))
            return
        at = self._event()
        if at is None or not at.event.is_rest:
            raise EditRefused("There is no note here to delete.")
        self._do(DeleteEvent(self._caret.measure, at.event.id))

    def close_up(self) -> None:
        """Take out the event at the caret; at the end of an unfinished voice, the last one."""
        at = self._event()
        if at is None:
            row = self.measure.voices[self._caret.voice : self._caret.voice + 1]
            if not row or not row[0]:
                raise EditRefused("There is nothing before the caret in this measure.")
            self._do(DeleteEvent(self._caret.measure, row[0][-1].id))
        else:
            self._do(DeleteEvent(self._caret.measure, at.event.id))

    def pin(self) -> None:
        """Make what is suggested for the note at the caret the teacher's own."""
        self._do(PinSuggestion(self._caret.measure, self._note().note.id))

    def pin_measure(self) -> None:
        self._do(PinMeasure(self._caret.measure))

    # ------------------------------------------------------------------------- measures

    def insert_measure(self, where: Literal["before", "after"]) -> None:
        """An empty measure after the caret's, or before it; the caret goes there."""
        change = self._do(InsertMeasures(self._caret.measure, 1, where))
        if change.inserted:
            caret = self._caret
            self.go(Caret(change.inserted[0], 0, caret.on, caret.string, 0, caret.voice))

    def delete_measure(self) -> None:
        self._do(DeleteMeasures(self._caret.measure, self._caret.measure))

    def repeat_measure(self) -> None:
        """Write the measure once more after itself and go there."""
        change = self._do(RepeatMeasure(self._caret.measure))
        if change.inserted:
            self.go_to(change.inserted[0], 0)

    def complete_or_trim(self) -> None:
        """Make the measure as long as its metre: rests for what is missing, off with the rest."""
        measure = self.measure
        over = any(measure.filled_ticks(v) > measure.ticks for v in range(len(measure.voices)))
        self._do(TrimMeasure(measure.id) if over else CompleteMeasure(measure.id))

    # ------------------------------------------------------------------------- applying

    def undo(self) -> None:
        self._walk_history(self._session.undo, self._before)

    def redo(self) -> None:
        self._walk_history(self._session.redo, self._after)

    def _walk_history(self, move: Callable[[object], Change], kept: dict[int, Caret]) -> None:
        change = move(self)
        self._figure = None
        known = kept.get(len(self._session.history.done))
        if known is not None and self.outline.measure(known.measure) is not None:
            self.go(known)
        else:
            self._to_change(change)

    def _to_change(self, change: Change) -> None:
        touched = (*change.replaced, *change.inserted)
        if touched and self._caret.measure not in touched:
            self.go_to(touched[0], 0)
        else:
            self.go(self._mended())

    def _do(self, command: Command, amend: bool = False) -> Change:
        steps = len(self._session.history.done)
        before = self._caret
        change = self._session.apply(command, initiator=self, amend=amend)
        if change.empty:
            return change
        if not amend:
            self._before[steps] = before
        self._messages.clear()
        self.go(self._mended())
        self._after[len(self._session.history.done)] = self._caret
        return change

    def _mended(self) -> Caret:
        return carets.mend(self.outline, self._caret, self.strings, self._position)

    def _session_changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields:
            self._before, self._after, self._figure = {}, {}, None
            self._value = self._session.lesson.arrangement.tempo.beat
            self._caret = self._first()
            self.go(self._caret)
        elif initiator is not self:
            self.go(self._mended())
        else:
            # The method that made the edit moves the caret; until then it must be on something.
            self._caret = self._mended()

    def _event(self) -> Located | None:
        return carets.event_at(self.measure, self._caret)

    def _require_event(self) -> Located:
        at = self._event()
        if at is None:
            raise EditRefused("There is no note or rest here yet.")
        return at

    def _note(self) -> carets.Struck:
        found = carets.note_at(self.measure, self._caret)
        if found is None:
            raise EditRefused("There is no note at the caret.")
        return found


def _plain_events(measure: Measure) -> list[Located]:
    return [at for at in walk.events(measure) if at.event.grace is None]
