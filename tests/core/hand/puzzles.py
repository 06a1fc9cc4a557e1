"""Small random passages: held notes, kept fingers, barres, pins, limits."""

from __future__ import annotations

from random import Random

from core.hand.anatomy import SPAN_MOST_MM, Reach
from core.hand.features import NAMES
from core.hand.passage import Onset, Passage, Spot, Tone

OPEN = (64, 59, 55, 50, 45, 40)


def reach(random: Random) -> Reach:
    last = random.choice([3, 4, 5, 7, 8])
    factor = random.choice([0.8, 1.0, 1.0, 1.2])
    return Reach(
        strings=6,
        frets_mm=tuple(650 * (1 - 2 ** (-n / 12)) for n in range(last + 1)),
        string_mm=43 / 5,
        spans_mm=tuple(factor * mm for mm in SPAN_MOST_MM),
        highest_position=6 if last == 7 else random.randint(1, min(last, 4)),
        fingers=random.choice([3, 4, 4, 4]),
        barre=random.random() < 0.6,
        usual=(4, 2) if last == 7 else None,
    )


def menu(midi: int, hand: Reach) -> tuple[Spot, ...]:
    found = []
    for string, base in enumerate(OPEN, start=1):
        fret = midi - base
        if fret == 0:
            found.append(Spot(string, 0, 0))
        elif 0 < fret <= (hand.last_fret if string == 1 or not hand.usual else hand.usual[0]):
            found += [Spot(string, fret, finger) for finger in range(1, hand.fingers + 1)]
    return tuple(found)


def passage(random: Random, hand: Reach, onsets: int | None = None, most: int = 3) -> Passage:
    onsets = onsets or random.randint(2, 4)
    tones: list[Tone] = []
    last_by_pitch: dict[int, int] = {}
    for number in range(onsets):
        for midi in random.sample(range(40, 72), random.choice(range(1, most + 1))):
            spots = menu(midi, hand)
            if not spots:
                continue
            last = min(onsets - 1, number + random.choice([0, 0, 0, 1, 2]))
            if midi in last_by_pitch:
                index = last_by_pitch[midi]
                old = tones[index]
                ended = min(old.last, number - 1)
                keep = number - 1 if number - 1 > ended else -1
                tones[index] = Tone(old.menu, old.first, ended, keep)
            if random.random() < 0.2:
                spots = (random.choice(spots),)
            last_by_pitch[midi] = len(tones)
            tones.append(Tone(spots, number, last))
    gaps = [random.choice([0.25, 0.5, 1.0, 2.0]) for _ in range(onsets)]
    pins = [random.choice([None] * 9 + [1, 2]) for _ in range(onsets)]
    barres = [random.random() < 0.1 for _ in range(onsets)]
    most = [random.choice([None] * 5 + [2, 3]) for _ in range(onsets)]
    rests = [random.random() < 0.2 for _ in range(onsets)]
    rows = tuple(Onset(*row) for row in zip(gaps, pins, barres, most, rests, strict=True))
    return Passage(rows, tuple(tones))


def weights(random: Random) -> tuple[float, ...]:
    return tuple(random.choice([0.0, random.uniform(-0.3, 2.0)]) for _ in NAMES)
