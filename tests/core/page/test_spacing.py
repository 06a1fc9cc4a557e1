"""Springs and rods, pages."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.model import TICKS_PER_QUARTER
from core.page import breaking
from core.page.spacing import GROWTH, LEAST, LEAST_WIDTH, force_for, ideal, total

springs = st.lists(st.tuples(st.floats(1, 12), st.floats(0.5, 12)), min_size=1, max_size=12)


@settings(max_examples=80, derandomize=True)
@given(springs, st.floats(1.0, 4.0))
def test_the_force_fills_the_length(row: list[tuple[float, float]], stretch: float) -> None:
    length = total(row, 0.0) * stretch + 0.1
    assert total(row, force_for(row, length)) == pytest.approx(length)


@pytest.mark.parametrize("quarters", [0.25, 0.5, 1, 2, 4])
def test_gourlays_function(quarters: float) -> None:
    """Gourlay, via Renz 2002 (read, engraving.md): w (1 + a log2(shortest / least)), a .5 to .6."""
    ticks = int(quarters * TICKS_PER_QUARTER)
    assert 0.5 <= GROWTH <= 0.6
    wanted = LEAST_WIDTH * (1 + GROWTH * log2(ticks / LEAST))
    assert ideal(ticks, ticks) == pytest.approx(wanted)
    assert ideal(ticks, ticks // 2) == pytest.approx(wanted / 2)


def test_pages_are_few_and_full() -> None:
    assert breaking.break_pages([30.0] * 8, 97.0, 140.0, 4.0).ends == [2, 6, 8]
    assert breaking.break_pages([30.0] * 8, 98.0, 140.0, 4.0).ends == [3, 6, 8]  # none alone
    assert breaking.break_pages([200.0, 30.0], 100.0, 140.0, 4.0).ends == [1, 2]


def test_old_breaks_stay_only_while_lines_fit() -> None:
    parts = [breaking.Part(6, 1, 1, 0.2, 0.2, 20, 12)] * 8
    breaks = breaking.break_lines(parts, 100.0)
    assert breaking.keep_breaks(parts, breaks, 100.0) == breaks
    assert breaking.bad_lines(parts, breaks, 60.0) == [0, 1]
    assert breaking.bad_lines(parts, breaks, 260.0) == [0]  # the last line may be short


def test_one_bad_line_is_mended_with_its_neighbours() -> None:
    parts = [breaking.Part(6, 1, 1, 0.2, 0.2, 20, 12)] * 40
    breaks = breaking.break_lines(parts, 100.0)
    parts[17] = breaking.Part(6, 1, 1, 0.2, 0.2, 60, 50)
    mended = breaking.keep_breaks(parts, breaks, 100.0)
    assert not breaking.bad_lines(parts, mended, 100.0)
    assert mended[:2] == breaks[:2]
    assert mended[-3:] == breaks[-3:]
