"""The rows of the table of actions for suggesting fingers and weighing them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from app.actions import Action, Focus
from app.hand_side import HandSide
from app.sheet.view import SheetView


def hand_rows(hand: HandSide, sheet: SheetView) -> Iterator[Action]:
    """The actions of the menu Finger that ask the worker."""
    suggesting, weighing = hand.suggesting, hand.weighing
    rows: tuple[tuple[str, str, str, Callable[[], object], int], ...] = (
        ("suggest", "Suggest fingers for the measure, or what is selected", "Shift+F",
         suggesting.here, 2),
        ("suggest-fingers", "Suggest fingers only, places stay", "",
         partial(suggesting.here, "places"), 2),
        ("suggest-places", "Suggest places only, fingers stay", "",
         partial(suggesting.here, "fingers"), 2),
        ("next-way", "Next way to finger it", "Shift+W", weighing.next_way, 3),
        ("why-not", "Why not another finger here?", "Shift+Y",
         partial(sheet.await_figure, weighing.why_not), 3),
        ("next-clash", "Next spot that cannot be played", "Shift+N", suggesting.next_clash, 3),
    )  # fmt: skip
    for name, title, key, run, group in rows:
        yield Action(name, title, (key,) if key else (), Focus.SHEET, run, "Finger", group)
    yield Action("suggest-piece", "Suggest fingers for the whole piece", ("Ctrl+Shift+F",),
                 Focus.ANYWHERE, suggesting.whole, "Finger", 2)  # fmt: skip
    yield Action("stop-suggesting", "Stop working out fingers", ("Ctrl+.",), Focus.ANYWHERE,
                 suggesting.stop, "Finger", 4, lambda: suggesting.busy)  # fmt: skip
    yield Action("follow", "Suggestions beside it follow what is typed", (), Focus.ANYWHERE,
                 lambda: suggesting.set_follows(not suggesting.follows), "Finger", 4,
                 ticked=lambda: suggesting.follows)  # fmt: skip
    yield Action("level", "Level and hand …", ("Ctrl+L",), Focus.ANYWHERE, hand.show_level,
                 "Finger", 4)  # fmt: skip
