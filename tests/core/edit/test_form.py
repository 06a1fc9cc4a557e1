"""Sections, endings, signs."""

from __future__ import annotations

import pytest

from core.edit import (
    AddSpan,
    JoinSection,
    MoveSection,
    RemoveEnding,
    SetEnding,
    SetSection,
    SetSign,
    SplitSection,
)
from core.model import Ending, Lesson, Section, Sign, Span
from core.model.roadmap import played
from tests import build
from tests.core.edit.kit import do, event, ids, measure, refused

AB = build.lesson(["C4:whole", "D4:whole", "E4:whole", "F4:whole"], ["G4:whole"])
A, B = AB.arrangement.sections


def section(of: Lesson, index: int = 0) -> Section:
    return of.arrangement.sections[index]


def test_letter_title_and_times() -> None:
    done = do(SetSection(A.id, letter=" V ", title="Verse", times=2), AB)
    assert (section(done).letter, section(done).title, section(done).times) == ("V", "Verse", 2)
    assert do(SetSection(A.id, times=1), AB) is AB
    assert len(played(do(SetSection(A.id, times=3), AB).arrangement)) == 13


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (SetSection(A.id, times=0), "1 to 99 times, not 0"),
        (SetSection(A.id, times=100), "1 to 99 times, not 100"),
        (SetSection(A.id, letter="Verse"), "at most four characters"),
        (SetSection(999, letter="X"), "no longer there"),
    ],
)
def test_what_no_section_can_be(command: SetSection, why: str) -> None:
    assert why in refused(command, AB)


def test_a_piece_without_end_is_refused() -> None:
    long = build.lesson(["r:whole"] * 300)
    sentence = refused(SetSection(section(long).id, times=99), long)
    assert sentence == "The piece would play more than 20000 measures; repeat less or cut it."


def test_splitting_and_joining_sections() -> None:
    done = do(SplitSection(ids(AB)[2], "C", "Bridge"), AB)
    assert [(s.letter, len(s.measures)) for s in done.arrangement.sections] == [
        ("A", 2), ("C", 2), ("B", 1),
    ]  # fmt: skip
    joined = do(JoinSection(section(done, 1).id), done)
    assert joined == AB
    assert "begins already" in refused(SplitSection(ids(AB)[0]), AB)
    assert "There is no section before section A" in refused(JoinSection(A.id), AB)


def test_splitting_keeps_the_times_and_parts_the_endings() -> None:
    one = do(SetEnding(A.id, ids(AB)[2], ids(AB)[2], (1,)), AB)
    one = do(SetEnding(A.id, ids(AB)[3], ids(AB)[3], (2,)), one)
    done = do(SplitSection(ids(AB)[2]), one)
    assert [s.times for s in done.arrangement.sections] == [2, 2, 1]
    assert [len(s.endings) for s in done.arrangement.sections] == [0, 2, 0]
    long = do(SetEnding(A.id, ids(AB)[2], ids(AB)[3], (1,)), AB)
    assert "an ending would be torn" in refused(SplitSection(ids(AB)[3]), long)
    sentence = refused(JoinSection(B.id), one)
    assert sentence.startswith("Section A and section B are played differently often")


def test_endings() -> None:
    first = do(SetEnding(A.id, ids(AB)[2], ids(AB)[2], (1,)), AB)
    both = do(SetEnding(A.id, ids(AB)[3], ids(AB)[3], (2,), closed=False), first)
    assert section(both).times == 2
    assert section(both).endings == (
        Ending((1,), ids(AB)[2], ids(AB)[2]),
        Ending((2,), ids(AB)[3], ids(AB)[3], closed=False),
    )
    order = [ids(AB).index(o.measure.id) for o in played(both.arrangement)]
    assert order == [0, 1, 2, 0, 1, 3, 4]
    # A new ending takes the place of those it overlaps.
    wide = do(SetEnding(A.id, ids(AB)[2], ids(AB)[3], (2,)), both)
    assert len(section(wide).endings) == 1
    # Fewer times: endings that are never played go.
    once = do(SetSection(A.id, times=1), both)
    assert section(once).endings == (Ending((1,), ids(AB)[2], ids(AB)[2]),)
    assert len(section(do(RemoveEnding(A.id, ids(AB)[2]), both)).endings) == 1


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (
            SetEnding(A.id, ids(AB)[0], ids(AB)[4], (1,)),
            "one section; choose both its measures in section A",
        ),
        (SetEnding(A.id, ids(AB)[1], ids(AB)[0], (1,)), "would end before it begins"),
        (SetEnding(A.id, ids(AB)[1], ids(AB)[1], ()), "passes between 1 and 99"),
        (SetEnding(A.id, ids(AB)[1], ids(AB)[1], (0,)), "passes between 1 and 99"),
        (RemoveEnding(A.id, ids(AB)[1]), "No ending of section A begins there"),
    ],
)
def test_what_no_ending_can_be(command: SetEnding | RemoveEnding, why: str) -> None:
    assert why in refused(command, AB)


def test_signs_of_the_road_map() -> None:
    last = ids(AB)[4]
    done = do(SetSign(ids(AB)[1], "fine"), do(SetSign(last, "dc al fine"), AB))
    order = [ids(AB).index(o.measure.id) for o in played(done.arrangement)]
    assert order == [0, 1, 2, 3, 4, 0, 1]
    other = do(SetSign(last, "ds", text="D.S. last time only"), done)
    assert measure(other, 4).signs == (Sign("ds", "D.S. last time only"),)
    assert do(SetSign(ids(AB)[1], "fine", on=False), done) != done
    assert do(SetSign(ids(AB)[0], "fine", on=False), done) is done
    assert "is no sign" in refused(SetSign(last, "da capo"), AB)


def test_moving_a_section() -> None:
    done = do(MoveSection(B.id, 0), AB)
    assert [s.letter for s in done.arrangement.sections] == ["B", "A"]
    assert "There are 2 sections; section B cannot stand further on" in refused(
        MoveSection(B.id, 2), AB
    )
    slurred = do(AddSpan(Span(0, "phrase", event(AB, 0, 3).id, event(AB, 0, 4).id)), AB)
    assert "reaches out of section B" in refused(MoveSection(B.id, 0), slurred)
