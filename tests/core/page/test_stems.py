"""Stems and beams against the numbers of engraving.md."""

from __future__ import annotations

import pytest

from core.model import Event, Metre, Pitch, Value
from core.page import stems
from core.page.cluster import Cluster, clusters, goes_up
from core.page.rhythm import beam_levels, groups
from core.page.staff import position
from tests import build
from tests.core.page.kit import metrics


def laid(text: str, metre: str = "4/4") -> tuple[tuple[Cluster, ...], tuple[tuple[int, ...], ...]]:
    lesson = build.lesson([text], metre=metre)
    return clusters(lesson.arrangement.sections[0].measures[0], metrics())


def tip_length(text: str) -> float:
    """From the head nearest the tip to the tip, of the first event."""
    cluster = laid(text)[0][0]
    near = cluster.heads[-1 if cluster.up else 0].y
    return abs(stems.single_tip(cluster) - near)


def test_a_stem_is_three_and_a_half_spaces_long() -> None:
    """E. Gould, Behind Bars (excerpt read, engraving.md): 3.5 spaces from the head's centre."""
    assert tip_length("C4:quarter") == 3.5
    assert tip_length("A3:quarter") == 3.5


@pytest.mark.parametrize(("note", "length"), [("C3", 3.5), ("A2", 4.0), ("E2", 5.5), ("C5", 4.0)])
def test_beyond_one_leger_line_stems_reach_the_middle_line(note: str, length: float) -> None:
    """Gould: beyond one leger line a stem reaches the middle line (sounding B3).

    C3 stands on the first leger line below the staff, 3 spaces from the middle: the usual length.
    A2 and C5, on second leger lines, are 4 spaces from it, E2 is 5.5.
    """
    assert tip_length(f"{note}:quarter") == length


def test_no_stem_is_shorter_than_two_and_a_half() -> None:
    """Gould: never under 2.5, also where a second voice forces it outwards."""
    for note in ("E4", "G4", "B4", "E5", "A5"):
        row, _ = laid(f"{note}:quarter | E3:quarter")
        length = row[0].heads[0].y - stems.single_tip(row[0])
        assert 2.5 <= length <= 3.5


@pytest.mark.parametrize(
    ("pitches", "up"),
    [
        ("A3", True),
        ("B3", False),
        ("C4", False),
        ("G3 C4", True),
        ("G3 D4", False),
        ("E3 E4", True),
    ],
)
def test_one_voice_the_note_farthest_from_the_middle_decides(pitches: str, up: bool) -> None:
    """Gould: the note farthest from the middle line decides; a tie goes down."""
    assert goes_up([position(Pitch.parse(p)) for p in pitches.split()]) is up


def test_two_voices_part_their_stems() -> None:
    """Gould: upper voice up, lower voice down, whatever the pitch."""
    row, _ = laid("E4:quarter | E4:quarter")
    assert [c.up for c in row] == [True, False]


@pytest.mark.parametrize(
    ("metre", "rhythm", "expected"),
    [
        ("4/4", "8 8 8 8 8 8 8 8", "0123 4567"),  # never across the middle
        ("4/4", "16 16 16 16 8 8 4 4", "0123 45"),
        ("4/4", "4 8 8 8 8 4", "12 34"),
        ("3/4", "8 8 8 8 8 8", "01 23 45"),
        ("6/8", "8 8 8 8 8 8", "012 345"),  # 3+3
        ("6/8", "8 8 r8 8 8 8", "01 345"),
        ("2/2", "8 8 8 8 8 8 8 8", "0123 4567"),  # by half
        ("2/4", "8 8 8 8", "0123"),
        ("3/8", "8 8 8", "012"),
        ("2+3/8", "8 8 8 8 8", "01 234"),
        ("9/8", "8 8 8 8 8 8 8 8 8", "012 345 678"),
        ("12/8", "4 8 4 8 8 8 8 8 8 8", "456 789"),
    ],
)
def test_beams_follow_the_metre(metre: str, rhythm: str, expected: str) -> None:
    """Grouping as engraving.md gives it (from memory of the handbooks)."""
    names = {"4": "quarter", "8": "eighth", "16": "16th"}
    row, onset = [], 0
    for number, part in enumerate(rhythm.split()):
        value = Value.parse(names[part.lstrip("r")])
        note = build.note("A3", 100 + number)
        row.append((onset, Event(number, value, () if part.startswith("r") else (note,))))
        onset += value.ticks
    found = groups(row, Metre.parse(metre))
    assert " ".join("".join(map(str, group)) for group in found) == expected


def slope_of(text: str, width: float) -> float:
    """The rise of a beam from first to last note, upwards positive, set over `width` spaces."""
    row, grouped = laid(text)
    members = [row[i] for i in grouped[0]]
    step = width / (len(members) - 1)
    line = stems.beam_line(members, [i * step for i in range(len(members))])
    return -(line.at(width) - line.at(0.0))


@pytest.mark.parametrize(
    ("notes", "rise"),
    [
        ("G3 G3", 0.0), ("F3 G3", 0.25), ("E3 G3", 0.5), ("D3 G3", 0.75), ("G3 D3", -0.75),
        ("C3 G3", 1.0), ("E3 A3 G3", 0.0),
    ],
)  # fmt: skip
def test_beam_slopes(notes: str, rise: float) -> None:
    """engraving.md (from memory): unison 0, second .25, third .5, fourth .75 to 1.25; flat where
    an inner note is nearer the beam."""
    text = " ".join(f"{note}:eighth" for note in notes.split())
    assert slope_of(text, 8.0) == pytest.approx(rise)


def test_beam_ends_sit_straddle_or_hang() -> None:
    """Ross (read, engraving.md): ends lie at quarters of a space."""
    row, grouped = laid("D3:eighth F3:eighth G3:eighth E3:eighth")
    members = [row[i] for i in grouped[0]]
    line = stems.beam_line(members, [0.0, 3.0, 6.0, 9.0])
    assert (line.at(0.0) * 4) % 1 == pytest.approx(0.0)
    assert (line.at(9.0) * 4) % 1 == pytest.approx(0.0)


def test_secondary_beams() -> None:
    """A dotted eighth's sixteenth takes a stub to its left, a sixteenth before it to the right."""
    eighth, sixteenth = Value.parse("eighth.").ticks, Value.parse("16th").ticks
    dotted = [(0, 1, eighth), (eighth, 2, sixteenth)]
    assert beam_levels(dotted) == [[(0, 1, 0)], [(1, 1, -1)]]
    turned = [(0, 2, sixteenth), (sixteenth, 1, eighth)]
    assert beam_levels(turned) == [[(0, 1, 0)], [(0, 0, 1)]]
