"""Parts of a score one under another: each its own layout, their moments and barlines in line."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from msgspec import structs

from core.model import Lesson
from core.page.engrave import one_line
from core.page.layout import Layout
from core.page.measure_box import MeasureBox
from core.page.metrics import Metrics
from core.page.score import Cache, Score, gather
from core.page.style import PageStyle


def together(lessons: Sequence[Lesson], style: PageStyle, metrics: Metrics) -> tuple[Layout, ...]:
    """Each part in one long line, measure n of all of them equally wide and what sounds together
    at the same x (where their headers are equally wide). Measures pair by their place in written
    order; a part may be shorter than others. `style` has the flow "line"."""
    scores: list[Score] = []
    for lesson in lessons:
        cache = Cache()
        cache.use(style, metrics)
        scores.append(gather(lesson.arrangement, style, metrics, cache, None)[0])
    rows = [list(score.boxes) for score in scores]
    for place in range(max(map(len, rows), default=0)):
        having = [row for row in rows if place < len(row)]
        for row, box in zip(having, aligned([row[place] for row in having]), strict=True):
            row[place] = box
    return tuple(
        one_line(lesson, structs.replace(score, boxes=row), style, metrics)
        for lesson, score, row in zip(lessons, scores, rows, strict=True)
    )


def aligned(boxes: Sequence[MeasureBox]) -> list[MeasureBox]:
    """The same measure of several parts with the distances the widest of them needs."""
    at = _moments(boxes)
    lead, first = max(b.lead for b in boxes), max(b.lead_first for b in boxes)
    tail, last = max(b.tail for b in boxes), max(b.tail_last for b in boxes)
    made: list[MeasureBox] = []
    for box in boxes:
        stops = [*(column.onset for column in box.columns), -1]
        springs = tuple((at[b] - at[a], at[b] - at[a]) for a, b in pairwise(stops))
        made.append(
            structs.replace(
                box, springs=springs, lead=lead, lead_first=first, tail=tail, tail_last=last
            )
        )
    return made


def _moments(boxes: Sequence[MeasureBox]) -> dict[int, float]:
    """Where each onset stands, from 0 on, as near as every part allows; -1 is the barline."""
    onsets = sorted({column.onset for box in boxes for column in box.columns})
    at = dict.fromkeys([*onsets, -1], 0.0)
    reaches: dict[int, list[tuple[int, float]]] = {}
    for box in boxes:
        stops = [*(column.onset for column in box.columns), -1]
        for (a, b), (length, rod) in zip(pairwise(stops), box.springs, strict=True):
            reaches.setdefault(b, []).append((a, max(length, rod)))
    furthest = 0.0
    for onset in [*onsets, -1]:
        needed = [at[a] + width for a, width in reaches.get(onset, [])]
        furthest = at[onset] = max([furthest, *needed])
    return at
