"""Chords of the handbooks, alone and in a row, with the weights that ship."""

from __future__ import annotations

import pytest

from core.hand.lattice import Lattice
from core.hand.passage import Spot
from core.hand.search import search
from core.hand.tables import tables
from core.hand.ways import cheapest
from core.hand.weights import FITTED
from tests.bench.fingered import editions
from tests.bench.learn import without_shapes
from tests.core.hand.handbook import HAND, LOWERED_SHAPES, SHAPES, fingerings, midi, progression


def different(lattice: Lattice, count: int) -> list[set[Spot]]:
    """The cheapest fingerings that differ in a string or a finger."""
    found: list[set[Spot]] = []
    for _, way in cheapest(lattice, 60):
        spots = {lattice.tables.layout.spot(code) for code in lattice.codes(way)}
        if spots not in found:
            found.append(spots)
    return found[:count]


@pytest.mark.parametrize("shape", [*SHAPES, *LOWERED_SHAPES])
def test_a_chord_alone_gets_a_handbook_fingering(shape: str) -> None:
    """The shapes of standard tuning are among what the weights were learned from; those with the
    lowered sixth string are not, nor are the steps from shape to shape below."""
    assert within_three(shape, FITTED)


def within_three(shape: str, weights: tuple[float, ...]) -> bool:
    lattice = search(progression(shape), tables(HAND, weights))
    return any(spots in fingerings(shape) for spots in different(lattice, 3))


@pytest.mark.long
def test_shapes_left_out_of_the_learning_come_out_too() -> None:
    """Independent of the learning: a fifth of the shapes left out, in turn."""
    pytest.importorskip("scipy")
    if not editions():
        pytest.skip("the fingered editions are not here")
    weights = without_shapes()
    right = [shape for shape in SHAPES if within_three(shape, weights[shape])]
    print(len(right), "of", len(SHAPES), "without", sorted(set(SHAPES) - set(right)))
    assert len(right) >= 17


def test_the_table_of_shapes_sounds_its_chords() -> None:
    """The MIDI lists of the handbook table."""
    assert midi("C") == [48, 52, 55, 60, 64]
    assert midi("F full") == [41, 48, 53, 57, 60, 65]
    assert midi("B7") == [47, 51, 57, 59, 66]
    assert midi("D7") == [50, 57, 60, 66]
    assert midi("D with D bass") == [38, 45, 50, 57, 62, 66]
    assert midi("G in position II") == [*midi("G for beginners")[:1], 47, 50, 55, 59, 67]
    assert midi("G for beginners") == [43, 50, 55, 59, 67]


def held(*shapes: str) -> list[dict[int, tuple[int, int]]]:
    """Finger -> (string, fret) in each of the shapes played in a row."""
    passage = progression(*shapes)
    lattice = search(passage, tables(HAND, FITTED))
    rows: list[dict[int, tuple[int, int]]] = [{} for _ in shapes]
    for code, tone in zip(lattice.codes(lattice.path()), passage.tones, strict=True):
        spot = lattice.tables.layout.spot(code)
        if spot is not None and spot.finger:
            rows[tone.first][spot.finger] = (spot.string, spot.fret)
    return rows


def test_a_minor_to_c_keeps_one_and_two() -> None:
    before, after = held("Am", "C")
    assert before[1] == after[1] == (2, 1)
    assert before[2] == after[2] == (4, 2)
    assert (before[3], after[3]) == ((3, 2), (5, 3))


def test_a_minor_to_e_moves_all_three_toward_the_bass() -> None:
    before, after = held("Am", "E")
    assert {k: (s + 1, f) for k, (s, f) in before.items()} == after


def test_d_to_a7_guides_three() -> None:
    before, after = held("D", "A7")
    assert (before[3], after[3]) == ((2, 3), (2, 2))


def test_c_to_g7_moves_every_finger_outward() -> None:
    before, after = held("C", "G7")
    assert after == {1: (1, 1), 2: (5, 2), 3: (6, 3)}
    assert before == {1: (2, 1), 2: (4, 2), 3: (5, 3)}


def test_e_minor_to_e_keeps_two_and_three() -> None:
    before, after = held("Em", "E")
    assert before == {2: (5, 2), 3: (4, 2)}
    assert after == {1: (3, 1), 2: (5, 2), 3: (4, 2)}


def test_c_to_small_f_lays_finger_one_flat() -> None:
    """Only C on string 2 stays: finger 1 flattens into the barre; 2 and 3 move a string over."""
    before, after = held("C", "F small")
    assert before == {1: (2, 1), 2: (4, 2), 3: (5, 3)}
    assert (after[2], after[3]) == ((3, 2), (4, 3))
    lattice = search(progression("C", "F small"), tables(HAND, FITTED))
    spots = [lattice.tables.layout.spot(code) for code in lattice.codes(lattice.path())]
    assert {s for s in spots[5:] if s and s.finger == 1} == {Spot(1, 1, 1), Spot(2, 1, 1)}
