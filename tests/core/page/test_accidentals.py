"""Which accidentals are shown, and how they stand side by side."""

from __future__ import annotations

import pytest

from core.model import Pitch
from core.page.accidentals import left_behind, needed, shape, stacked
from tests import build
from tests.core.page.kit import metrics


def shown(text: str, key: str = "C major", before: str = "", tied: str = "") -> list[str]:
    lesson = build.lesson([*([before] if before else []), text], key=key)
    measures = lesson.arrangement.sections[0].measures
    measure = measures[-1]
    ear = left_behind(measures[0], measures[0].key) if before else {}
    held = frozenset((0, Pitch.parse(p)) for p in tied.split())
    table = needed(measure, ear, held)
    row = [note for voice in measure.voices for event in voice for note in event.notes]
    return [table.get(note.id, "-") for note in row]


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("F#4:quarter F#4:quarter", "C major", "plain -"),  # holds to the end of the measure
        ("F#4:quarter F4:quarter", "C major", "plain plain"),
        ("F#4:quarter F#4:quarter", "G major", "- -"),
        ("F4:quarter", "G major", "plain"),
        ("F#4:quarter F#3:quarter", "C major", "plain plain"),  # its own height only
        ("F#4:quarter F3:quarter", "C major", "plain courtesy"),
        ("F#4:quarter | F#4:quarter", "C major", "plain -"),  # both voices share the staff
        ("F#4:half~ F#4:half", "C major", "plain -"),
    ],
)
def test_accidentals_hold_through_the_measure(text: str, key: str, expected: str) -> None:
    """Common practice, no source."""
    assert " ".join(shown(text, key)) == expected


def test_a_return_after_the_bar_line_is_reminded_of_once() -> None:
    assert shown("F4:quarter F4:quarter", before="F#4:whole") == ["courtesy", "-"]


def test_a_tie_over_the_bar_line_needs_none() -> None:
    """And the same pitch struck anew in that measure needs its accidental again."""
    assert shown("F#4:half F#4:half", tied="F#4") == ["-", "plain"]


def places(*wanted: tuple[int, str]) -> list[float]:
    return stacked([(pos, shape(metrics(), f"accidental{name}")) for pos, name in wanted])


def test_accidentals_share_a_column_from_a_seventh() -> None:
    """A published engraving text (read, engraving.md): from a seventh, six steps, apart."""
    one, two = places((0, "Sharp"), (6, "Sharp"))
    assert one == two
    low, high = places((0, "Sharp"), (5, "Sharp"))
    assert low < high - 0.7
    assert len(set(places((0, "Sharp"), (2, "Sharp"), (4, "Sharp")))) == 3


def test_cut_outs_let_accidentals_overlap() -> None:
    """engraving.md: cut-outs may overlap. A flat's bowl goes under the stem of the next."""
    wide = metrics().width("accidentalFlat")
    high, low = sorted(places((3, "Flat"), (0, "Flat")), reverse=True)
    assert 0.3 * wide < high - low < wide + 0.1
