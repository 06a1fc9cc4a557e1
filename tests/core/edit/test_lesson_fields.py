"""What is said about the piece."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from core.edit import (
    AddWaiver,
    Command,
    RemoveWaiver,
    SetBrief,
    SetClef,
    SetCredit,
    SetMainKey,
    SetSettings,
    SetSourceCard,
    SetSources,
    SetTempo,
    SetTitle,
)
from core.model import (
    Brief,
    HandProfile,
    Key,
    Lesson,
    LevelContract,
    Measure,
    Metre,
    Settings,
    Source,
    SourceCard,
    SourcePart,
    Tempo,
    Value,
    Waiver,
)
from tests.core.edit.kit import do, ids, lesson, refused

ONE = lesson("C4:whole")
CARD = SourceCard("Nobody", "arranged for Ada", "1871")
TEMPO = Tempo(Value.parse("quarter."), 54.0)
BRIEF = Brief("Ada", 9, "hold the bass", 20.0, HandProfile({"14": 90.0}), LevelContract(2))

EFFECTS: list[tuple[Command, Callable[[Lesson], object], object]] = [
    (SetTitle(" A song "), lambda x: x.title, "A song"),
    (SetSourceCard(CARD), lambda x: x.source, CARD),
    (SetCredit("trad."), lambda x: x.source.credit, "trad."),
    (SetBrief(BRIEF), lambda x: x.brief, BRIEF),
    (SetSettings(Settings(50, "tab")), lambda x: x.settings, Settings(50, "tab")),
    (SetTempo(TEMPO), lambda x: x.arrangement.tempo, TEMPO),
    (SetMainKey(Key(2)), lambda x: x.arrangement.key, Key(2)),
    (SetClef(shows_octave=False), lambda x: x.arrangement.clef_shows_octave, False),
]


@pytest.mark.parametrize(("command", "look", "value"), EFFECTS, ids=lambda x: type(x).__name__)
def test_effects(command: Command, look: Callable[[Lesson], object], value: object) -> None:
    done = do(command, ONE)
    assert look(done) == value
    assert do(command, done) is done
    assert done.arrangement.sections is ONE.arrangement.sections


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (SetBrief(Brief(age=1)), "2 to 120 years"),
        (SetBrief(Brief(minutes=float("nan"))), "at most 600 minutes"),
        (SetBrief(Brief(hand=HandProfile({"12": 0.0}))), "1 to 300 mm"),
        (SetBrief(Brief(level=LevelContract(fingers=5))), "1 to 4 fingers"),
        (SetBrief(Brief(level=LevelContract(notes_per_second=0.0))), "30 notes a second"),
        (SetSettings(Settings(5)), "10 to 200 percent"),
        (AddWaiver(Waiver("L6", 999, "so")), "no longer there"),
        (AddWaiver(Waiver("L6", ids(ONE)[0], " ")), "needs a reason"),
        (RemoveWaiver("L6", ids(ONE)[0]), "no longer there"),
        (SetSources((Source("duet", (), melody=0),)), "has no part 1"),
    ],
)
def test_refusals(command: Command, why: str) -> None:
    assert why in refused(command, ONE)


def test_waivers_are_one_for_a_rule_and_a_measure() -> None:
    first = do(AddWaiver(Waiver("L6", ids(ONE)[0], "she can")), ONE)
    second = do(AddWaiver(Waiver("L6", ids(ONE)[0], "he can too")), first)
    assert [waiver.reason for waiver in second.waivers] == ["he can too"]
    assert do(RemoveWaiver("L6", ids(ONE)[0]), second) == ONE


def test_sources_get_ids_of_their_own() -> None:
    measure = Measure(1, Metre.parse("3/4"), Key(0))
    done = do(SetSources((Source("duet", (SourcePart("Canto", (measure,)),), melody=0),)), ONE)
    assert done.sources[0].parts[0].measures[0].id == ONE.next_id
    assert done.next_id == ONE.next_id + 1
    assert do(SetSources(done.sources), done) is done
