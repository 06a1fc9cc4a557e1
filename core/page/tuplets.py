"""Tuplets: which notes make one, its figure, and the bracket where no beam shows it."""

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Line, Role
from core.model.tuplets import runs
from core.page import rows
from core.page.cluster import Cluster
from core.page.draft import Draft, EventAt

SIZE = 0.82
HOOK = 0.7


def find(clusters: Sequence[Cluster], depth: int) -> list[list[Cluster]]:
    """The tuplets at a depth (0 is outermost) in the events of one voice."""
    by_id = {cluster.event.id: cluster for cluster in clusters}
    found = runs([cluster.event for cluster in clusters], depth)
    return [[by_id[event.id] for event in run] for run in found]


def draw_tuplets(draft: Draft) -> None:
    """Figures and brackets, inner tuplets first, on the stem side."""
    for box in draft.row:
        deepest = max((len(c.event.value.tuplets) for c in box.clusters), default=0)
        voices = {c.voice for c in box.clusters}
        for depth in range(deepest - 1, -1, -1):
            for voice in sorted(voices):
                events = [c for c in box.clusters if c.voice == voice]
                for run in find(events, depth):
                    _draw(draft, run, depth, box.groups)


def _draw(
    draft: Draft, run: Sequence[Cluster], depth: int, groups: tuple[tuple[int, ...], ...]
) -> None:
    places = [draft.events[c.event.id] for c in run if c.event.id in draft.events]
    if not places:
        return
    ups = [c.up for c in run if c.heads]
    above = sum(ups) * 2 >= len(ups) if ups else run[0].up
    figures = str(run[0].event.value.tuplets[depth][0])
    names = [f"tuplet{figure}" for figure in figures]
    width = sum(draft.m.advances[name] for name in names) * SIZE
    number = run[0].group
    whole = number >= 0 and len(groups[number]) == len(run) and all(c.group == number for c in run)
    left, right = _edges(places)
    middle = (left + right) / 2
    source = run[0].event.id
    if whole:
        left, right = middle - width / 2, middle + width / 2
    place = rows.over if above else rows.under
    height = 1.5 * SIZE
    edge = place(draft, left, right, height, 0.25 if whole else 0.45)
    baseline = edge if above else edge + height
    glyphs, _ = rows.row_of_glyphs(
        draft.m, names, middle - width / 2, baseline, size=SIZE, source=source
    )
    draft.items += glyphs
    if not whole:
        _bracket(draft, left, right, width, baseline - height / 2, source, above=above)


def _edges(places: Sequence[EventAt]) -> tuple[float, float]:
    return places[0].left - 0.1, places[-1].right + 0.1


def _bracket(
    draft: Draft, left: float, right: float, gap: float, y: float, source: int, *, above: bool
) -> None:
    wide = draft.m.defaults["tupletBracketThickness"] * draft.style.line_weight
    middle, half = (left + right) / 2, gap / 2 + 0.3
    hook = HOOK if above else -HOOK
    draft.items += [
        Line(left, y, max(middle - half, left), y, wide, Role.INK, source),
        Line(min(middle + half, right), y, right, y, wide, Role.INK, source),
        Line(left + wide / 2, y, left + wide / 2, y + hook, wide, Role.INK, source),
        Line(right - wide / 2, y, right - wide / 2, y + hook, wide, Role.INK, source),
    ]
