"""The row of the table of actions that opens the sign line, and the list it offers."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from PySide6.QtWidgets import QWidget

from app.actions import Action, Focus
from app.panels.word_list import Offers
from app.signing import Signing
from app.signs.words import WORDS, hint
from app.window import Window

QUESTION = "Which sign, here or over what is selected?"
EXAMPLE = "as staccato, or chord Am x02310"


def offers() -> Offers:
    """Every sign word, how it is written and what it is; then how each is taken off."""
    rows = [
        (f"{word.name} " if word.example else word.name, f"{word.shown}  ·  {word.about}")
        for word in WORDS
    ]
    ways_off = {word.off: f"no {word.name}" for word in reversed(WORDS) if word.off is not None}
    rows += [(name, f"{name}  ·  takes it off") for name in reversed(list(ways_off.values()))]
    return Offers(tuple(rows), hint)


def sign_rows(signing: Signing, window: Window, sheet: QWidget) -> Iterator[Action]:
    """The action of the menu Note that asks for a sign."""
    asked = partial(window.answer.ask, QUESTION, EXAMPLE, signing.write, sheet, offers())
    yield Action("sign", "Another sign …", (";",), Focus.SHEET, asked, "Note", 2)
