"""Every way to finger a small passage, one after the other: written apart from the search.

Takes its rules and prices from their words, with plain tuples and loops; shares no code with the
search but the names of the features and the value types of its input.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import product
from math import hypot

from core.hand.anatomy import Reach
from core.hand.passage import Passage

PAIRS = [(1, 2), (1, 3), (1, 4), (2, 3), (2, 4), (3, 4)]
EASE = {(1, 2): 36, (1, 3): 70, (1, 4): 99, (2, 3): 36, (2, 4): 68, (3, 4): 34}
UNPLACED, UNPLACED_HIGH, RELEASED = 1e7, 9e6, 1e4
GONE = None


def fingers_of(spots) -> dict[int, list]:
    table: dict[int, list] = {}
    for spot in spots:
        if spot is not GONE and spot[2] in (1, 2, 3, 4) and spot[1] > 0:
            table.setdefault(spot[2], []).append(spot)
    return table


def shape_ok(spots, reach: Reach, barre: bool) -> bool:
    real = [s for s in spots if s is not GONE]
    if len({s[0] for s in real}) < len(real):
        return False
    if sum(s[2] == 5 for s in real) > 1:
        return False
    table = fingers_of(real)
    for finger, held in table.items():
        if len(held) > 1:
            if finger != 1 or not (reach.barre or barre) or len({s[1] for s in held}) > 1:
                return False
            thick = max(s[0] for s in held)
            if any(s[1] == 0 and s[0] < thick for s in real):
                return False
    for number, (low, high) in enumerate(PAIRS):
        for a, b in product(table.get(low, []), table.get(high, [])):
            along = reach.frets_mm[b[1]] - reach.frets_mm[a[1]]
            across = (b[0] - a[0]) * reach.string_mm
            limit = reach.spans_mm[number]
            if a[1] > b[1] or along > limit or hypot(along, across) > 1.2 * limit:
                return False
    return True


def position_ok(spots, position: int) -> bool:
    held = [s for row in fingers_of(spots).values() for s in row]
    offsets = [(s[2], s[1] - (position + s[2] - 1)) for s in held]
    if any(not LOWEST[k] <= d <= 1 for k, d in offsets):
        return False
    return not held or position == 1 or any(d == 0 for _, d in offsets)


LOWEST = {1: -1, 2: -1, 3: -2, 4: -2}


def pressing(gap: float) -> float:
    return 0.75 if gap >= 1.5 else 1.0 if gap >= 0.75 else 1.5 if gap >= 0.375 else 2.0


def own_features(spots, struck, position: int, reach: Reach) -> Counter:
    count: Counter = Counter()
    for spot in (s for s, new in zip(spots, struck, strict=True) if new and s is not GONE):
        string, fret, finger = spot
        count["open"] += fret == 0
        part = "treble" if string <= 2 else "middle" if string <= 4 else "bass"
        count[f"open {part}"] += fret == 0
        count["position"] += position - 1
        count["open away"] += fret == 0 and position >= 3
        if position > 1:
            count[f"at {min(9, position)}"] += 1
        if 1 <= finger <= 4 and fret > 0:
            count["height"] += fret - 1
            count[f"finger {finger}"] += 1
            count[f"chord {finger}"] += sum(struck) > 1
            count[f"bass {finger}"] += (string - 1) / (reach.strings - 1)
            offset = fret - position - finger + 1
            if offset:
                count[f"frame {finger} {offset:+d}"] += 1
            if fret <= 5:
                count[f"habit {finger} {part} {fret}"] += 1
    table = fingers_of(spots)
    count["barre held"] += len(table.get(1, [])) > 1
    for low, high in PAIRS:
        if low in table and high in table:
            a, b = table[low], table[high]
            name, frets = f"{low}{high}", b[0][1] - a[0][1]
            mm = reach.frets_mm[b[0][1]] - reach.frets_mm[a[0][1]]
            count[f"wide {name}"] += max(0.0, mm - EASE[low, high])
            count[f"close {name}"] += max(0, high - low - frets)
            count[f"inverted {name}"] += frets == 0 and max(s[0] for s in a) < b[0][0]
            nearest = min(
                abs(b[0][0] - string)
                for string in range(min(s[0] for s in a), max(s[0] for s in a) + 1)
            )
            count[f"spread {name}"] += max(0, nearest - 1)
    return count


def step_features(before, after, p: int, q: int, gap: float) -> Counter:
    count: Counter = Counter()
    press = pressing(gap)
    old, new = fingers_of(before), fingers_of(after)
    for k, held in new.items():
        to = (min(s[0] for s in held), max(s[0] for s in held), held[0][1])
        was = None
        if k in old:
            was = (min(s[0] for s in old[k]), max(s[0] for s in old[k]), old[k][0][1])
        touching = was is not None and was[0] <= to[1] and to[0] <= was[1]
        if was is None:
            count[f"place {k}"] += 1
        elif was == to:
            count[f"stay {k}"] += 1
        elif was[2] == to[2]:
            if touching:
                count["roll"] += press
            else:
                count[f"side {k}"] += press
        elif touching:
            count["slide"] += press
            count[f"slide {k}"] += press
            count["slide fret"] += press * abs(was[2] - to[2])
        else:
            count[f"hop {k}"] += press
        if to[1] > to[0] and was != to:
            count["barre"] += 1
            count["barre string"] += to[1] - to[0] - 1
    count.update(follow_features(old, new, press))
    if p != q:
        count["shift"] += press
        count["shift fret"] += press * abs(q - p)
        count["downward"] += press * max(0, p - q)
        count["free shift"] += press * (not old)
    return count


def follow_features(old: dict, new: dict, press: float) -> Counter:
    count: Counter = Counter()
    for k, held in old.items():
        for other, taken in new.items():
            if k != other and len(held) == len(taken) == 1 and held[0][:2] == taken[0][:2]:
                count["exchange"] += 1
            if k < other:
                wider = (taken[0][1] - held[0][1]) - (other - k)
            else:
                wider = (held[0][1] - taken[0][1]) - (k - other)
            if k != other:
                count[f"near {k}{other}"] += press * min(3, max(0, -wider))
                count[f"far {k}{other}"] += press * min(3, max(0, wider))
    return count


def reached(new, before: dict, reach: Reach) -> bool:
    """Whether what is struck above the usual frets comes after open strings, or by a finger that
    lies on string 1."""
    if reach.usual is None:
        return True
    down = fingers_of(before.values())
    if not down:
        return True
    high = [s for s in new if s is not GONE and s[1] > reach.usual[0]]
    return all(any(was[0] == 1 for was in down.get(s[2], [])) for s in high)


def options(passage: Passage, number: int, before: dict, reach: Reach, soft: bool) -> Iterator:
    """(spots by tone, position, releases, price of what is left out) after the state `before`."""
    onset = passage.onsets[number]
    here = [(i, t) for i, t in enumerate(passage.tones) if t.first <= number <= max(t.last, t.keep)]
    rows = []
    for index, tone in here:
        menu = [
            tuple(s) for s in tone.menu
            if s[0] <= reach.strings and s[1] < len(reach.frets_mm)
            and (s[2] in (0, 5) or s[2] <= reach.fingers)
        ]  # fmt: skip
        if tone.first == number:
            row = [*menu, *([GONE] if soft else [])]
        elif number <= tone.last:
            row = [before[index]] if before[index] is GONE or not soft else [before[index], GONE]
        else:
            held = before[index]
            row = [GONE] if held is GONE or held[2] not in (1, 2, 3, 4) else [held, GONE]
        rows.append(row)
    for chosen in product(*rows):
        if not shape_ok(chosen, reach, onset.barre):
            continue
        sounding = sum(
            spot is not GONE and number <= tone.last
            for (_, tone), spot in zip(here, chosen, strict=True)
        )
        if onset.most is not None and sounding > onset.most:
            continue
        spots = {index: spot for (index, _), spot in zip(here, chosen, strict=True)}
        unplaced = sum(
            UNPLACED_HIGH if t.menu and reach.usual and all(s[1] > reach.usual[0] for s in t.menu)
            else UNPLACED
            for i, t in here if t.first == number and spots[i] is GONE
        )  # fmt: skip
        released = sum(
            t.first < number <= t.last and spots[i] is GONE and before[i] is not GONE
            for i, t in here
        )
        new = [s for (_, t), s in zip(here, chosen, strict=True) if t.first == number]
        if number and not onset.rest and not reached(new, before, reach):
            continue
        top = reach.highest_position
        if reach.usual is not None and not any(s and s[1] > reach.usual[0] for s in chosen):
            top = min(top, reach.usual[1])
        for position in range(1, top + 1):
            if onset.position in (None, position) and position_ok(chosen, position):
                yield spots, position, released, unplaced


def ways(passage: Passage, reach: Reach, weights: dict[str, float], soft=()) -> list:
    """(cost, struck spots, features, dearest single move) of every way, unsorted."""
    soft = soft or (False,) * len(passage.onsets)
    found: list = []

    def walk(number, before, p, cost, struck, features, worst):
        if number == len(passage.onsets):
            found.append((cost, struck, features, worst))
            return
        for spots, q, released, unplaced in options(passage, number, before, reach, soft[number]):
            new = [passage.tones[i].first == number for i in spots]
            own = own_features(list(spots.values()), new, q, reach)
            if number:
                gap = passage.onsets[number].gap
                moved = step_features(list(before.values()), list(spots.values()), p, q, gap)
                own.update(moved)
            price = sum(weights[name] * times for name, times in own.items())
            price += RELEASED * released + unplaced
            mine = {i: s for i, s in spots.items() if passage.tones[i].first == number}
            added = Counter(features)
            added.update(own)
            walk(number + 1, spots, q, cost + price, struck | mine, added, max(worst, price))

    walk(0, {}, 1, 0.0, {}, Counter(), float("-inf"))
    return found
