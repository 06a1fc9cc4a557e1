"""Suggesting places and fingers: when the worker is asked, and how its answers land.

Answers amend the lesson as suggested labels. What the teacher set is never touched; an answer for
measures that changed meanwhile is not taken, and the question is asked again.
"""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct, structs
from PySide6.QtCore import QObject, Signal

from app.jobs import Worker
from app.messages import Messages
from app.selecting import Selecting
from app.session import OPENED, Session
from app.thinking.questions import Clash, Fingering, Fingers
from app.writing import Writing
from core.edit.base import map_events
from core.edit.change import Change
from core.edit.labels import Suggest, TakeSuggestions
from core.hand.music import Keep
from core.model import Brief, Event, Label, Lesson, Measure, Note, walk

BESIDE = 1  # measures on each side of an edit whose suggestions may follow it
FIRST = 2  # measures on each side of the caret's that are worked out first
MOST_FOLLOWED = 4  # an edit of more measures than this waits for the teacher to ask


class _Asked(Struct, frozen=True):
    """A question under way: the measures it is about as they were, what to do with its answer.

    `step` is the label of the step it makes in the history; empty: the answer amends the lesson
    without one. `then` is asked when it has landed, with the step of its own.
    """

    question: Fingers
    measures: tuple[Measure, ...]
    brief: Brief
    step: str = ""
    then: tuple[Fingers, str] | None = None


