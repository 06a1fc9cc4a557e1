"""What is selected: from where the selection was begun to where the caret is. Holds no widget."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from msgspec import Struct, structs
from PySide6.QtCore import QObject, Signal

from app.caret import Caret
from app.messages import Messages
from app.session import OPENED, Outline, Session
from app.writing import VOICE_WORDS, Writing
from core.edit.change import Change
from core.edit.clip import ALL_VOICES, Selection
from core.model import EditRefused
from core.model.measure import Measure


class Stretch(Struct, frozen=True):
    """The selected part of one measure, in ticks; `end` None reaches to the barline."""

    measure: int
    start: int
    end: int | None


class Selecting(QObject):
    """A selection goes from its anchor up to the caret: events that begin in between are in it.

    It is dropped when the caret moves on alone. `changed()` when it is another.
    """

    changed = Signal()

    def __init__(self, session: Session, writing: Writing, messages: Messages) -> None:
        super().__init__()
        self._session, self._writing, self._messages = session, writing, messages
        self._anchor: Caret | None = None
        self._head: Caret | None = None
        self._voices = ALL_VOICES
        writing.moved.connect(self._caret_moved)
        session.changed.connect(self._session_changed)

    @property
    def selection(self) -> Selection | None:
        """What is selected, in written order; None where nothing is."""
        if self._anchor is None:
            return None
        first, last = sorted((self._anchor, self._writing.caret), key=self._order)
        if self._order(first) == self._order(last):
            return None
        return Selection(first.measure, first.onset, last.measure, last.onset, self._voices)

    @property
    def measures(self) -> tuple[int, int]:
        """The first and last measure that is selected, or the caret's twice."""
        stretches = list(self.stretches())
        if not stretches:
            return self._writing.caret.measure, self._writing.caret.measure
        return stretches[0].measure, stretches[-1].measure

    def required(self) -> Selection:
        """The selection; the caret's whole measure where nothing is selected."""
        found = self.selection
        if found is not None:
            return found
        measure = self._writing.measure
        return Selection(measure.id, 0, measure.id, measure.length_ticks)

    def stretches(self) -> Iterator[Stretch]:
        """What is selected of each measure."""
        found = self.selection
        if found is None:
            return
        outline = self._outline
        first, last = outline.index[found.first], outline.index[found.last]
        for position in range(first, last + 1):
            measure = outline.measures[position]
            start = found.start if position == first else 0
            end = found.end if position == last else None
            if end is None or end > start:
                whole = end is not None and end >= measure.length_ticks
                yield Stretch(measure.id, start, None if whole else end)

    def words(self) -> str:
        """``2 measures selected, the bass``; empty when nothing is."""
        found = list(self.stretches())
        if not found:
            return ""
        whole = found[0].start == 0 and found[-1].end is None
        count = len(found)
        what = f"{count} measure{'s' if count > 1 else ''}" if whole else "a span"
        only = "" if len(self._voices) > 1 else f", only {VOICE_WORDS[self._voices[0]]}"
        return f"{what} selected{only}"

    # ------------------------------------------------------------------ making it

    def extend(self, move: Callable[[], object]) -> None:
        """Move the caret and keep what lies between."""
        anchor = self._anchor or self._writing.caret
        self._anchor = None
        move()
        self._hold(anchor)

    def measure(self) -> None:
        """The caret's measure; once more, the next one too."""
        first, last = self.measures
        known = list(self.stretches())
        whole = bool(known) and known[0].start == 0 and known[-1].end is None
        self._select(first, self._next(last) if whole else last)

    def section(self) -> None:
        """The caret's section; once more, the whole piece."""
        section = self._outline.section_of[self._writing.caret.measure]
        first, last = section.measures[0].id, section.measures[-1].id
        known = list(self.stretches())
        if known and (known[0].measure, known[-1].measure) == (first, last):
            self.all()
        else:
            self._select(first, last)

    def all(self) -> None:
        """The whole piece."""
        row = self._outline.measures
        self._select(row[0].id, row[-1].id)

    def one_voice(self) -> None:
        """Only the caret's voice of what is selected, or every voice again."""
        if self.selection is None:
            raise EditRefused("Nothing is selected yet; Shift with the arrows selects.")
        self._voices = ALL_VOICES if len(self._voices) == 1 else (self._writing.caret.voice,)
        self.changed.emit()

    def drop(self) -> None:
        """Nothing is selected any more."""
        if self._anchor is not None:
            self._anchor, self._head = None, None
            self.changed.emit()
        self._voices = ALL_VOICES

    def _select(self, first: int, last: int) -> None:
        """Whole measures; the caret stands at their start."""
        measure = self._outline.measures[self._outline.index[last]]
        end = self._beyond(measure)
        self._anchor = None
        self._writing.go_to(first, 0)
        self._hold(structs.replace(self._writing.caret, measure=end[0], onset=end[1]))

    def _beyond(self, measure: Measure) -> tuple[int, int]:
        following = self._next(measure.id)
        return (measure.id, measure.length_ticks) if following == measure.id else (following, 0)

    def _next(self, measure: int) -> int:
        row, position = self._outline.measures, self._outline.index[measure]
        return row[min(position + 1, len(row) - 1)].id

    def _hold(self, anchor: Caret) -> None:
        self._anchor, self._head = anchor, self._writing.caret
        self.changed.emit()

    # ------------------------------------------------------------------ keeping it

    @property
    def _outline(self) -> Outline:
        return self._session.outline

    def _order(self, caret: Caret) -> tuple[int, int]:
        return self._outline.index.get(caret.measure, 0), caret.onset

    def _caret_moved(self) -> None:
        caret, head = self._writing.caret, self._head
        if self._anchor is None or head is None:
            return
        if (caret.measure, caret.onset) != (head.measure, head.onset):
            self.drop()

    def _session_changed(self, change: Change, initiator: object) -> None:
        anchor = self._anchor
        if anchor is not None and (
            OPENED in change.fields or anchor.measure not in self._outline.index
        ):
            self.drop()
