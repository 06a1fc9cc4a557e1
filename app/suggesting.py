"""Suggesting places and fingers: when the worker is asked, and how its answers land.

Answers amend the lesson as suggested labels. What the teacher set is never touched; an answer for
measures that changed meanwhile is not taken, and the question is asked again.
"""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct, structs
from PySide6.QtCore import QObject, Signal

from app.jobs import Worker
from app.landing import Landing
from app.messages import Messages
from app.selecting import Selecting
from app.session import OPENED, Session
from app.thinking.questions import Clash, Fingering, Fingers
from app.writing import Writing
from core.edit.base import map_events
from core.edit.change import Change
from core.hand.music import Keep
from core.model import Brief, Event, Label, Lesson, Measure, Note, walk

BESIDE = 1  # measures on each side of an edit whose suggestions may follow it
FIRST = 2  # measures on each side of the caret's that are worked out first
STEP = "suggested fingers"
MOST_FOLLOWED = 4  # an edit of more measures than this waits for the teacher to ask


class Next(Struct, frozen=True):
    """A question to be asked later, and its step."""

    question: Fingers
    step: str = ""


class _Asked(Struct, frozen=True):
    """A question under way: the measures it is about as they were, what to do with its answer.

    `step` is the label of the step it makes in the history; empty: the answer amends the lesson
    without one. `then` is what is asked when it has landed, one after another.
    """

    question: Fingers
    measures: tuple[Measure, ...]
    brief: Brief
    step: str = ""
    then: tuple[Next, ...] = ()


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
        self.landing = Landing(session, writing)
        self._landed: tuple[_Asked, Fingering] | None = None  # what is being written
        self.landing.done.connect(self._written)
        self.landing.told.connect(self.told)
        self.landing.overtaken.connect(self._overtaken_in_landing)
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
    def busy(self) -> bool:
        """Whether fingers are being worked out."""
        return bool(self._open) or self._landed is not None

    def scope(self) -> frozenset[int]:
        """The measures that are selected; the caret's where none is."""
        order = self._session.outline.index
        first, last = self._selecting.measures
        row = self._session.outline.measures[order[first] : order[last] + 1]
        return frozenset(measure.id for measure in row)

    def here(self, keep: Keep = "") -> None:
        """Suggest places and fingers for what is selected, or for the measure at the caret."""
        scope = self.scope()
        more, then = self._overtaken()
        rest = frozenset(more) - scope
        if rest:
            then = (Next(Fingers(rest)), *then)
        self.landing.forget()
        self._ask(Next(Fingers(scope, keep), STEP), then)

    def whole(self, keep: Keep = "") -> None:
        """Suggest them for the whole piece, the caret's neighbourhood first."""
        self._whole(STEP, keep)

    def came_in(self) -> None:
        """A score was opened: suggest for all of it, without a step in the history."""
        if any(True for m in self._session.outline.measures for _ in walk.notes(m)):
            self._whole("", "")

    def _whole(self, step: str, keep: Keep) -> None:
        self._cancel()
        self._long = True
        self.began.emit("Working out the fingers")
        near = self._near([self._writing.caret.measure], FIRST)
        # Equal measures alike take as many searches as there are of them: that comes last.
        rest = (Next(Fingers(None, keep), step), Next(Fingers(None, keep, alike=True), step))
        self._ask(Next(Fingers(near, keep), step), rest)

    def stop(self) -> None:
        """Give up what is being worked out; what has landed stays."""
        self._cancel()
        self._messages.note("Stopped; what was suggested so far stays.")

    def _cancel(self) -> None:
        for serial in self._open:
            self._worker.stop(serial)
        self._open.clear()
        self._leave_landing()
        self.landing.forget()
        self._finish()

    def _leave_landing(self) -> _Asked | None:
        """Write no further parts; whose they were."""
        landed, self._landed = self._landed, None
        self.landing.stop()
        return landed[0] if landed is not None else None

    def _finish(self) -> None:
        if self._long and not self.busy:
            self._long = False
            self.ended.emit()

    def _ask(self, wanted: Next, then: tuple[Next, ...] = ()) -> None:
        question, measures = wanted.question, self._session.outline.measures
        if question.measures is not None:
            measures = tuple(m for m in measures if m.id in question.measures)
        serial = self._worker.ask(self._session.lesson, question)
        brief = self._session.lesson.brief
        self._open[serial] = _Asked(question, measures, brief, wanted.step, then)

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
            self._keep_clashes(answer, asked.measures)
            self._landed = (asked, answer)
            self.landing.begin(answer, asked.measures, asked.step)
        self._finish()

    def _written(self) -> None:
        """An answer is in the lesson, all of it."""
        landed, self._landed = self._landed, None
        if landed is None:
            return
        asked, answer = landed
        self.changed.emit()
        whole = asked.question.measures is None
        if (asked.step or whole) and not asked.then:
            self._messages.note(self._summary(answer, whole))
        if asked.then:
            self._ask(asked.then[0], asked.then[1:])
        self._finish()

    def _overtaken_in_landing(self) -> None:
        asked = self._leave_landing()
        if asked is not None:
            self._again(asked)

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
            calm = asked.question.calm & frozenset(present)
            question = structs.replace(asked.question, measures=wanted, calm=calm)
            self._ask(Next(question, asked.step), asked.then)
        elif asked.then:
            self._ask(asked.then[0], asked.then[1:])

    def show(self, answer: Fingering, asked: tuple[Measure, ...], step: str, again: bool) -> None:
        """Write what the teacher chose to see: a step of its own, or (`again`) part of the one
        made here last. Those measures do not follow edits beside them until they are edited."""
        self._keep_clashes(answer, asked)
        amend = again and self._session.lesson is self.landing.made
        self.landing.at_once(answer, asked, step, amend)
        for measure in asked:
            found = self._session.outline.measure(measure.id)
            if found is not None:
                self._chosen[measure.id] = found
        self.changed.emit()

    def _keep_clashes(self, answer: Fingering, asked: tuple[Measure, ...]) -> None:
        for measure in asked:
            self._clashes.pop(measure.id, None)
        for clash in answer.clashes:
            self._clashes[clash.measure] = (*self._clashes.get(clash.measure, ()), clash)

    def _summary(self, answer: Fingering, whole: bool) -> str:
        if not (answer.places or answer.fingers or answer.clashes):
            return "Nothing here is open: what is set stays as it is."
        asked = "the whole piece" if whole else "what was asked for"
        number = len(self.clashes if whole else answer.clashes)
        if number == 0:
            return f"Fingers are suggested for {asked}; Return keeps the one at the caret."
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

    def _session_changed(self, change: Change, initiator: object) -> None:
        before, self._seen = self._seen, self._session.lesson
        if OPENED in change.fields:
            self._cancel()
            self._chosen, self._clashes = {}, {}
            self.changed.emit()
        elif self._session.cause == "undo or redo":
            self._give_commands_up()
        elif self._session.cause == "edit" and initiator is not self.landing:
            self._edited(change, before)

    def _give_commands_up(self) -> None:
        """What was asked for by a key and is taken back must not come again."""
        if self._landed is not None and self._landed[0].step:
            self._leave_landing()
        for serial, asked in list(self._open.items()):
            if asked.step or any(later.step for later in asked.then):
                self._worker.stop(serial)
                del self._open[serial]
        self._finish()

    def _edited(self, change: Change, before: Lesson) -> None:
        touched = (*change.replaced, *change.inserted)
        if self._follows and 0 < len(touched) <= MOST_FOLLOWED:
            self._follow(touched, before)
        elif self._follows and not touched and "arrangement.spans" in change.fields:
            self._follow_spans(before)
        waiting = {m for asked in self._open.values() for m in asked.question.measures or touched}
        stale = [m for m in touched if m in self._clashes and m not in waiting]
        for measure in stale:
            del self._clashes[measure]
        if stale:
            self.changed.emit()

    def _follow_spans(self, before: Lesson) -> None:
        """A barre was marked, changed or taken away: its measures follow."""
        one, other = (set(a.arrangement.spans) for a in (before, self._session.lesson))
        ends = {
            end for span in one ^ other if span.kind == "barre" for end in (span.start, span.end)
        }
        homes = {
            name: measure.id
            for measure in self._session.outline.measures if ends
            for located in walk.events(measure)
            for name in (located.event.id, *(note.id for note in located.event.notes))
        }  # fmt: skip
        found = frozenset(homes[end] for end in ends if end in homes)
        if 0 < len(found) <= MOST_FOLLOWED and self._follows:
            self._resolve(tuple(found))

    def _follow(self, touched: tuple[int, ...], before: Lesson) -> None:
        known = {m.id: m for m in walk.measures(before.arrangement)}
        outline = self._session.outline
        if not all(m in known and _same_music(known[m], outline.measure(m)) for m in touched):
            self._resolve(touched)

    def _resolve(self, touched: tuple[int, ...]) -> None:
        """Suggest anew in these measures and beside them, where suggestions stand."""
        outline = self._session.outline
        window = {m for m in self._near(touched, BESIDE) if not self._is_held(m, touched)}
        more, then = self._overtaken()
        window |= more
        rows = (outline.measure(m) for m in window)
        if any(row is not None and _has_suggestions(row) for row in rows):
            calm = frozenset(window - set(touched))
            self._ask(Next(Fingers(frozenset(window), calm=calm)), then)
        elif then:
            self._ask(then[0], then[1:])

    def _overtaken(self) -> tuple[set[int], tuple[Next, ...]]:
        """Give up what an edit has made stale: the measures it was about, and long work to be
        begun again afterwards. What was asked for some measures by a key comes by itself."""
        measures: set[int] = set()
        then: tuple[Next, ...] = ()
        landed = self._leave_landing()
        if landed is not None:
            then = (Next(landed.question, landed.step), *landed.then)
        for serial, asked in list(self._open.items()):
            wanted = asked.question.measures
            if wanted is not None and asked.step and not asked.then:
                continue
            self._worker.stop(serial)
            del self._open[serial]
            if wanted is None:
                then = (Next(asked.question, asked.step), *asked.then)
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
