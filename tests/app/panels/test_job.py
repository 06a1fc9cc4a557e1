"""The counts of the job card, computed from lessons."""

from __future__ import annotations

from msgspec import structs

from app.panels.job import Facts, Spot, next_spot, questions
from core.model import Section, SourceCard, walk
from tests import build


def states(lesson):
    facts = Facts().of(walk.measures(lesson.arrangement))
    return {q.key: (q.open, q.state) for q in questions(lesson, facts)}


def test_everything_open():
    lesson = build.lesson(["E4:quarter F4s1f1:quarter", "G4s1f3:whole A4s1f5:quarter"])
    bare = structs.replace(lesson.arrangement.sections[0], letter="")
    lesson = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(bare,)), title=" "
    )
    assert states(lesson) == {
        "credit": (2, "title and credit empty"),
        "notes": (2, "1 measure short, 1 over"),
        "places": (1, "1 unplaced"),
        "fingers": (3, "3 undecided"),
        "form": (1, "1 section unnamed"),
    }


def test_nothing_open():
    lesson = build.lesson(["E4s1f0:half F4s1f1!1:half~", "F4s1f1:whole"])
    lesson = structs.replace(lesson, source=SourceCard(credit="Trad."))
    assert {state for _, state in states(lesson).values()} == {"done"}


def test_an_unused_second_voice_is_not_short_but_a_begun_one_is():
    whole = build.lesson(["E4s1f0:whole | "])
    begun = build.lesson(["E4s1f0:whole | A2s5f0:half"])
    assert states(whole)["notes"] == (0, "done")
    assert states(begun)["notes"] == (1, "1 measure short")


def test_facts_are_kept_by_identity_and_follow_ties():
    lesson = build.lesson(["F4s1f1!1:whole~", "F4s1f1:whole"])
    facts = Facts()
    first = facts.of(walk.measures(lesson.arrangement))
    again = facts.of(walk.measures(lesson.arrangement))
    assert all(a is b for a, b in zip(first, again, strict=True))
    section = lesson.arrangement.sections[0]
    untied = build.measure("F4s1f1!1:whole", iter(range(50, 60)))
    changed = Section(section.id, (untied, section.measures[1]))
    after = facts.of(changed.measures)
    assert first[1].unfingered == ()
    assert [s.note for s in after[1].unfingered] == [section.measures[1].voices[0][0].notes[0].id]


def test_the_next_spot_goes_round():
    lesson = build.lesson(["F4s1f1+C5s2f13:whole", "E4s1f0:whole", "G4s1f3:whole"])
    facts = Facts().of(walk.measures(lesson.arrangement))
    fingers = next(q for q in questions(lesson, facts) if q.key == "fingers")
    ids = [m.id for m in walk.measures(lesson.arrangement)]
    order = {number: i for i, number in enumerate(ids)}
    first, second, third = fingers.spots
    assert next_spot(fingers, order, -1, -1) == first
    assert next_spot(fingers, order, ids[0], 0, note=first.note) == second
    assert next_spot(fingers, order, ids[0], 0, note=second.note) == third
    assert next_spot(fingers, order, ids[2], 0, note=third.note) == first
    assert next_spot(fingers, order, ids[1], 0) == Spot(ids[2], 0, third.note)
