"""The sign line's other end: words typed under the sheet become signs where the caret is."""

from __future__ import annotations

from collections.abc import Iterator

from app import caret as carets
from app.messages import Messages
from app.selecting import Selecting
from app.session import Session
from app.signs.here import Here, Spot
from app.signs.words import parse
from app.writing import Writing
from core.edit.base import Command
from core.edit.clip import selected
from core.edit.together import Together
from core.model import Measure, Note, walk
from core.model.walk import Located


class Signing:
    """Writes what the sign line is told, as one step to undo. Holds no widget."""

    def __init__(
        self, session: Session, writing: Writing, selecting: Selecting, messages: Messages
    ) -> None:
        self._session, self._writing = session, writing
        self._selecting, self._messages = selecting, messages

    def write(self, words: str) -> None:
        """Write a sign, or take it off where it stands; raises EditRefused with a sentence."""
        commands = parse(words).commands(self.here())
        command: Command = commands[0]
        if len(commands) > 1:
            command = Together(tuple(commands), commands[0].label)
        change = self._writing.do(command)
        done = f"Done: {command.label}." if not change.empty else "That stands so already."
        self._messages.note(done)

    def here(self) -> Here:
        """What is selected, or the caret's note, event and measure."""
        caret, outline = self._writing.caret, self._writing.outline
        stretches = list(self._selecting.stretches())
        first, last = self._selecting.measures
        row = outline.measures[outline.index[first] : outline.index[last] + 1]
        beginning = tuple(self._selected() if stretches else self._beginning())
        spots = beginning if stretches else tuple(self._at_caret())
        return Here(
            self._session.lesson,
            row,
            stretches[0].start if stretches else caret.onset,
            spots,
            tuple(self._notes(spots, bool(stretches))),
            beginning,
            self._voice(spots, bool(stretches)),
            caret.string if caret.on == "tab" else None,
            bool(stretches),
            outline.shift,
        )

    def _selected(self) -> Iterator[Spot]:
        lesson = self._session.lesson
        for found, voice, place, _ in selected(lesson, self._selecting.required()):
            at = next(a for a in walk.events(found.measure) if (a.voice, a.index) == (voice, place))
            if at.event.grace is None:
                yield self._spot(found.measure, at)

    def _beginning(self) -> Iterator[Spot]:
        measure = self._writing.measure
        for at in carets.beginning(measure, self._writing.caret.onset):
            yield self._spot(measure, at)

    def _at_caret(self) -> Iterator[Spot]:
        measure = self._writing.measure
        at = carets.event_at(measure, self._writing.caret)
        if at is not None:
            yield self._spot(measure, at)

    def _spot(self, measure: Measure, at: Located) -> Spot:
        return Spot(measure.id, self._writing.outline.index[measure.id], at)

    def _notes(self, spots: tuple[Spot, ...], many: bool) -> Iterator[tuple[Spot, Note]]:
        """Every note of the selection; else the caret's, or the only one of its event."""
        if many:
            for spot in spots:
                yield from ((spot, note) for note in spot.at.event.notes)
            return
        found = carets.note_at(self._writing.measure, self._writing.caret)
        for spot in spots:
            if found is not None:
                yield spot, found.note
            elif len(spot.at.event.notes) == 1:
                yield spot, spot.at.event.notes[0]

    def _voice(self, spots: tuple[Spot, ...], many: bool) -> int:
        """The voice lines are drawn in: of the caret's note, or of what is selected on its string,
        else the caret's own."""
        caret = self._writing.caret
        if not many:
            return spots[0].at.voice if spots else caret.voice
        if caret.on == "tab":
            for spot in spots:
                for note in spot.at.event.notes:
                    if note.place is not None and note.place.value.string == caret.string:
                        return spot.at.voice
        return caret.voice
