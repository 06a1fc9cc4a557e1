"""What the worker knows and how it answers: the lesson as last told, and the fingering search."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import chain

from msgspec import structs

from app.thinking.questions import (
    Answer,
    Fingering,
    Fingers,
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
from app.thinking.telling import Names, clashes, dearer, hindered, spot_words, way_words
from core.edit.base import map_events
from core.edit.labels import pinned_event
from core.hand.fingering import (
    SOLVER,
    Solved,
    Terms,
    Workshop,
    otherwise,
    prices,
    solve,
    suggested,
    tone_of,
)
from core.hand.music import Keep
from core.hand.other_ways import difference, other_ways, twins_alike
from core.hand.sounding import heard
from core.hand.states import RELEASED, UNPLACED
from core.model import (
    Arrangement,
    BadInput,
    Event,
    Finger,
    Label,
    Lesson,
    Note,
    Origin,
    Place,
    walk,
)
from core.page.fingered import Shift, shift_of
from core.store.records import Record, play

AROUND = 2  # measures on each side of a note that may change when its price is asked
LITTLE = 1.0  # dearer than the easiest by no more: what stands is left as it is; house default
MOST_WAYS = 6  # other ways shown, the easiest among them
MOST_TRIED = 12  # notes and places tried for them
CONTEXT = 2  # measures beyond those asked for that are looked at: the search needs one
MOST_KEPT = 400  # questions after which what was kept for reuse is let go, to bound the memory

Tell = Callable[[str], None]


class Mind:
    """Answers questions about the lesson it was told."""

    def __init__(self) -> None:
        self._lesson: Lesson | None = None
        self._workshop = Workshop()
        self._answered = 0

    def learn(self, news: Lesson | Record) -> None:
        """Take a whole lesson, or what changed in the one known."""
        if isinstance(news, Lesson):
            self._lesson, self._workshop = news, Workshop()
        else:
            self._lesson = play(news, self._known())

    def _known(self) -> Lesson:
        if self._lesson is None:
            raise BadInput("There is no lesson to think about.")
        return self._lesson

    def answer(self, question: Question, tell: Tell) -> Answer:
        """Answer a question; raises FootstoolError with a sentence where there is no answer."""
        self._answered += 1
        if self._answered % MOST_KEPT == 0:
            self._workshop = Workshop()
        if isinstance(question, Fingers):
            return self._fingers(question, tell)
        if isinstance(question, Prices):
            return self._prices(question)
        if isinstance(question, WhyNot):
            return self._why_not(question)
        return self._other_ways(question)

    # ------------------------------------------------------------------ solving

    def _solve(
        self, arrangement: Arrangement, window: frozenset[int] | None, keep: Keep = ""
    ) -> Solved | None:
        brief = self._known().brief
        terms = Terms(brief.level, brief.hand, brief.age, window, keep)
        part = arrangement if window is None else excerpt(arrangement, window, CONTEXT)
        return solve(part, terms, self._workshop)

    def _names(self) -> Names:
        """What notes are called: under a capo as the staff shows them."""
        lesson = self._known()
        shift = Shift() if lesson.settings.sounding else shift_of(lesson.arrangement)
        return Names(lesson.arrangement, shift)

    def _fingers(self, question: Fingers, tell: Tell) -> Fingering:
        arrangement = self._known().arrangement
        solved = self._solve(arrangement, question.measures, question.keep)
        if solved is None:
            return Fingering()
        if question.calm:
            still = held(arrangement, question.calm)
            calm = self._solve(still, question.measures, question.keep)
            if calm is not None and calm.cost <= solved.cost + LITTLE:
                solved = calm
        if question.alike:
            tell("equal measures alike")
            solved = twins_alike(solved, arrangement, self._workshop)
        return fingering(solved, self._names())

    def _about(self, measure: int, note: int) -> tuple[Arrangement, Solved]:
        """The neighbourhood of a note, its own labels set free, and its solution."""
        arrangement = self._known().arrangement
        window = near(arrangement, measure, AROUND)
        free = freed(excerpt(arrangement, window, CONTEXT), note)
        solved = self._solve(free, window)
        if solved is None:
            raise BadInput("There is no note here to finger.")
        return free, solved

    def _prices(self, question: Prices) -> PriceList:
        _, solved = self._about(question.measure, question.note)
        now = _now(self._known().arrangement, question)
        try:
            found = prices(solved, question.note)
        except KeyError:
            return PriceList(question.note)
        rows = (
            Priced(p.spot, p.more, (*p.spot,) == now, p.more > RELEASED / 2)
            for p in found
            if p.more < UNPLACED / 2
        )
        return PriceList(question.note, tuple(rows))

    def _why_not(self, question: WhyNot) -> Reason:
        arrangement, solved = self._about(question.measure, question.note)
        try:
            tone = tone_of(solved, question.note)
        except KeyError:
            raise BadInput("There is nothing here for a finger to press.") from None
        wanted = [
            spot
            for spot in solved.task.passage.tones[tone].menu
            if spot.finger == question.finger
            and question.string in (0, spot.string)
            and (not question.string or question.fret == spot.fret)
        ]
        if wanted:
            other = otherwise(solved, {tone: wanted}, self._workshop)
            against = difference(solved, other)
            if against.playable:
                return Reason(question.note, dearer(solved, tone, question, other, against))
        held = freed(arrangement, question.note, _pin(question))
        best = self._solve(held, near(arrangement, question.measure, AROUND))
        return Reason(question.note, hindered(question, best, self._names()))

    def _other_ways(self, question: OtherWays) -> Ways:
        arrangement = self._known().arrangement
        solved = self._solve(arrangement, question.measures)
        if solved is None:
            return Ways()
        names = self._names()
        first = Way("the easiest", way_words(solved, names), 0.0, fingering(solved, names))
        rows = [first]
        named = ((w.name, w.solved, w.more) for w in other_ways(solved, self._workshop))
        for name, other, more in chain(named, self._by_one_note(solved)):
            found = fingering(other, names)
            told = [(row.fingering.places, row.fingering.fingers) for row in rows]
            if (found.places, found.fingers) not in told:
                rows.append(Way(name, way_words(other, names), more, found))
            if len(rows) == MOST_WAYS:
                break
        return Ways(tuple(rows))

    def _by_one_note(self, solved: Solved) -> Iterator[tuple[str, Solved, float]]:
        """The cheapest ways in which one note is played otherwise, everything else at its best."""
        choices, names = [], self._names()
        for tone, (stroke, free) in enumerate(
            zip(solved.task.strokes, solved.task.free, strict=True)
        ):
            first = stroke.sounds[0].first
            name = names.of(stroke)
            rows = prices(solved, first.id) if free else []
            choices += [(p.more, tone, p.spot, name) for p in rows if 0 < p.more < RELEASED / 2]
        for more, tone, spot, name in sorted(choices)[:MOST_TRIED]:
            other = otherwise(solved, {tone: [spot]}, self._workshop)
            yield f"{name} on {spot_words(spot)}", other, more


def fingering(solved: Solved, names: Names) -> Fingering:
    """A solution as labels, with what cannot be played told in words."""
    found = suggested(solved)
    told = clashes(solved, names, found.released)
    window = solved.terms.window
    inside = tuple(clash for clash in told if window is None or clash.measure in window)
    return Fingering(found.places, found.fingers, found.unplaced, inside, found.barres, SOLVER)


def near(arrangement: Arrangement, measure: int, around: int) -> frozenset[int]:
    """The measure and those beside it, `around` on each side."""
    order = [m.id for m in walk.measures(arrangement)]
    if measure not in order:
        raise BadInput("That measure is no longer there.")
    at = order.index(measure)
    return frozenset(order[max(0, at - around) : at + around + 1])


def excerpt(arrangement: Arrangement, measures: Collection[int], around: int) -> Arrangement:
    """Those measures with some on each side, as an arrangement of its own: what lies far from
    them has no part in the question, and the answer costs the same in a piece of any length."""
    order = [m.id for m in walk.measures(arrangement)]
    inside = [n for n, measure in enumerate(order) if measure in measures]
    wanted = {order[k] for n in inside for k in range(n - around, n + around + 1)
              if 0 <= k < len(order)}  # fmt: skip
    rows = (
        (section, tuple(m for m in section.measures if m.id in wanted))
        for section in arrangement.sections
    )
    sections = tuple(structs.replace(s, measures=row, endings=()) for s, row in rows if row)
    return structs.replace(arrangement, sections=sections)


def held(arrangement: Arrangement, measures: Collection[int]) -> Arrangement:
    """The arrangement with what is suggested in some measures made firm."""
    sections = tuple(
        structs.replace(
            section,
            measures=tuple(
                map_events(m, pinned_event) if m.id in measures else m for m in section.measures
            ),
        )
        for section in arrangement.sections
    )
    return structs.replace(arrangement, sections=sections)


def freed(
    arrangement: Arrangement, note: int, otherwise: Callable[[Note], Note] | None = None
) -> Arrangement:
    """The arrangement with a note (and those tied to it) open to other places and fingers, or
    changed `otherwise`."""
    change = otherwise or _open
    tied = {note}
    for sound in heard(arrangement):
        ids = {n.id for n in sound.notes}
        if note in ids:
            tied = ids
    sections = tuple(
        structs.replace(
            section,
            measures=tuple(
                structs.replace(m, voices=tuple(_freed(row, tied, change) for row in m.voices))
                if any(n.id in tied for _, n in walk.notes(m))
                else m
                for m in section.measures
            ),
        )
        for section in arrangement.sections
    )
    return structs.replace(arrangement, sections=sections)


def _freed(
    row: Iterable[Event], tied: set[int], change: Callable[[Note], Note]
) -> tuple[Event, ...]:
    return tuple(
        structs.replace(e, notes=tuple(change(n) if n.id in tied else n for n in e.notes))
        for e in row
    )


def _open(note: Note) -> Note:
    place = note.place and Label(note.place.value, Origin.SUGGESTED)
    finger = note.finger and Label(note.finger.value, Origin.SUGGESTED)
    return structs.replace(note, place=place, finger=finger)


def _pin(question: WhyNot) -> Callable[[Note], Note]:
    """Holds a note to what a question asks about."""

    def held(note: Note) -> Note:
        place = Label(Place(question.string, question.fret)) if question.string else None
        return structs.replace(note, place=place, finger=Label(Finger(str(question.finger))))

    return held


def _now(arrangement: Arrangement, question: Prices) -> tuple[int, int, int] | None:
    """String, fret and finger of the note as it is; None where one of them is open."""
    measure = next((m for m in walk.measures(arrangement) if m.id == question.measure), None)
    found = (n for _, n in walk.notes(measure) if n.id == question.note) if measure else iter(())
    note = next(found, None)
    if note is None or note.place is None:
        return None
    place = note.place.value
    if place.fret == 0:
        return (place.string, 0, 0)
    if note.finger is None or not note.finger.value.value.isdigit():
        return None
    return (place.string, place.fret, int(note.finger.value.value))
