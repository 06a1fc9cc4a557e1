"""A fingering in words and figures: what the command line prints."""

from __future__ import annotations

from typing import Any

from core.hand.conflicts import Conflict, conflicts
from core.hand.fingering import Solved, by_feature, releases
from core.hand.music import given_finger
from core.hand.passage import THUMB
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
    measures = [m for i in involved for m in strokes[i].sounds[0].measures[:1]]
    pinned = [{"note": strokes[i].sounds[0].first.id, "pin": "place"} for i in conflict.places]
    pinned += [{"note": strokes[i].sounds[0].first.id, "pin": "finger"} for i in conflict.fingers]
    return {
        "measure": numbers.get(measures[-1], 0) if measures else 0,
        "tick": tick,
        "notes": [strokes[i].sounds[0].first.id for i in involved],
        "pins": pinned,
        "text": words(conflict, solved),
    }


def words(conflict: Conflict, solved: Solved) -> str:
    """What clashes, in words: every note with the pin that takes part."""
    listed = [_called(i, conflict, solved) for i in (*conflict.holds, *conflict.strokes)]
    for onset in conflict.positions:
        listed.append(f"position {solved.task.passage.onsets[onset].position}")
    for number in conflict.barres:
        listed.append(f"the barre at fret {solved.task.pinned.barres[number].fret}")
    if conflict.most is not None:
        return f"more than the {conflict.most} notes at once of the level: " + ", ".join(listed)
    if len(listed) == 1:
        return f"no hand can play {listed[0]} within the level"
    return "no hand can have together: " + ", ".join(listed)


def _called(tone: int, conflict: Conflict, solved: Solved) -> str:
    stroke = solved.task.strokes[tone]
    name = str(stroke.sounds[0].first.pitch)
    if tone in conflict.places and stroke.firm is not None:
        name += f" on string {stroke.firm.string}, fret {stroke.firm.fret}"
    if tone in conflict.fingers:
        finger = given_finger(stroke, solved.task.terms)
        name += " with the thumb" if finger == THUMB else f" with finger {finger}"
    return f"{name} held" if tone in conflict.holds else name


def document(solved: Solved, arrangement: Arrangement, seconds: float) -> dict[str, Any]:
    """The JSON of ``footstool finger --json``."""
    counted = by_feature(solved)
    numbers = walk.numbers(arrangement)
    return {
        "format": FORMAT,
        "onsets": len(solved.task.passage.onsets),
        "cost": round(sum(counted.values()), 6),
        "by_feature": {name: round(cost, 6) for name, cost in counted.items()},
        "unplayable": spots(solved, arrangement),
        "released": [
            {"note": r.note, "measure": numbers[r.measure], "quarters": r.quarters,
             "written": r.written}
            for r in releases(solved)
        ],
        "unplaced": sum(spot is None for spot in solved.spots),
        "seconds": round(seconds, 3),
    }  # fmt: skip
