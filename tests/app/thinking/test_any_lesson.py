"""Whatever the lesson: every question is answered or refused in a sentence, and answers fit."""

from __future__ import annotations

from random import Random

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from app.thinking.mind import Mind
from app.thinking.questions import (
    Fingering,
    Fingers,
    OtherWays,
    PriceList,
    Prices,
    Question,
    WhyNot,
)
from core.edit import Suggest
from core.model import BadInput, Lesson, walk
from core.model.validate import problems
from tests import strategies

# Lessons are large: shrinking one takes minutes and tells little more.
few = settings(
    max_examples=10, deadline=None, suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)  # fmt: skip


def quiet(_words: str) -> None:
    pass


def asked(mind: Mind, question: Question) -> object:
    """The answer, or the sentence of the refusal."""
    try:
        return mind.answer(question, quiet)
    except BadInput as refusal:
        return str(refusal)


def written(lesson: Lesson, found: Fingering, measures) -> Lesson:
    return Suggest(
        found.places, found.fingers, found.solver, tuple(measures), frozenset(found.unplaced),
        found.barres,
    ).amend(lesson)  # fmt: skip


@few
@given(strategies.lessons(), st.randoms(use_true_random=False))
def test_every_question_is_answered(lesson: Lesson, random: Random) -> None:
    measures = list(walk.measures(lesson.arrangement))
    mind = Mind()
    mind.learn(lesson)
    whole = mind.answer(Fingers(alike=True), quiet)
    assert isinstance(whole, Fingering)
    suggested = written(lesson, whole, measures)
    assert problems(suggested) == []
    assert written(suggested, whole, list(walk.measures(suggested.arrangement))) is suggested
    mind.learn(suggested)
    measure = random.choice(measures)
    window = frozenset({measure.id})
    part = mind.answer(Fingers(window, calm=window), quiet)
    assert isinstance(part, Fingering)
    inside = {note.id for _, note in walk.notes(measure)}
    assert {*part.places, *part.fingers} <= inside
    assert all(clash.words.endswith(".") for clash in (*whole.clashes, *part.clashes))
    for way in getattr(asked(mind, OtherWays(window)), "rows", ()):
        assert way.words
        other = written(suggested, way.fingering, walk.measures(suggested.arrangement))
        assert problems(other) == []


@few
@given(strategies.lessons(), st.randoms(use_true_random=False))
def test_every_note_can_be_asked_about(lesson: Lesson, random: Random) -> None:
    mind = Mind()
    mind.learn(lesson)
    rows = [(m, n) for m in walk.measures(lesson.arrangement) for _, n in walk.notes(m)]
    if not rows:
        return
    measure, note = random.choice(rows)
    prices = asked(mind, Prices(measure.id, note.id))
    if isinstance(prices, PriceList) and prices.rows:
        assert prices.rows[0].more >= 0, "above 0 where it is easiest to leave the note out"
        costs = [row.more for row in prices.rows]
        assert costs == sorted(costs)
    for finger in range(5):
        told = asked(mind, WhyNot(measure.id, note.id, finger))
        words = told if isinstance(told, str) else told.words  # type: ignore[attr-defined]
        assert words.endswith(".")
