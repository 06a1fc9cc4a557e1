"""Random keys on the sheet: no exception, no Qt warning, the validator always content."""

from __future__ import annotations

import random

import pytest

from app.actions import Focus
from core.model.validate import problems

NOT_PRESSED = {"Space", "Shift+Space"}  # these would open the sound output

ANSWERS = ("1", "2", "0", "1-2", "3-1", "6/8", "3/4 Am", "D minor", "1/8", "5:4", "7:x", "", "nine")


def keys_of_the_sheet(bench):
    wanted = (Focus.SHEET, Focus.TAB, Focus.STAFF)
    rows = [a for a in bench.table.actions if a.focus in wanted]
    keys = [key for a in rows for key in a.keys if key not in NOT_PRESSED]
    # Undo is pressed often; sections are begun rarely, as that takes the focus to their fields.
    return [k for k in keys if k != "G"] + ["Ctrl+Z"] * 4 + ["Ctrl+Shift+Z"] * 2


def answer(bench, chance: random.Random) -> None:
    """Answer what was asked, well or badly; Escape leaves what was refused."""
    bench.type(chance.choice(ANSWERS))
    bench.press("Return")
    if not bench.sheet.hasFocus():
        bench.press("Escape")


def run(bench, seed: int, presses: int) -> None:
    chance = random.Random(seed)
    keys = keys_of_the_sheet(bench)
    before = bench.lesson()
    pressed = []
    for _ in range(presses):
        key = chance.choice(keys)
        pressed.append(key)
        bench.press(key)
        if not bench.sheet.hasFocus():
            answer(bench, chance)
        found = problems(bench.lesson())
        assert not found, (found, pressed[-8:])
        assert bench.sheet.hasFocus()
        assert bench.writing.caret.measure in bench.session.outline.index, pressed[-8:]
    while bench.session.history.done:
        bench.press("Ctrl+Z")
    assert bench.lesson() == before


@pytest.mark.parametrize("seed", [1, 2])
def test_two_hundred_random_keys(bench, seed):
    run(bench, seed, 200)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10, 15))
def test_two_thousand_random_keys(bench, seed):
    run(bench, seed, 2000)
