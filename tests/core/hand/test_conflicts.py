"""What clashes is named exactly: the set is impossible, and possible without any one member.

Possible and impossible are judged by the brute force, on passages made here from the words of the
demands; nothing of the search decides.
"""

from __future__ import annotations

from random import Random

import pytest
from msgspec import structs

from core.hand.conflicts import Conflict, Demand, conflicts
from core.hand.fingering import Solved, Terms, solve
from core.hand.other_ways import conflicts as of_old
from core.hand.passage import Onset, Passage, Spot, Tone
from core.hand.report import words
from core.model import Barre, Length, LevelContract, Pitch, PositionMark, Span
from tests import build
from tests.core.hand import brute

NECK = LevelContract(level=3, highest_fret=7, highest_position=5, most_notes=6, barre=True)
VALUES = ("quarter", "half", "half.")


def playable(passage: Passage, solved: Solved) -> bool:
    """Whether there is any way, by the brute force: depth first, dead ends remembered."""
    dead: set = set()

    def goes_on(number: int, before: dict) -> bool:
        if number == len(passage.onsets):
            return True
        key = number, tuple(sorted(before.items()))
        if key in dead:
            return False
        tried: list[dict] = []
        for spots, _, _, _ in brute.options(passage, number, before, solved.reach, False):
            if spots not in tried:
                tried.append(spots)
                if goes_on(number + 1, spots):
                    return True
        dead.add(key)
        return False

    return goes_on(0, {})


def made(solved: Solved, demands: frozenset[Demand], last: int) -> Passage:
    """The passage in which only these demands are made, put together from the lesson's notes."""
    instrument = solved.task.terms.limits.instrument
    task, tones = solved.task, []
    for index, (tone, stroke) in enumerate(zip(task.passage.tones, task.strokes, strict=True)):
        if Demand("stroke", index) not in demands:
            continue
        note = stroke.sounds[0].first
        places = instrument.places(note.pitch.midi, task.terms.limits.highest_fret)
        if note.place is not None and Demand("place", index) in demands:
            places = (note.place.value,)
        fingers = range(1, task.terms.fingers + 1)
        pinned = note.finger is not None and Demand("finger", index) in demands
        spots = [Spot(p.string, p.fret, f) for p in places for f in (fingers if p.fret else (0,))]
        if pinned:
            spots = [s for s in spots if str(s.finger) == note.finger.value]
        for number, mark in enumerate(task.pinned.barres):
            if Demand("barre", number) in demands and mark.first <= stroke.start[0] <= mark.last:
                covered = range(mark.thin, mark.thick + 1)
                spots = [
                    s for s in spots
                    if (s.finger == 1) == (s.fret == mark.fret and s.string in covered)
                    and not (s.string in covered and s.fret < mark.fret)
                ]  # fmt: skip
        rings = min(tone.last, last) if Demand("hold", index) in demands else tone.first
        tones.append(Tone(tuple(spots), tone.first, rings))
    onsets = [
        Onset(o.gap, o.position if Demand("position", n) in demands else None, o.barre, o.most)
        for n, o in enumerate(task.passage.onsets[: last + 1])
    ]
    return Passage(tuple(onsets), tuple(tones))


def check(solved: Solved, found: Conflict) -> None:
    demands = found.demands()
    assert not playable(made(solved, demands, found.onset), solved), words(found, solved)
    for demand in demands:
        rest = made(solved, demands - {demand}, found.onset)
        assert playable(rest, solved), (words(found, solved), demand)


def note(random: Random, low: int, high: int, instrument) -> str:
    midi = random.randint(low, high)
    text = str(Pitch.from_midi(midi))
    places = instrument.places(midi, NECK.highest_fret)
    place = random.choice(places) if places and random.random() < 0.35 else None
    if place is not None:
        text += str(place)
    if random.random() < 0.35:
        text += f"!{random.choice('1234') if place is None or place.fret else '0'}"
    return text


def puzzle(seed: int) -> Solved | None:
    """Two voices with random pins; now and then a position numeral or a barre mark."""
    random = Random(seed)
    instrument = build.lesson(["r:quarter"]).arrangement.instrument
    upper = " ".join(
        "+".join(note(random, 55, 72, instrument) for _ in range(random.choice([1, 1, 2])))
        + f":{random.choice(VALUES)}"
        for _ in range(random.choice([1, 2, 2]))
    )
    lower = f"{note(random, 40, 54, instrument)}:{random.choice(VALUES)}"
    lesson = build.lesson([f"{upper} | {lower}"])
    measure = lesson.arrangement.sections[0].measures[0]
    if random.random() < 0.25:
        mark = PositionMark(random.randint(1, 5), Length(0))
        section = structs.replace(
            lesson.arrangement.sections[0], measures=(structs.replace(measure, marks=(mark,)),)
        )
        lesson = structs.replace(
            lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
        )
    if random.random() < 0.25:
        start, end = measure.voices[0][0].id, measure.voices[0][-1].id
        span = Span(99, "barre", start, end, barre=Barre(random.randint(1, 3), 3))
        lesson = structs.replace(
            lesson, arrangement=structs.replace(lesson.arrangement, spans=(span,))
        )
    most = random.choice([6, 6, 2])
    return solve(lesson.arrangement, Terms(structs.replace(NECK, most_notes=most)))


def judged(seeds: range) -> dict[str, int]:
    """Checks every conflict of the puzzles; counts the kinds of members."""
    counts = dict.fromkeys(("conflicts", *Conflict._fields[1:]), 0)
    for seed in seeds:
        solved = puzzle(seed)
        assert solved is not None
        for found in conflicts(solved):
            check(solved, found)
            counts["conflicts"] += 1
            for name in Conflict._fields[1:]:
                counts[name] += bool(getattr(found, name))
    return counts


def test_every_conflict_is_minimal() -> None:
    counts = judged(range(120))
    assert counts["conflicts"] >= 30
    assert all(counts.values()), counts


@pytest.mark.long
def test_every_conflict_of_two_thousand_puzzles_is_minimal() -> None:
    counts = judged(range(1000, 3000))
    assert counts["conflicts"] >= 500
    assert min(counts.values()) >= 20, counts


def told(*measures: str) -> list[str]:
    solved = solve(build.lesson(measures).arrangement)
    assert solved is not None
    return [words(found, solved) for found in conflicts(solved)]


def test_a_pin_is_named_only_where_it_takes_part() -> None:
    """Two notes, two pins: one of them alone is to blame, and the string pin is not."""
    assert told("C4s2f1!3:half | E3!2:half") == [
        "no hand can have together: C4 with finger 3, E3 with finger 2"
    ]
    assert told("F#4s1f2!2:half | r:quarter A3!2:quarter") == [
        "no hand can have together: F#4 with finger 2 held, A3 with finger 2"
    ]
    assert told("D4s3f7:half | G3:half") == []
    assert told("A2s6f5:half | F2:half") == [
        "no hand can have together: A2 on string 6, fret 5, F2"
    ]
    assert told("C5:half") == ["no hand can play C5 within the level"]


def test_the_same_function_under_its_former_name() -> None:
    assert of_old is conflicts
