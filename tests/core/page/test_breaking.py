"""Invariant 13: lines are broken at the cost that brute force finds, up to 12 measures."""

from __future__ import annotations

from itertools import accumulate, combinations, pairwise
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.page import breaking
from core.page.engrave import engrave
from core.page.style import PageStyle
from tests import build
from tests.core.page.kit import metrics

MOST = 12
BARS = [
    "A3s3f2:quarter C4s2f1:eighth E4s1f0:eighth G#3s3f1:half",
    "E4s1f0:whole | A2s5f0:whole",
    " ".join(["C4s2f1:16th"] * 16),
    "r:half B3s2f0:half",
]

part = st.builds(
    breaking.Part,
    head=st.floats(4, 9),
    lead_first=st.floats(0.5, 2),
    lead=st.floats(0.5, 2),
    tail=st.floats(0.1, 1),
    tail_last=st.floats(0.1, 3),
    natural=st.floats(10, 40),
    least=st.floats(5, 10),
    must_end=st.booleans(),
    ends_section=st.booleans(),
    ends_phrase=st.booleans(),
)


def lines(parts: list[breaking.Part], width: float) -> dict[tuple[int, int], float]:
    """The cost of every line that may be set; a break by hand inside one forbids it."""
    sums = breaking.Sums(parts)
    return {
        (a, b): inf if any(p.must_end for p in parts[a : b - 1])
        else breaking.cost(sums, a, b, width)
        for a, b in combinations(range(len(parts) + 1), 2)
    }  # fmt: skip


def price(breaks: list[int], costs: dict[tuple[int, int], float]) -> float:
    return sum(costs[pair] for pair in pairwise([0, *breaks]))


def cheapest(count: int, costs: dict[tuple[int, int], float]) -> float:
    """The least cost of all 2 ** (count - 1) ways to break."""
    return min(
        price([*chosen, count], costs)
        for size in range(count)
        for chosen in combinations(range(1, count), size)
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(part, min_size=1, max_size=MOST), st.floats(30, 110))
def test_lines_are_broken_at_the_least_cost(parts: list[breaking.Part], width: float) -> None:
    costs = lines(parts, width)
    found = breaking.break_lines(parts, width)
    assert price(found, costs) == pytest.approx(cheapest(len(parts), costs), abs=1e-9)


@pytest.mark.parametrize("staff_mm", [5.0, 6.6, 8.0, 10.0, 13.0])
def test_a_page_has_the_breaks_brute_force_finds(
    staff_mm: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same with the parts that a real page gives, up to what comes on paper."""
    asked: list[tuple[list[breaking.Part], float]] = []
    plain = breaking.break_lines

    def listening(parts: list[breaking.Part], width: float, *, ends: bool = True) -> list[int]:
        asked.append((list(parts), width))
        return plain(parts, width, ends=ends)

    monkeypatch.setattr(breaking, "break_lines", listening)
    lesson = build.lesson(BARS * 2, BARS)
    layout = engrave(lesson, PageStyle(staff_mm=staff_mm), metrics())
    ((parts, width),) = asked
    assert len(parts) == MOST
    ends = list(accumulate(len(system) for system in layout.breaks))
    costs = lines(parts, width)
    assert price(ends, costs) == pytest.approx(cheapest(MOST, costs), abs=1e-9)
