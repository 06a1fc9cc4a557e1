"""What the finger command says of what cannot be played."""

from __future__ import annotations

from core.hand.fingering import Terms, solve
from core.hand.levels import LEVELS
from core.hand.report import document
from tests import build


def told(*measures: str, level: int = 1) -> dict:
    arrangement = build.lesson(measures).arrangement
    solved = solve(arrangement, Terms(LEVELS[level]))
    assert solved is not None
    return document(solved, arrangement, 0.0)


def test_a_pin_that_cannot_be_met_is_named_with_its_note() -> None:
    found = told("C4s2f1!3:half E4:half | E3!2:half G3:half")
    (spot,) = found["unplayable"]
    assert spot["text"] == "no hand can have together: C4 with finger 3, E3 with finger 2"
    assert spot["measure"] == 1
    assert [pin["pin"] for pin in spot["pins"]] == ["finger", "finger"]
    assert {pin["note"] for pin in spot["pins"]} == set(spot["notes"])
    assert found["unplaced"] == 1


def test_more_notes_than_the_level_allows() -> None:
    music = "C4+G3+E3+C3:whole"
    (spot,) = told(music)["unplayable"]
    assert spot["text"].startswith("more than the 3 notes at once of the level: ")
    assert len(spot["notes"]) == 4
    assert told(music, level=2)["unplayable"] == []


def test_the_cost_is_that_of_the_features_alone() -> None:
    found = told("r:half F2:quarter r:quarter | A4:whole")
    assert found["released"]
    assert abs(found["cost"] - sum(found["by_feature"].values())) < 1e-5
    assert found["cost"] < 100
