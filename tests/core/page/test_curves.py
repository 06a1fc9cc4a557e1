"""Ties and slurs: fixed cases beside the law of invariant 9."""

from __future__ import annotations

import pytest

from core.display.items import Curve, Line
from core.model import Lesson
from core.page.engrave import engrave
from core.page.pen import lens
from core.page.style import PageStyle
from tests import build
from tests.core.page.cases import CASES, with_spans
from tests.core.page.kit import glyphs, items, metrics


def curves(lesson: Lesson, style: PageStyle | None = None) -> list[Curve]:
    layout = engrave(lesson, style or PageStyle(), metrics())
    return [item for _, item in items(layout) if isinstance(item, Curve)]


def test_a_tie_over_a_line_break_is_drawn_on_both_lines() -> None:
    lesson = CASES["ringing"]()
    layout = engrave(lesson, PageStyle(), metrics())
    first, second = (
        [i for n, i in items(layout) if n == number and isinstance(i, Curve)] for number in (0, 1)
    )
    assert any(c.end[0] > layout.systems[0].body.width - 0.5 for c in first)
    assert any(c.end[0] < 14 for c in second)


def bezier(curve: Curve, t: float) -> tuple[float, float]:
    points = (curve.start, *curve.inner, curve.end)
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    return tuple(sum(w * p[k] for w, p in zip(weights, points, strict=True)) for k in (0, 1))  # type: ignore[return-value]


@pytest.mark.parametrize("inner", ["G4", "A4", "C4 G4 C4", "E3"])
def test_slurs_clear_inner_heads_by_a_quarter_space(inner: str) -> None:
    row = " ".join(f"{p}:quarter" for p in f"E4 {inner} E4".split())
    lesson = build.lesson([f"{row} | A2:whole"], metre=f"{2 + len(inner.split())}/4")
    last = len(inner.split()) + 1
    lesson = with_spans(lesson, ("slur", 0, last, {}))
    layout = engrave(lesson, PageStyle(), metrics())
    slur = next(i for _, i in items(layout) if isinstance(i, Curve) and i.source)
    samples = [bezier(slur, n / 100) for n in range(101)]
    for _, head in glyphs(layout, "noteheadRound"):
        middle = head.x + 0.59
        if slur.start[0] + 1 < middle < slur.end[0] - 1 and head.y < 5:
            over = min(samples, key=lambda p: abs(p[0] - middle))
            assert head.y - 0.5 - over[1] >= 0.25


def test_a_lens_is_as_high_as_asked() -> None:
    curve = lens((0, 0), (10, 0), -2.0, thickness=0.2)
    highest = min(bezier(curve, n / 200)[1] for n in range(201))
    assert highest == pytest.approx(-2.0, abs=0.2)


def test_optional_slurs_are_dotted() -> None:
    lesson = with_spans(build.lesson(["E4:half G4:half"]), ("slur", 0, 1, {"optional": True}))
    layout = engrave(lesson, PageStyle(), metrics())
    span = lesson.arrangement.spans[0].id
    strokes = [i for _, i in items(layout) if isinstance(i, Line) and i.source == span]
    assert len(strokes) >= 5
