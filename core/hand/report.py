"""A fingering in words and figures: what the command line prints."""

from __future__ import annotations

from typing import Any

from core.hand.fingering import Solved, by_feature, releases
from core.hand.other_ways import Conflict, conflicts
from core.hand.states import RELEASED, UNPLACED
from core.model import Arrangement, walk

FORMAT = "footstool.finger/1"


def spots(solved: Solved, arrangement: Arrangement) -> list[dict[str, Any]]:
    """The places where the music cannot be played as written: measure, notes, and why."""
    numbers = walk.numbers(arrangement)
    return [_spot(conflict, solved, numbers) for conflict in conflicts(solved)]


def _spot(conflict: Conflict, solved: Solved, numbers: dict[int, int]) -> dict[str, Any]:
    strokes = solved.task.strokes
    involved = sorted({*conflict.holds, *conflict.strokes})
    tick = solved.task.moments[conflict.onset][0]
    measures = [m for i in involved for m in strokes[i].sounds[0].measures]
    struck = [str(strokes[i].sounds[0].first.pitch) for i in conflict.strokes]
    held = [str(strokes[i].sounds[0].first.pitch) for i in conflict.holds]
    words = [*(f"{name} held" for name in held), *struck]
    return {
        "measure": numbers.get(measures[-1], 0) if measures else 0,
        "tick": tick,
        "notes": [strokes[i].sounds[0].first.id for i in involved],
        "text": "no hand can have together: " + ", ".join(words),
    }


def document(solved: Solved, arrangement: Arrangement, seconds: float) -> dict[str, Any]:
    """The JSON of ``footstool finger --json``."""
    released = releases(solved)
    unplaced = sum(spot is None for spot in solved.spots)
    numbers = walk.numbers(arrangement)
    return {
        "format": FORMAT,
        "onsets": len(solved.task.passage.onsets),
        "cost": round(solved.cost - RELEASED * len(released) - UNPLACED * unplaced, 6),
        "by_feature": {name: round(cost, 6) for name, cost in by_feature(solved).items()},
        "unplayable": spots(solved, arrangement),
        "released": [
            {"note": r.note, "measure": numbers[r.measure], "quarters": r.quarters,
             "written": r.written}
            for r in released
        ],
        "unplaced": unplaced,
        "seconds": round(seconds, 3),
    }  # fmt: skip