class Suggesting(QObject):
    """`changed()`: what cannot be played, or whether suggestions follow, is another.

    `began(title)`, `told(words)` and `ended()` frame long work, which `stop` gives up.
    """

    changed = Signal()
    began = Signal(str)
    told = Signal(str)
    ended = Signal()

    def __init__(
        self, session: Session, writing: Writing, selecting: Selecting, messages: Messages,
        worker: Worker,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._writing, self._selecting = session, writing, selecting
        self._messages, self._worker = messages, worker
        self._open: dict[int, _Asked] = {}
        self._long = False
        self._follows = True
        self._chosen: dict[int, Measure] = {}
        self._clashes: dict[int, tuple[Clash, ...]] = {}
        self._made: Lesson | None = None  # the lesson as our latest step left it
        self._seen = session.lesson
        session.changed.connect(self._session_changed)
        worker.answered.connect(self._answered)
        worker.told.connect(self._progress)
        worker.refused.connect(self._refused)
        worker.given_up.connect(self._given_up)
        worker.died.connect(self._died)

    # ------------------------------------------------------------------ asking

    @property
    def follows(self) -> bool:
        """Whether suggestions beside an edit follow it."""
        return self._follows

    def set_follows(self, on: bool) -> None:
        self._follows = on
        self.changed.emit()

    @property
    def made(self) -> Lesson | None:
        """The lesson as the latest step of suggestions left it."""
        return self._made

    @property
    def busy(self) -> bool:
        """Whether fingers are being worked out."""
        return bool(self._open)

    def scope(self) -> frozenset[int]:
        """The measures that are selected; the caret's where none is."""
        order = self._session.outline.index
        first, last = self._selecting.measures
        row = self._session.outline.measures[order[first] : order[last] + 1]
        return frozenset(measure.id for measure in row)

    def here(self, keep: Keep = "") -> None:
        """Suggest places and fingers for what is selected, or for the measure at the caret."""
        self._cancel()
        self._ask(Fingers(self.scope(), keep), "suggested fingers")

    def whole(self, keep: Keep = "") -> None:
        """Suggest them for the whole piece, the caret's neighbourhood first."""
        self._whole("suggested fingers", keep)

    def came_in(self) -> None:
        """A score was opened: suggest for all of it, without a step in the history."""
        if any(True for m in self._session.outline.measures for _ in walk.notes(m)):
            self._whole("", "")

    def _whole(self, step: str, keep: Keep) -> None:
        self._cancel()
        self._long = True
        self.began.emit("Working out the fingers")
        first = Fingers(self._near([self._writing.caret.measure], FIRST), keep)
        self._ask(first, step, (Fingers(None, keep, alike=True), step))

    def stop(self) -> None:
        """Give up what is being worked out; what has landed stays."""
        self._cancel()
        self._messages.note("Stopped; what was suggested so far stays.")

    def _cancel(self) -> None:
        for serial in self._open:
            self._worker.stop(serial)
        self._open.clear()
        self._made = None
        self._finish()

    def _finish(self) -> None:
        if self._long and not self._open:
            self._long = False
            self.ended.emit()

    def _ask(
        self, question: Fingers, step: str = "", then: tuple[Fingers, str] | None = None
    ) -> None:
        measures = self._session.outline.measures
        if question.measures is not None:
            measures = tuple(m for m in measures if m.id in question.measures)
        serial = self._worker.ask(self._session.lesson, question)
        self._open[serial] = _Asked(question, measures, self._session.lesson.brief, step, then)

    def _near(self, measures: Collection[int], around: int) -> frozenset[int]:
        outline = self._session.outline
        found: set[int] = set()
        for measure in measures:
            at = outline.index[measure]
            row = outline.measures[max(0, at - around) : at + around + 1]
            found.update(m.id for m in row)
        return frozenset(found)

    # ------------------------------------------------------------------ answers

    def _answered(self, serial: int, answer: object) -> None:
        asked = self._open.pop(serial, None)
        if asked is None or not isinstance(answer, Fingering):
            return
        if self._stale(asked):
            self._again(asked)
        else:
            amend = self._made is not None and self._session.lesson is self._made
            self.land(answer, asked.measures, asked.step, amend)
            if asked.step and asked.then is None:
                self._messages.note(self._summary(answer, asked.question.measures is None))
            if asked.then is not None:
                self._ask(*asked.then)
        self._finish()

    def _stale(self, asked: _Asked) -> bool:
        """Whether a measure, the level or the hand changed since the question was asked."""
        outline = self._session.outline
        if asked.brief is not self._session.lesson.brief:
            return True
        if asked.question.measures is None and len(outline.measures) != len(asked.measures):
            return True
        return any(outline.measure(m.id) is not m for m in asked.measures)

    def _again(self, asked: _Asked) -> None:
        present = self._session.outline.index
        wanted = asked.question.measures
        if wanted is not None:
            wanted = frozenset(m for m in wanted if m in present)
        if wanted is None or wanted:
            question = structs.replace(asked.question, measures=wanted)
            self._ask(question, asked.step, asked.then)

    def land(
        self, answer: Fingering, asked: tuple[Measure, ...], step: str, amend: bool = False
    ) -> None:
        """Write an answer into the lesson: as a step of that name (with `amend` as part of the
        latest step), or without a step where `step` is empty.

        Raises EditRefused where a measure that was asked about has changed.
        """
        found = Suggest(
            answer.places, answer.fingers, answer.solver, asked, frozenset(answer.unplaced)
        )
        self._keep_clashes(answer, asked)
        if step:
            change = self._session.apply(TakeSuggestions(found, step), self, amend)
            if not change.empty:
                self._made = self._session.lesson
        else:
            self._session.suggest(found.amend, "suggested fingers")
        self.changed.emit()

    def _keep_clashes(self, answer: Fingering, asked: tuple[Measure, ...]) -> None:
        for measure in asked:
            self._clashes.pop(measure.id, None)
        for clash in answer.clashes:
            self._clashes[clash.measure] = (*self._clashes.get(clash.measure, ()), clash)

    def _summary(self, answer: Fingering, whole: bool) -> str:
        asked = "the whole piece" if whole else "what was asked for"
        number = len(self._clashes) if whole else len(answer.clashes)
        if number == 0:
            return f"Fingers are suggested for {asked}; Return keeps one, Ctrl+Z takes them back."
        spots = "1 spot" if number == 1 else f"{number} spots"
        return f"Fingers are suggested, but {spots} cannot be played as written: see the panel."

    def _progress(self, serial: int, words: str) -> None:
        if serial in self._open:
            self.told.emit(words)

    def _refused(self, serial: int, sentence: str) -> None:
        if self._open.pop(serial, None) is not None:
            self._messages.failed(sentence)
            self._finish()

    def _given_up(self, serial: int) -> None:
        self._open.pop(serial, None)
        self._finish()

    def _died(self, sentence: str) -> None:
        lost = bool(self._open)
        self._open.clear()
        self._finish()
        if lost:
            self._messages.failed(sentence)

    # ------------------------------------------------------------------ following edits

    def hold(self, measures: Collection[int]) -> None:
        """The teacher chose how these measures are fingered: they do not follow edits beside
        them, until they are edited themselves."""
        outline = self._session.outline
        for measure in measures:
            found = outline.measure(measure)
            if found is not None:
                self._chosen[measure] = found

    def _session_changed(self, change: Change, initiator: object) -> None:
        before, self._seen = self._seen, self._session.lesson
        if OPENED in change.fields:
            self._cancel()
            self._chosen, self._clashes, self._made = {}, {}, None
            self.changed.emit()
            return
        if initiator is self or self._session.cause != "edit":
            return
        touched = (*change.replaced, *change.inserted)
        if 0 < len(touched) <= MOST_FOLLOWED and self._follows:
            self._follow(touched, before)

    def _follow(self, touched: tuple[int, ...], before: Lesson) -> None:
        known = {m.id: m for m in walk.measures(before.arrangement)}
        outline = self._session.outline
        if all(m in known and _same_music(known[m], outline.measure(m)) for m in touched):
            return
        window = {m for m in self._near(touched, BESIDE) if not self._is_held(m, touched)}
        more, then = self._overtaken()
        window |= more
        rows = (outline.measure(m) for m in window)
        if any(row is not None and _has_suggestions(row) for row in rows):
            self._ask(Fingers(frozenset(window)), "", then)
        elif then is not None:
            self._ask(*then)

    def _overtaken(self) -> tuple[set[int], tuple[Fingers, str] | None]:
        """Give up what an edit has made stale: the measures it was about, and long work to be
        begun again afterwards. What was asked for some measures by a key comes by itself."""
        measures: set[int] = set()
        then = None
        for serial, asked in list(self._open.items()):
            wanted = asked.question.measures
            if wanted is not None and asked.step and asked.then is None:
                continue
            self._worker.stop(serial)
            del self._open[serial]
            if wanted is None:
                then = (asked.question, asked.step)
            else:
                measures |= {m for m in wanted if m in self._session.outline.index}
                then = asked.then or then
        return measures, then

    def _is_held(self, measure: int, touched: tuple[int, ...]) -> bool:
        held = self._chosen.get(measure)
        return measure not in touched and held is not None and (
            held is self._session.outline.measure(measure)
        )  # fmt: skip

    # ------------------------------------------------------------------ what cannot be played

    @property
    def clashes(self) -> tuple[Clash, ...]:
        """The spots that no hand can play as written, as far as they were found, in order."""
        rows = (self._clashes.get(m.id, ()) for m in self._session.outline.measures)
        return tuple(clash for row in rows for clash in row)

    def next_clash(self) -> None:
        """Put the caret on the next spot that cannot be played."""
        found = self.clashes
        if not found:
            self._messages.note("Nothing unplayable is known; Ctrl+Shift+F looks at the piece.")
            return
        order = self._session.outline.index
        here = order[self._writing.caret.measure]
        after = (c for c in found if order[c.measure] > here)
        self.go_to(next(after, found[0]))

    def go_to(self, clash: Clash) -> None:
        """Put the caret on the last note of a spot."""
        self._writing.go_to(clash.measure, 0, clash.notes[-1] if clash.notes else 0)
        self._messages.note(f"{clash.words} {clash.way_out}".strip())


def _same_music(one: Measure, other: Measure | None) -> bool:
    """Whether two versions of a measure differ in nothing but who decided a label."""
    return other is not None and _undecided(one) == _undecided(other)


def _undecided(measure: Measure) -> Measure:
    def plain(event: Event) -> Event:
        return structs.replace(event, notes=tuple(_plain(note) for note in event.notes))

    return map_events(measure, plain)


def _plain(note: Note) -> Note:
    place = note.place and Label(note.place.value)
    finger = note.finger and Label(note.finger.value)
    return structs.replace(note, place=place, finger=finger)


def _has_suggestions(measure: Measure) -> bool:
    return any(note.finger is not None and not note.finger.firm for _, note in walk.notes(measure))
