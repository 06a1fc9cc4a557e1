"""Other ways a teacher would call different, the reason against a choice, and equal measures."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

import numpy as np
from msgspec import structs

from core.hand import ways
from core.hand.anatomy import Reach
from core.hand.conflicts import Conflict, conflicts
from core.hand.features import INDEX, NAMES, SENTENCES
from core.hand.fingering import (
    Solved,
    Terms,
    Workshop,
    by_feature,
    otherwise,
    releases,
    solve_task,
    tone_of,
)
from core.hand.music import Task
from core.hand.passage import Spot
from core.hand.search import NoWay
from core.hand.states import RELEASED
from core.model import Arrangement

__all__ = ["Conflict", "Difference", "Facts", "OtherWay", "conflicts", "difference", "facts",
           "other_ways", "twins_alike", "why_not"]  # fmt: skip
MOVE_DEARER = 20.0


class Facts(NamedTuple):
    """What a fingering asks of the hand, in a teacher's words and units."""

    stretch_mm: float
    moves: int
    leaps: int
    placed: int
    kept: int
    barres: int
    released: int

    def words(self) -> str:
        """One line: ``2 moves of the hand, 12 mm of stretch, 5 fingers kept``."""
        parts = [
            f"{self.moves} move{'s' * (self.moves != 1)} of the hand",
            f"{self.leaps} leap{'s' * (self.leaps != 1)} of a finger",
            f"{self.stretch_mm:.0f} mm of stretch",
            f"{self.kept} finger{'s' * (self.kept != 1)} kept",
        ]
        if self.barres:
            parts.append(f"{self.barres} barre{'s' * (self.barres != 1)}")
        if self.released:
            parts.append(f"{self.released} note{'s' * (self.released != 1)} cut short")
        return ", ".join(parts)


class OtherWay(NamedTuple):
    """A fingering under a named restriction: how much dearer it is, and what it asks."""

    name: str
    solved: Solved
    more: float
    facts: Facts


def facts(solved: Solved) -> Facts:
    """What the way of a solution asks of the hand."""
    rows = ways.features(solved.lattice, solved.way)
    counted = {name: rows[:, INDEX[name]] for name in NAMES}

    def times(prefix: str) -> int:
        return int(sum((counted[n] > 0).sum() for n in NAMES if n.split()[0] == prefix))

    wide = sum(column.sum() for name, column in counted.items() if name.startswith("wide"))
    return Facts(
        stretch_mm=float(wide),
        moves=int((counted["shift"] > 0).sum()),
        leaps=times("hop") + times("side"),
        placed=times("place"),
        kept=times("stay"),
        barres=int((counted["barre"] > 0).sum()),
        released=len(releases(solved)),
    )


def other_ways(solved: Solved, workshop: Workshop | None = None) -> list[OtherWay]:
    """The named restrictions that lead to another playable fingering, cheapest first.

    A way that is the same as the first in every string and finger, or that can only be played by
    letting more notes go, is left out.
    """
    found = []
    seen = {solved.spots}
    for name, terms, reach, task in _restricted(solved):
        try:
            other = solve_task(task, terms, reach, workshop)
        except NoWay:
            continue  # a mark in the music asks for just what the restriction forbids
        same_prices = terms.weights == solved.terms.weights
        price = other.cost if same_prices else _priced_as(other, solved)
        if other.spots in seen or price > solved.cost + RELEASED / 2:
            continue
        seen.add(other.spots)
        found.append(OtherWay(name, other, price - solved.cost, facts(other)))
    return sorted(found, key=lambda way: way.more)


