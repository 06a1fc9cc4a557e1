"""What is still to decide: the questions of the job, each with its open places. No Qt here."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from app.caret import needs_finger
from core.model import Lesson, Measure, walk


class Spot(Struct, frozen=True):
    """An open place: a measure and a moment in it; `note` is the note meant, 0 for none."""

    measure: int
    onset: int = 0
    note: int = 0


class Question(Struct, frozen=True):
    """One line of the job card: `key` names its panel, `state` is the count in words."""

    key: str
    title: str
    state: str
    open: int
    spots: tuple[Spot, ...] = ()


class MeasureFacts(Struct, frozen=True):
    """What one measure leaves open. `short` and `over` are true for any of its used voices."""

    unplaced: tuple[Spot, ...]
    unfingered: tuple[Spot, ...]
    short: bool
    over: bool


def measure_facts(measure: Measure, carried: frozenset[int]) -> MeasureFacts:
    """Look at one measure; `carried` holds the ids of its notes that a tie leads into."""
    unplaced, unfingered = [], []
    for at, note in walk.notes(measure):
        spot = Spot(measure.id, at.onset, note.id)
        if note.place is None:
            unplaced.append(spot)
        elif needs_finger(note) and note.id not in carried:
            unfingered.append(spot)
    filled = [measure.filled_ticks(v) for v, row in enumerate(measure.voices) if row or v == 0]
    return MeasureFacts(
        tuple(unplaced),
        tuple(unfingered),
        any(ticks < measure.ticks for ticks in filled),
        any(ticks > measure.ticks for ticks in filled),
    )


class Facts:
    """The facts of every measure, kept from one snapshot to the next by identity."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Measure, frozenset[int], MeasureFacts]] = {}

    def of(self, measures: Iterable[Measure]) -> list[MeasureFacts]:
        """Facts in written order; only measures that are new or newly tied into are looked at."""
        kept, found = {}, []
        tied: dict[int, frozenset[int]] = {}
        for measure in measures:
            carried, tied = _carried(measure, tied)
            known = self._kept.get(measure.id)
            if known is None or known[0] is not measure or known[1] != carried:
                known = (measure, carried, measure_facts(measure, carried))
            kept[measure.id] = known
            found.append(known[2])
        self._kept = kept
        return found


def _carried(
    measure: Measure, tied: dict[int, frozenset[int]]
) -> tuple[frozenset[int], dict[int, frozenset[int]]]:
    """Ids of the notes tied into; and, by voice, the pitches the measure ties over its barline."""
    into: set[int] = set()
    out: dict[int, frozenset[int]] = {}
    for voice, row in enumerate(measure.voices):
        coming = tied.get(voice, frozenset())
        for event in row:
            if event.grace is not None:
                continue
            into.update(n.id for n in event.notes if n.pitch.midi in coming)
            coming = frozenset(n.pitch.midi for n in event.notes if n.tied)
        out[voice] = coming
    return frozenset(into), out


def questions(lesson: Lesson, facts: list[MeasureFacts]) -> tuple[Question, ...]:
    """The lines of the job card, in the order the work is usually done."""
    return (
        _credit(lesson),
        _notes(lesson, facts),
        _places(facts),
        _fingers(facts),
        _form(lesson),
    )


def counted(count: int, one: str, many: str = "") -> str:
    """``1 note``, ``3 notes``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def _credit(lesson: Lesson) -> Question:
    empty = [
        word
        for word, text in (("title", lesson.title), ("credit", lesson.source.credit))
        if not text.strip()
    ]
    return Question(
        "credit",
        "Credit and story",
        " and ".join(empty) + " empty" if empty else "done",
        len(empty),
    )


def _notes(lesson: Lesson, facts: list[MeasureFacts]) -> Question:
    measures = list(walk.measures(lesson.arrangement))
    short = sum(f.short for f in facts)
    over = sum(f.over for f in facts)
    parts = [counted(short, "measure") + " short"] if short else []
    parts += [(f"{over}" if short else counted(over, "measure")) + " over"] if over else []
    spots = tuple(Spot(m.id) for m, f in zip(measures, facts, strict=True) if f.short or f.over)
    return Question("notes", "Notes", ", ".join(parts) or "done", len(spots), spots)


def _places(facts: list[MeasureFacts]) -> Question:
    spots = tuple(spot for f in facts for spot in f.unplaced)
    state = f"{len(spots)} unplaced" if spots else "done"
    return Question("places", "Places", state, len(spots), spots)


def _fingers(facts: list[MeasureFacts]) -> Question:
    spots = tuple(spot for f in facts for spot in f.unfingered)
    state = f"{len(spots)} undecided" if spots else "done"
    return Question("fingers", "Fingers", state, len(spots), spots)


def _form(lesson: Lesson) -> Question:
    sections = lesson.arrangement.sections
    bare = [s for s in sections if not s.letter and not s.title and s.measures]
    spots = tuple(Spot(s.measures[0].id) for s in bare)
    state = counted(len(spots), "section") + " unnamed" if spots else "done"
    return Question("form", "Form", state, len(spots), spots)


def next_spot(
    question: Question, order: dict[int, int], measure: int, onset: int, note: int = 0
) -> Spot | None:
    """The first open place after a moment, and from the start again when there is none.

    `order` gives the position of each measure id; `note` is the note just looked at, so that the
    others struck with it come next.
    """
    spots = question.spots
    if not spots:
        return None
    notes = [spot.note for spot in spots]
    if note and note in notes:
        return spots[(notes.index(note) + 1) % len(spots)]
    here = (order.get(measure, -1), onset)
    after = (s for s in spots if (order.get(s.measure, -1), s.onset) > here)
    return next(after, spots[0])
