"""Quick places, and the exact search: cold, after a pin, prices, a window, real pieces."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from msgspec import structs

from core.hand.anatomy import SPAN_MOST_MM, Reach
from core.hand.fingering import Terms, Workshop, narrowed, solve
from core.hand.lattice import Store
from core.hand.music import MOST_KEPT
from core.hand.passage import Onset, Passage, Spot, Tone
from core.hand.places import suggest
from core.hand.search import search
from core.hand.tables import Tables, tables
from core.hand.weights import FITTED
from core.model import LevelContract, walk
from tests import build
from tests.bench.fingered import editions
from tests.bench.music import long_lesson
from tests.bench.plain_hand import plain_cost
from tests.bench.row import Row, median, percentile, seconds

ONSETS = 1000
PLAIN_ONSETS = 40
OPEN = (64, 59, 55, 50, 45, 40)
WHOLE_NECK = Reach(
    6, tuple(650 * (1 - 2 ** (-n / 12)) for n in range(13)), 43 / 5, SPAN_MOST_MM, 9
)  # fmt: skip
SCALE = (0, 2, 4, 5, 7, 9, 11)


def melody_and_bass(onsets: int, seed: int = 1) -> Passage:
    """A melody that wanders by step and leap; a bass rings through four notes where it is an open
    string, else through two."""
    random = Random(seed)
    tones, line = [], 7
    for number in range(onsets):
        line = min(14, max(2, line + random.choice([-3, -2, -1, -1, 1, 1, 2, 3])))
        midi = 55 + 12 * (line // 7) + SCALE[line % 7]
        tones.append(Tone(_menu(midi), number, number))
        if number % 4 == 0:
            bass = random.choice([40, 41, 43, 45, 47, 48, 50])
            rings = 3 if bass in OPEN else 1
            tones.append(Tone(_menu(bass), number, min(number + rings, onsets - 1)))
    return Passage(tuple(Onset(0.5) for _ in range(onsets)), _kept(tones))


def _kept(tones: list[Tone]) -> tuple[Tone, ...]:
    """Fingers may stay for a pitch that comes back within eight onsets; the nearest ones do."""
    following: dict[object, int] = {}
    found = list(tones)
    room = [MOST_KEPT] * (max(t.last for t in tones) + 2)
    for index in range(len(tones) - 1, -1, -1):
        tone = tones[index]
        back = following.get(tone.menu)
        if back is not None and tone.last < back - 1 <= tone.last + 8:
            between = range(tone.last + 1, back)
            if all(room[n] for n in between):
                found[index] = structs.replace(tone, keep=back - 1)
                for n in between:
                    room[n] -= 1
        if back is not None and back <= tone.last:
            found[index] = structs.replace(tone, last=back - 1)
        following[tone.menu] = tone.first
    return tuple(found)


def _menu(midi: int) -> tuple[Spot, ...]:
    spots = []
    for string, base in enumerate(OPEN, start=1):
        if 0 <= midi - base <= WHOLE_NECK.last_fret:
            fingers = range(1, 5) if midi > base else (0,)
            spots += [Spot(string, midi - base, finger) for finger in fingers]
    return tuple(spots)


def rows() -> Iterator[Row]:
    row = "C4:quarter E4+G4:quarter D4:quarter F4:quarter | C3:half G2:half"
    arrangement = build.lesson([row] * (ONSETS // 4)).arrangement
    figure = 1e3 * median(lambda: suggest(arrangement), times=3)
    yield Row("hand.quick-places", f"{ONSETS} onsets", figure, "ms", 1000)
    made = 1e3 * seconds(lambda: Tables(WHOLE_NECK, _weights()))
    yield Row("hand.tables", "once a hand and neck", made, "ms")
    yield from _search()
    yield from _against_plain()
    yield from _window()
    yield from _editions()


def _weights():
    import numpy as np

    return np.array(FITTED)


def _search() -> Iterator[Row]:
    known = tables(WHOLE_NECK, FITTED)
    passage = melody_and_bass(ONSETS)
    cold = 1e3 * median(lambda: search(passage, known).path(), 3)
    yield Row("hand.search.cold", f"{ONSETS} onsets", cold, "ms", 600)
    store = Store(known)
    lattice = search(passage, known, store)
    lattice.path()
    middle = next(i for i, t in enumerate(passage.tones) if t.first == ONSETS // 2)
    times = []
    for spot in passage.tones[middle].menu:
        pinned = narrowed(passage, {middle: [spot]})
        times.append(1e3 * seconds(lambda p=pinned: search(p, known, store).path()))
    yield Row("hand.search.pin", f"{ONSETS} onsets", percentile(times, 50), "ms", 50)
    prices = 1e3 * seconds(lambda: [lattice.prices(t) for t in range(len(passage.tones))])
    yield Row("hand.prices", f"{ONSETS} onsets, every note", prices, "ms", 50)
    for onsets in (2500, 10_000):
        longer = melody_and_bass(onsets)
        figure = seconds(lambda p=longer: search(p, known).path()) * 1e3 / onsets
        yield Row("hand.search.linear", f"{onsets} onsets", figure, "ms/onset", 0.6)


def _against_plain() -> Iterator[Row]:
    known = tables(WHOLE_NECK, FITTED)
    passage = melody_and_bass(PLAIN_ONSETS, seed=2)
    mine = 1e3 * median(lambda: search(passage, known).cost, 3)
    lattice = search(passage, known)
    plain: list[float] = []
    peer = 1e3 * seconds(lambda: plain.append(plain_cost(lattice)))
    assert abs(plain[0] - lattice.cost) < 1e-6, "both are exact"
    size = f"{PLAIN_ONSETS} onsets"
    yield Row("hand.search.plain", size, mine, "ms", None, peer="plain loops", peer_figure=peer)


def _window() -> Iterator[Row]:
    """A 16-measure section solved cold, and one measure of it with its neighbours again."""
    lesson = long_lesson(16)
    terms = Terms(LevelContract(level=3, highest_fret=12, highest_position=9, barre=True))
    solve(lesson.arrangement, terms)
    cold = 1e3 * median(lambda: solve(lesson.arrangement, terms), 3)
    yield Row("hand.solve.section", "16 measures, cold", cold, "ms", 40)
    workshop = Workshop()
    solve(lesson.arrangement, terms, workshop)
    warm = 1e3 * median(lambda: solve(lesson.arrangement, terms, workshop), 5)
    yield Row("hand.solve.section", "16 measures, again", warm, "ms", 40)
    measure = list(walk.measures(lesson.arrangement))[7].id
    one = structs.replace(terms, window=frozenset({measure}))
    solve(lesson.arrangement, one, workshop)
    again = 1e3 * median(lambda: solve(lesson.arrangement, one, workshop), 5)
    yield Row("hand.solve.measure", "1 of 16 measures", again, "ms", 16)


def _editions() -> Iterator[Row]:
    figures = []
    total = onsets = 0.0
    for edition in editions():
        known = tables(edition.reach, FITTED)
        took = 1e3 * seconds(lambda e=edition, k=known: search(e.passage, k).path())
        figures.append((took / len(edition.passage.onsets), edition.name))
        total += took
        onsets += len(edition.passage.onsets)
        size = f"{edition.name[:16]} {len(edition.passage.onsets)}"
        yield Row("hand.edition", size, figures[-1][0], "ms/onset", 3)
    if figures:
        yield Row("hand.editions.mean", f"{onsets:.0f} onsets", total / onsets, "ms/onset", 0.6)
        yield Row("hand.editions.worst", max(figures)[1][:20], max(figures)[0], "ms/onset", 3)