def _restricted(solved: Solved) -> Iterator[tuple[str, Terms, Reach, Task]]:
    terms, reach, task = solved.terms, solved.reach, solved.task
    yield "without barre", terms, structs.replace(reach, barre=False), task
    yield "stay in first position", terms, structs.replace(reach, highest_position=1), task
    yield "no fourth finger", terms, structs.replace(reach, fingers=min(3, reach.fingers)), task
    dearer = list(terms.weights)
    for name in NAMES:
        if name.split()[0] in ("shift", "hop", "side", "slide") and not name.endswith("fret"):
            dearer[INDEX[name]] += MOVE_DEARER
    yield "fewest moves", structs.replace(terms, weights=tuple(dearer)), reach, task
    yield "keep the bass ringing", structs.replace(terms, bass_rings=True), reach, task
    yield "easiest worst move", structs.replace(terms, hardest_first=True), reach, task


def _priced_as(other: Solved, solved: Solved) -> float:
    """What a way found with other weights costs with the first's."""
    counts = ways.features(other.lattice, other.way).sum(axis=0)
    plain = other.cost - float(counts @ np.array(other.terms.weights))
    return plain + float(counts @ np.array(solved.terms.weights))


class Difference(NamedTuple):
    """What another choice would cost: altogether, and by feature (dearest first).

    `playable` is False where it could only be had by letting notes go.
    """

    playable: bool
    more: float
    by_feature: tuple[tuple[str, float], ...]

    def words(self) -> str:
        """Why not: the three things that weigh most."""
        if not self.playable:
            return "It cannot be held together with the notes that ring."
        told = [f"{SENTENCES[name]} ({more:+.1f})" for name, more in self.by_feature[:3]]
        return f"It costs {self.more:.1f} more: {'; '.join(told)}."


def why_not(
    solved: Solved, note: int, wanted: Collection[Spot], workshop: Workshop | None = None
) -> Difference:
    """The difference it makes to play a note in one of the wanted ways.

    Raises KeyError when the note is not struck in the passage.
    """
    return difference(solved, otherwise(solved, {tone_of(solved, note): wanted}, workshop))


def difference(solved: Solved, other: Solved) -> Difference:
    """How much dearer another solution of the same passage is, and by what."""
    mine, theirs = by_feature(solved), by_feature(other)
    rows = {name: theirs.get(name, 0.0) - mine.get(name, 0.0) for name in {*mine, *theirs}}
    told = sorted((row for row in rows.items() if abs(row[1]) > 1e-9), key=lambda r: -r[1])
    more = other.cost - solved.cost
    return Difference(more < RELEASED / 2, more, tuple(told))


def twins_alike(
    solved: Solved, arrangement: Arrangement, workshop: Workshop, most_more: float = 0.5
) -> Solved:
    """Equal measures fingered alike where that costs little.

    A later measure with the notes of an earlier one is held to the earlier one's strings and
    fingers where the passage then costs at most `most_more` more; every solution is exact.
    """
    for first, twin in _twins(solved, arrangement):
        wanted = {
            b: [spot]
            for a, b in zip(first, twin, strict=True)
            if (spot := solved.spots[a]) is not None and spot != solved.spots[b]
        }
        if wanted:
            other = otherwise(solved, wanted, workshop)
            if other.cost <= solved.cost + most_more:
                solved = other
    return solved


def _twins(solved: Solved, arrangement: Arrangement) -> Iterator[tuple[list[int], list[int]]]:
    """Pairs of equal lists of tones: those of a measure and those of an earlier equal one."""
    by_measure: dict[int, list[int]] = {}
    for index, stroke in enumerate(solved.task.strokes):
        by_measure.setdefault(stroke.sounds[0].measures[0], []).append(index)
    known: dict[object, list[int]] = {}
    moments = solved.task.moments
    for section in arrangement.sections:
        for measure in section.measures:
            tones = by_measure.get(measure.id, [])
            if tones:
                strokes = [solved.task.strokes[i] for i in tones]
                start = moments[solved.task.passage.tones[tones[0]].first][0]
                key = tuple(
                    (s.midi, s.start[0] - start, s.start[1], s.end - start) for s in strokes
                )
                if key in known:
                    yield known[key], tones
                else:
                    known[key] = tones
