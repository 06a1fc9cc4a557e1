"""The red pen on the left hand: each rule on the smallest music that breaks it, and its agreement
with the search on chorales and dances."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.hand.fingering import Terms, solve, suggested
from core.hand.writing import with_suggestions
from core.insight.left_hand import check
from core.model import Barre, LevelContract, Span, walk
from tests import build
from tests.core.insight import corpus


def rules(*measures: str, level: int = 1, barre: Barre | None = None) -> list[str]:
    lesson = build.lesson(measures)
    arrangement = lesson.arrangement
    if barre is not None:
        first = arrangement.sections[0].measures[0].voices[0][0].id
        span = Span(lesson.next_id, "barre", first, first, barre=barre)
        arrangement = structs.replace(arrangement, spans=(span,))
    contract = LevelContract(level=level, highest_fret=5 if level == 1 else 12)
    return [f"{r.rule}{r.grade}" for r in check(arrangement, contract)]


@pytest.mark.parametrize(
    ("music", "wanted"),
    [
        ("C4s2f1!1:quarter", []),
        ("C4s2f2!1:quarter", ["L1E"]),
        ("C4s2f1!1+D4s2f3!3:quarter", ["L2E"]),
        ("C4s2f1!1+F3s4f3!1:quarter", ["L3E"]),
        ("C4s2f1!2+Eb3s4f1!2:quarter", ["L4E"]),
        ("C4s2f1!3+E3s4f2!2:quarter", ["L5E"]),
        ("A3s3f2!3+E3s4f2!2:quarter", []),
        ("A3s3f2!2+E3s4f2!3:quarter", ["L5W"]),
        ("A4s1f5!4+F2s6f1!1:quarter", ["L6E"]),
        ("r:quarter C4s2f1!1:quarter | F3s4f3!1:half", ["L15E"]),
        ("r:quarter D3s4f0!0:quarter | E3s4f2!2:half", ["L16E"]),
        ("E4s1f0!1:quarter", ["L23E"]),
        ("F4s1f1!0:quarter", ["L23E"]),
        ("D4s3f7!4:quarter", ["L25E"]),
        ("E4s1f0!0:quarter B4s1f7!4:quarter", []),
        ("D4s2f3!4:quarter B4s1f7!4:quarter", ["L25E"]),
        ("A4:quarter", []),
        ("C6:quarter", ["L25E"]),
    ],
)
def test_each_rule_on_the_smallest_music(music: str, wanted: list[str]) -> None:
    assert rules(music) == wanted


def test_barres() -> None:
    small = "F4s1f1!1+C4s2f1!1:quarter"
    assert rules(small) == ["L20W", "L4E"]
    assert rules(small, barre=Barre(1, 2)) == ["L20W"]
    assert rules(small, level=2, barre=Barre(1, 2)) == []
    wide = "F4s1f1!1+C4s2f1!1+Ab3s3f1!1:quarter"
    assert rules(wide, barre=Barre(1, 3)) == ["L20E"]
    long = "F4s1f1!1+F2s6f1!1:whole"
    assert rules(long, level=2, barre=Barre(1, 6)) == ["L20E"]
    covered = "E4s1f0!0+C4s2f1!1+Ab3s3f1!1:quarter"
    assert "L21E" in rules(covered, level=2, barre=Barre(1, 3))
    assert "L22W" in rules(covered, level=2, barre=Barre(1, 2, lowest=3))


def test_a_pitch_struck_again_ends_its_older_sounding() -> None:
    assert rules("r:quarter C4s2f1!1:quarter | C4s2f1!2:half") == []


def agree(name: str, lesson) -> None:
    """No error where the search called the music playable; the same spots where it did not."""
    contract = LevelContract()
    solved = solve(lesson.arrangement, Terms(contract))
    assert solved is not None
    found = suggested(solved)
    fingered = with_suggestions(lesson, found).arrangement
    errors = [r for r in check(fingered, contract) if r.grade == "E"]
    named = {r.note for r in found.released} | set(found.unplaced)
    strange = [r for r in errors if named.isdisjoint(r.notes)]
    assert not strange, f"{name}: {strange[:2]}"
    told = {number for r in errors for number in r.notes}
    notes = {n.id: n for m in walk.measures(fingered) for _, n in walk.notes(m)}
    missed = [str(notes[number].pitch) for number in named - told]
    assert not missed, f"{name}: the checker sees nothing wrong with {missed}"


def test_checker_and_search_agree_on_a_chorale() -> None:
    pytest.importorskip("music21")
    agree(*corpus.chorale("bach/bwv66.6"))


@pytest.mark.long
def test_checker_and_search_agree_on_thirty_chorales_and_dances() -> None:
    pytest.importorskip("music21")
    pieces = corpus.lessons()
    assert len(pieces) == 30
    for name, lesson in pieces:
        agree(name, lesson)
