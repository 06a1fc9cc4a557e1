"""Writing: the caret, and what each key does to the music at it. Holds no widget."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import structs
from PySide6.QtCore import QObject, Signal

from app import caret as carets
from app.caret import Caret, On
from app.messages import Messages
from app.pitching import nearest
from app.returning import Returning
from app.session import OPENED, Outline, Session, require_measure
from core.edit.base import Command
from core.edit.change import Change
from core.edit.holding import HoldOn
from core.edit.labels import PinMeasure, PinSuggestion, SetFinger
from core.edit.marks import ToggleFermata
from core.edit.measures import InsertMeasures
from core.edit.notes import AddPitch, DeleteNote, Entry, MoveToString, PutFret, SetPitch, SetTie
from core.edit.rhythm import (
    DeleteEvent,
    DropTuplet,
    InsertRest,
    MakeTuplet,
    SetValue,
    ToggleDot,
    TurnToRest,
)
from core.edit.rows import Mode
from core.edit.together import Together
from core.edit.transpose import transposed
from core.model import VOICE_NAMES, Base, EditRefused, Event, Finger, Measure, Value, walk
from core.model.walk import Located

VOICE_WORDS = VOICE_NAMES


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
        self._mode: Mode = "overwrite"
        self._returning = Returning()
        self._history = session.history
        self._step = 0  # the step the latest command made; 0 where it changed nothing
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
    def mode(self) -> Mode:
        """Whether figures write over what is at the caret or are put in before it."""
        return self._mode

    @property
    def open(self) -> bool:
        """Whether the caret stands where its voice would go on."""
        return carets.event_at(self.measure, self._caret) is None

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
        """Put the caret somewhere; the next new note has the value of the note it comes to."""
        moved = carets.mend(self.outline, caret, self.strings)
        self._caret = moved
        self._position = self.outline.index[moved.measure]
        found = carets.note_at(self.measure, moved)
        if found is not None and found.at.voice == moved.voice and self._mode == "overwrite":
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

    def step_beat(self, by: int) -> None:
        self.go(carets.step_beat(self.outline, self._caret, by))

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
        self.to_voice(1 - min(self._caret.voice, 1))

    def to_voice(self, voice: int) -> None:
        """New notes go to a voice (0 melody, 1 bass, 2 and 3 inner voices)."""
        self.go(structs.replace(self._caret, voice=voice))
        self._messages.note(f"New notes go to {VOICE_WORDS[voice]}.")

    def change_mode(self) -> None:
        """From writing over to putting in, or back."""
        self._mode = "insert" if self._mode == "overwrite" else "overwrite"
        self._messages.clear()
        self.moved.emit()

    # ------------------------------------------------------------------------- figures

    def figure(self, figure: int) -> None:
        """A figure: a fret where the caret is on the tab, a finger where it is on the staff."""
        if self._caret.on == "tab":
            self.fret(figure)
        else:
            self._finger(figure)

    def fret(self, fret: int) -> None:
        """Put a fret on the caret's string; where the voice goes on, the caret goes on with it."""
        caret = self._caret
        if self._mode == "overwrite" and not self.open:
            voice = carets.voice_at(self.measure, caret)
            begins = any(at.voice == voice for at in carets.beginning(self.measure, caret.onset))
            value = None if begins else self._value
            self.do(PutFret(caret.measure, voice, caret.onset, caret.string, fret, value))
            return
        entry: Entry = "insert" if self._mode == "insert" and not self.open else "chord"
        self._write(
            lambda measure, onset: PutFret(
                measure, caret.voice, onset, caret.string, fret, self._value, entry
            )
        )

    def _write(self, command: Callable[[int, int], Command]) -> None:
        """Write what lasts the chosen value at the caret and go on; at the end of the piece into

        a new measure, in one step to undo.
        """
        caret, measure, value = self._caret, self.measure, self._value
        if self.open and caret.onset >= measure.ticks:
            new = self._session.lesson.next_id
            written = command(new, 0)
            self.do(Together((InsertMeasures(measure.id), written), written.label))
            caret = structs.replace(caret, measure=new, onset=0)
        else:
            self.do(command(caret.measure, caret.onset))
        self._value = value
        self.stay(carets.after(self.outline, caret, caret.onset + value.ticks))

    def _finger(self, figure: int) -> None:
        if figure > 4:
            raise EditRefused(f"There is no finger {figure}: 1 to 4, and 0 for an open string.")
        self.set_finger(Finger(str(figure)))

    def set_finger(self, finger: Finger | None) -> None:
        """Pin a finger (None: leave it open) and go on to the next note that needs one."""
        found = self._note()
        self.do(SetFinger(self._caret.measure, found.note.id, finger))
        if finger is not None and self._caret.on == "staff":
            self.stay(carets.next_unfingered(self.outline, self._caret))

    # ------------------------------------------------------------------------- rhythm

    def _to_change_value(self) -> Located | None:
        """The event whose value a letter changes: none where a new one would be written."""
        return None if self._mode == "insert" else self._event()

    def set_value(self, base: Base) -> None:
        """Give the event at the caret a value; where a new one would be written, choose its."""
        at = self._to_change_value()
        tuplets = self._value.tuplets if at is None else at.event.value.tuplets
        value = Value(base, 0, tuplets)
        if at is not None:
            self._telling(SetValue(self._caret.measure, at.event.id, value))
        self._choose_value(value)

    def _choose_value(self, value: Value) -> None:
        self._value = value
        self.moved.emit()

    def _telling(self, command: Command) -> None:
        """Change a value, and say how many notes after it were written over."""
        before = self.outline
        change = self.do(command)
        changed = ((before.measure(n), self.outline.measure(n)) for n in change.replaced)
        lost = sum(_notes(old) - _notes(new) for old, new in changed if old and new)
        if lost > 0:
            what, them = ("1 note", "it") if lost == 1 else (f"{lost} notes", "them")
            self._messages.note(f"{what} after it written over; Ctrl+Z brings {them} back.")

    def dot(self) -> None:
        """Dot the event at the caret or take its dot off; where there is none, the next note."""
        at = self._to_change_value()
        if at is None:
            try:
                dots = 0 if self._value.dots else 1
                self._choose_value(Value(self._value.base, dots, self._value.tuplets))
            except ValueError:
                raise EditRefused("That value cannot take a dot; choose a longer one.") from None
            return
        self._telling(ToggleDot(self._caret.measure, at.event.id))
        now = self._event()
        if now is not None:
            self._choose_value(now.event.value)

    def tuplet(self, actual: int = 3, normal: int = 2) -> None:
        """Divide the event at the caret, or drop its tuplet; else new notes are in a tuplet."""
        at = self._to_change_value()
        if at is None:
            ratio = () if self._value.tuplets else ((actual, normal),)
            try:
                self._choose_value(Value(self._value.base, self._value.dots, ratio))
            except ValueError:
                raise EditRefused(
                    "That value cannot stand in such a tuplet; choose another."
                ) from None
            return
        if at.event.value.tuplets:
            self.do(DropTuplet(self._caret.measure, at.event.id))
        else:
            self.do(MakeTuplet(self._caret.measure, at.event.id, actual, normal))
        now = self._event()
        if now is not None:
            self._choose_value(now.event.value)

    def rest(self) -> None:
        """Make a rest of the event at the caret, or write one where a new one would be."""
        at = self._event()
        if at is None or self._mode == "insert":
            voice, value = self._caret.voice, self._value
            mode = self._mode if at is not None else "overwrite"
            self._write(lambda measure, onset: InsertRest(measure, voice, onset, value, mode))
        elif at.event.is_rest:
            raise EditRefused("There is a rest here already; Backspace takes it out.")
        else:
            self.do(TurnToRest(self._caret.measure, at.event.id))

    def tie(self) -> None:
        """Tie the note (or every note) at the caret to the next, or take the tie off.

        Where the voice goes on, the note before is held on for the chosen value.
        """
        found = carets.note_at(self.measure, self._caret)
        at = self._event()
        if at is None:
            caret, value = self._caret, self._value
            self._write(lambda measure, onset: HoldOn(measure, caret.voice, onset, value))
            return
        notes = [found.note] if found is not None else at.event.notes
        on = not any(note.tied for note in notes)
        only = found.note.id if found is not None else None
        self.do(SetTie(self._caret.measure, at.event.id, on, only))

    def fermata(self) -> None:
        """A fermata on every voice at the caret, or off all of them; where the voice goes on, at

        the event before.
        """
        at = self._event()
        found = self._written_last() if at is None else (self.measure, at.event)
        if found is None:
            raise self.refused("there is no note or rest here yet; Left and Right walk on.")
        measure, event = found
        self.do(ToggleFermata(measure.id, event.id))

    # ------------------------------------------------------------------------- notes

    def add_pitch(self, step: str) -> None:
        """Add a note by the name the staff gives it, as near as can be to the note before; it
        waits for a place."""
        caret = self._caret
        pitch = nearest(self.outline, caret, step)
        at = self._event()
        if at is not None and self._mode == "overwrite":
            self.do(AddPitch(caret.measure, at.voice, caret.onset, pitch))
            return
        entry: Entry = "chord" if at is None else "insert"
        self._write(
            lambda measure, onset: AddPitch(measure, caret.voice, onset, pitch, self._value, entry)
        )

    def shift(self, by: int, along_key: bool = False) -> None:
        """Move the note at the caret by semitones, or by steps of the key."""
        found = self._note()
        try:
            pitch = transposed(found.note.pitch, self.measure.key, by, along_key)
        except ValueError:
            raise self.refused(f"{found.note.pitch} cannot go that far; try less.") from None
        self.do(SetPitch(self._caret.measure, found.note.id, pitch))

    def to_string(self, by: int) -> None:
        """Play the note at the caret on the next string down (1) or up (-1), at the same pitch."""
        found = self._note()
        place = found.note.place
        string = place.value.string + by if place is not None else 1 if by > 0 else self.strings
        self.do(MoveToString(self._caret.measure, found.note.id, string))

    def delete(self) -> None:
        """Take the note at the caret away, or the rest; where a note was alone a rest stays."""
        found = carets.note_at(self.measure, self._caret)
        if found is not None:
            self.do(DeleteNote(self._caret.measure, found.note.id))
            return
        at = self._event()
        if at is None or not at.event.is_rest:
            raise self.refused("there is no note here to delete; Left and Right walk on.")
        self.do(DeleteEvent(self._caret.measure, at.event.id))

    def close_up(self) -> None:
        """Take out the event at the caret; where the voice would go on, the one before."""
        at = self._event()
        if at is not None:
            self.do(DeleteEvent(self._caret.measure, at.event.id))
            return
        before = self._written_last()
        if before is None:
            voice = VOICE_WORDS[self._caret.voice]
            raise self.refused(
                f"nothing of {voice} stands before the caret; V takes the other voice."
            )
        measure, last = before
        onset = measure.filled_ticks(self._caret.voice) - last.ticks
        self.do(DeleteEvent(measure.id, last.id))
        self.stay(structs.replace(self._caret, measure=measure.id, onset=onset))

    def pin(self) -> None:
        """Make what is suggested for the note at the caret the teacher's own."""
        self.do(PinSuggestion(self._caret.measure, self._note().note.id))

    def pin_measure(self) -> None:
        self.do(PinMeasure(self._caret.measure))

    # ------------------------------------------------------------------------- applying

    def undo(self) -> None:
        """Take the latest edit back; the caret goes back to where it was made."""
        step = self._session.history.position
        self._walked(self._session.undo(self), self._returning.undone(step))

    def redo(self) -> None:
        """Do the edit again that was taken back; the caret goes where it had left it."""
        change = self._session.redo(self)
        self._walked(change, self._returning.redone(self._session.history.position))

    def _walked(self, change: Change, known: Caret | None) -> None:
        """Put the caret where the history knows it, else to what changed."""
        touched = (*change.replaced, *change.inserted)
        if known is not None:
            self.go(known)
        elif touched and self._caret.measure not in touched:
            self.go_to(touched[0], 0)
        else:
            self.go(self._mended())

    def do(self, command: Command) -> Change:
        """Carry out a command as typed here: undo and redo bring the caret back to this place.

        The caret stays on the note it is on: on its other string too, and on the staff where the
        note has lost its place. Else it stays where it is, or goes to the nearest place left.
        """
        before, note = self._caret, self.note_id()
        self._step = 0
        change = self._session.apply(command, initiator=self)
        if change.empty:
            return change
        self._step = self._session.history.position
        self._messages.clear()
        self.go(self._on_same(note) or self._mended())
        self._returning.made(self._step, before, self._caret)
        return change

    def stay(self, caret: Caret) -> None:
        """Go somewhere as the end of the edit just made: redo comes back to it."""
        self.go(caret)
        self._returning.left(self._step, self._caret)

    def _mended(self) -> Caret:
        return carets.mend(self.outline, self._caret, self.strings, self._position)

    def _on_same(self, note_id: int) -> Caret | None:
        """The caret on a note that is still at this moment; None where it is not."""
        measure = self.outline.measure(self._caret.measure)
        found = carets.note_in(measure, note_id) if measure is not None else None
        if measure is None or found is None or found.at.onset != self._caret.onset:
            return None
        on: On = self._caret.on if found.note.place is not None else "staff"
        moved = carets.on_struck(measure, found, on)
        string = moved.string if found.note.place is not None else self._caret.string
        return structs.replace(moved, string=string, voice=self._caret.voice)

    def _session_changed(self, change: Change, initiator: object) -> None:
        known, self._history = self._history, self._session.history
        if OPENED in change.fields:
            self._returning.forget()
            self._value = self._session.lesson.arrangement.tempo.beat
            self._mode = "overwrite"
            self._caret = self._first()
            self.go(self._caret)
        elif initiator is not self:
            if self._history is not known:
                self._returning.elsewhere(self._history.position)
            self.go(self._mended())
        else:
            # The method that made the edit moves the caret; until then it must be on something.
            self._caret = self._mended()

    def refused(self, why: str) -> EditRefused:
        """The refusal of something at the caret, to be raised; it begins with the measure."""
        return EditRefused(f"In {self.outline.name(self._caret.measure)} {why}")

    def _event(self) -> Located | None:
        return carets.event_at(self.measure, self._caret)

    def _written_last(self) -> tuple[Measure, Event] | None:
        """What the caret's voice has last in this measure, else in the one before."""
        position = self.outline.index[self._caret.measure]
        for measure in reversed(self.outline.measures[max(0, position - 1) : position + 1]):
            row = measure.voices[self._caret.voice : self._caret.voice + 1]
            if row and row[0]:
                return measure, row[0][-1]
        return None

    def _note(self) -> carets.Struck:
        found = carets.note_at(self.measure, self._caret)
        if found is None:
            raise self.refused("there is no note at the caret; the arrows walk to one.")
        return found


def _notes(measure: Measure) -> int:
    return sum(1 for _ in walk.notes(measure))
