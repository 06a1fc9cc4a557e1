"""Weighing: what each way to play the note at the caret costs, why not another, other ways for
the measure. Asks the worker when the caret rests; holds no widget."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct
from PySide6.QtCore import QObject, QTimer, Signal

from app import caret as carets
from app.jobs import Worker
from app.messages import Messages
from app.panels.duties import pitch_words
from app.session import Session
from app.suggesting import Suggesting
from app.thinking.questions import (
    OtherWays,
    Priced,
    PriceList,
    Prices,
    Question,
    Reason,
    Way,
    Ways,
    WhyNot,
)
from app.writing import Writing
from core.edit.base import Command
from core.edit.labels import SetFinger
from core.edit.notes import SetPlace
from core.edit.together import Together
from core.hand.sounding import heard
from core.model import Arrangement, EditRefused, Finger, Measure, Note, Place, Section

TIED_MEASURES = 8  # a tie is followed so far to each side
REST_MS = 150  # the caret rests so long before prices are asked for


class _Shown(Struct, frozen=True):
    """The other ways of some measures, which one is shown, and the measures as it left them."""

    ways: Ways
    index: int
    measures: tuple[Measure, ...]


class Weighing(QObject):
    """`changed()`: the rows, the reason or the way shown are others.

    `wanted` tells whether anybody looks at the prices.
    """

    changed = Signal()

    def __init__(
        self, session: Session, writing: Writing, messages: Messages, worker: Worker,
        suggesting: Suggesting,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._writing, self._messages = session, writing, messages
        self._worker, self._suggesting = worker, suggesting
        self.wanted: Callable[[], bool] = lambda: False
        self._about: tuple[int, int] = (0, 0)  # measure and note of the rows
        self._rows: tuple[Priced, ...] = ()
        self._reason = ""
        self._asked: dict[int, tuple[Question, Arrangement]] = {}
        self._shown: _Shown | None = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._ask_prices)
        writing.moved.connect(self._moved)
        session.changed.connect(self._moved)
        worker.answered.connect(self._answered)
        worker.refused.connect(self._refused)
        worker.given_up.connect(lambda serial: self._asked.pop(serial, None))
        worker.died.connect(self._died)

    # ------------------------------------------------------------------ prices

    @property
    def rows(self) -> tuple[Priced, ...]:
        """The ways to play the note at the caret, cheapest first; empty until they are known."""
        return self._rows

    @property
    def reason(self) -> str:
        """Why not the way that was asked about, or what the way shown asks of the hand."""
        return self._reason

    @property
    def note(self) -> Note | None:
        """The note at the caret, where a finger can press it."""
        outline, caret = self._session.outline, self._writing.caret
        measure = outline.measure(caret.measure)
        found = carets.note_at(measure, caret) if measure is not None else None
        return found.note if found is not None and found.note.harmonic is None else None

    @property
    def title(self) -> str:
        """What stands over the rows: the note as the staff shows it; empty where there is none."""
        note, outline = self.note, self._session.outline
        if note is None:
            return ""
        pitch = outline.shift.pitch(note.pitch, self._writing.measure.key)
        return f"Ways to play {pitch_words(str(pitch))}"

    def close(self) -> None:
        """Ask nothing any more."""
        self._rest.stop()
        self.wanted = lambda: False

    def refresh(self) -> None:
        """Ask for the prices soon, as somebody looks at them now."""
        self._rest.start()

    def _moved(self) -> None:
        note = self.note
        about = (self._writing.caret.measure, note.id if note is not None else 0)
        if about != self._about:
            self._about, self._rows, self._reason = about, (), ""
            self.changed.emit()
        self._rest.start()

    def _ask_prices(self) -> None:
        measure, note = self._about
        if note and self.wanted():
            for serial, (asked, _) in self._asked.items():
                if isinstance(asked, Prices):
                    self._worker.stop(serial)
            self._ask(Prices(measure, note))

    def _ask(self, question: Question) -> None:
        serial = self._worker.ask(self._session.lesson, question)
        self._asked[serial] = (question, self._session.lesson.arrangement)

    def pin(self, row: Priced) -> None:
        """Play the note in this way: pinned, one step to undo. What is tied to it goes along, and
        the finger stands at the note that is struck."""
        place = Place(row.spot.string, row.spot.fret)
        finger = Finger(str(row.spot.finger))
        tied = self._tied()
        commands: list[Command] = [SetPlace(measure, note, place) for measure, note in tied]
        commands.append(SetFinger(*tied[0], finger))
        self._writing.do(
            Together(tuple(commands), f"finger {finger.value} on string {place.string}")
        )

    def _tied(self) -> list[tuple[int, int]]:
        """Measure and note of the note at the caret and of those tied to it, in their order."""
        measure, note = self._about
        outline = self._session.outline
        at = outline.index[measure]
        row = outline.measures[max(0, at - TIED_MEASURES) : at + TIED_MEASURES + 1]
        near = Arrangement((Section(0, row),), self._session.lesson.arrangement.instrument)
        for sound in heard(near):
            ids = [n.id for n in sound.notes]
            if note in ids:
                return list(zip(sound.measures, ids, strict=True))
        return [self._about]

    # ------------------------------------------------------------------ why not

    def why_row(self, row: Priced) -> None:
        """Ask what speaks against one of the rows."""
        measure, note = self._about
        spot = row.spot
        self._ask(WhyNot(measure, note, spot.finger, spot.string, spot.fret))

    def why_not(self, finger: int) -> None:
        """Ask what speaks against a finger for the note at the caret."""
        note = self.note
        if note is None:
            raise self._writing.refused("there is no note at the caret to ask about; walk to one.")
        if finger > 4:
            raise EditRefused(f"There is no finger {finger}: 1 to 4, and 0 for an open string.")
        self._ask(WhyNot(self._writing.caret.measure, note.id, finger))

    # ------------------------------------------------------------------ other ways

    def next_way(self) -> None:
        """Show the next way to finger the measure at the caret, or what is selected."""
        shown = self._shown
        present = self._present(self._suggesting.scope())
        if shown is not None and _same(shown.measures, present):
            self._show(shown.ways, (shown.index + 1) % len(shown.ways.rows), present, again=True)
        else:
            self._ask(OtherWays(self._suggesting.scope()))

    def _present(self, measures: frozenset[int]) -> tuple[Measure, ...]:
        return tuple(m for m in self._session.outline.measures if m.id in measures)

    def _show(
        self, ways: Ways, index: int, measures: tuple[Measure, ...], again: bool = False
    ) -> None:
        """Show one of the ways; `again` while going through them: one undo takes all back."""
        way = ways.rows[index]
        self._suggesting.show(way.fingering, measures, f"other way: {way.name}", again)
        ids = frozenset(measure.id for measure in measures)
        self._shown = _Shown(ways, index, self._present(ids))
        self._reason = way_words(way, index, len(ways.rows))
        self._messages.note(self._reason)
        self.changed.emit()

    def _ways_came(self, ways: Ways, wanted: frozenset[int]) -> None:
        measures = self._present(wanted)
        if not ways.rows:
            self._messages.note("There are no notes here to finger.")
            return
        here = next((i for i, way in enumerate(ways.rows) if _is_on(way, measures)), -1)
        if here == 0 and len(ways.rows) == 1:
            only = ways.rows[0].words
            self._reason = f"No other way was found that a teacher would call different: {only}."
            self._messages.note(self._reason)
            self.changed.emit()
            return
        self._show(ways, (here + 1) % len(ways.rows), measures)

    # ------------------------------------------------------------------ answers

    def _answered(self, serial: int, answer: object) -> None:
        question, arrangement = self._asked.pop(serial, (None, None))
        if question is None:
            return
        if arrangement is not self._session.lesson.arrangement:
            self._again(question)
            return
        if isinstance(answer, Ways) and isinstance(question, OtherWays):
            self._ways_came(answer, question.measures)
        elif isinstance(answer, PriceList) and answer.note == self._about[1]:
            self._rows = answer.rows
            self.changed.emit()
        elif isinstance(answer, Reason) and answer.note == self._about[1]:
            self._reason = answer.words
            if isinstance(question, WhyNot) and not question.string:  # asked on the sheet
                self._messages.note(answer.words)
            self.changed.emit()

    def _again(self, question: Question) -> None:
        """The music changed meanwhile: ask once more, unless the prices are asked for anyway."""
        if isinstance(question, WhyNot) and question.note == self._about[1]:
            self._ask(question)
        elif isinstance(question, OtherWays) and self._present(question.measures):
            self._ask(OtherWays(frozenset(m.id for m in self._present(question.measures))))

    def _died(self, sentence: str) -> None:
        lost = any(not isinstance(question, Prices) for question, _ in self._asked.values())
        self._asked.clear()
        if lost:
            self._messages.failed(sentence)

    def _refused(self, serial: int, sentence: str) -> None:
        question, _ = self._asked.pop(serial, (None, None))
        if question is not None and not isinstance(question, Prices):
            self._messages.refused(sentence)


def row_words(row: Priced) -> str:
    """``string 2, fret 1, finger 1``, ``string 1 open``."""
    spot = row.spot
    if spot.fret == 0:
        return f"string {spot.string} open"
    finger = "thumb" if spot.finger > 4 else f"finger {spot.finger}"
    return f"{finger}, string {spot.string} fret {spot.fret}"


def price_words(row: Priced) -> str:
    """``easiest``, ``+1.3``, ``cuts a note``."""
    if row.cut:
        return "cuts a note"
    return "easiest" if row.more < 0.05 else f"+{row.more:.1f}"


def way_words(way: Way, index: int, count: int) -> str:
    """``Way 2 of 3, no fourth finger: 1 move of the hand (+0.8)``."""
    dearer = "" if way.more < 0.05 else f" ({way.more:+.1f} against the easiest)"
    return f"Way {index + 1} of {count}, {way.name}: {way.words}{dearer}."


def _same(one: tuple[Measure, ...], other: tuple[Measure, ...]) -> bool:
    return len(one) == len(other) and all(a is b for a, b in zip(one, other, strict=True))


def _is_on(way: Way, measures: tuple[Measure, ...]) -> bool:
    """Whether the page already shows this way."""
    return all(map(way.fingering.stands_in, measures))
