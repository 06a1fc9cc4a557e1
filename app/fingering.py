"""``footstool finger``: suggest places and fingers for a whole piece."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from time import perf_counter
from typing import Literal

from app.commands import known_suffix, opened, written
from app.sentences import plain
from core.hand.fingering import Solved, Terms, Workshop, solve, suggested
from core.hand.levels import LEVELS, hand_from_text
from core.hand.other_ways import twins_alike
from core.hand.report import document
from core.hand.writing import with_suggestions
from core.model import BadInput, Lesson, walk


def finger(
    source: Path,
    target: Path,
    level: int | None,
    keep: Literal["", "places", "fingers", "all"],
    spans: str,
    as_json: bool,
) -> bool:
    """Write the lesson of a file with suggested places and fingers; False where some of it cannot
    be played, which is told on stderr (or in the JSON)."""
    known_suffix(target)
    hand = hand_from_text(spans) if spans else None
    lesson = opened(source)
    contract = lesson.brief.level if level is None else LEVELS[level]
    terms = Terms(contract, hand or lesson.brief.hand, lesson.brief.age, keep=keep)
    start = perf_counter()
    solved = _solved(lesson, terms)
    took = perf_counter() - start
    found = suggested(solved)
    written(with_suggestions(lesson, found), target)
    told = document(solved, lesson.arrangement, took)
    if as_json:
        json.dump(told, sys.stdout, indent=1)
        print()
    else:
        _tell(told)
    return not (told["unplayable"] or told["released"] or told["unplaced"])


def _solved(lesson: Lesson, terms: Terms) -> Solved:
    workshop = Workshop()
    solved = solve(lesson.arrangement, terms, workshop)
    if solved is None:
        raise BadInput("There are no notes to finger; enter the melody first.")
    return twins_alike(solved, lesson.arrangement, workshop)


def _tell(told: dict[str, object]) -> None:
    print(f"{told['onsets']} onsets fingered in {told['seconds']} s.")
    spots, released = told["unplayable"], told["released"]
    assert isinstance(spots, list)
    assert isinstance(released, list)
    for spot in spots:
        print(plain(f"{walk.called(spot['measure'])}: {spot['text']}."), file=sys.stderr)
    for row in released:
        text = f"rings {row['quarters']:g} of its {row['written']:g} quarters"
        print(plain(f"{walk.called(row['measure'])}: a note {text}."), file=sys.stderr)
