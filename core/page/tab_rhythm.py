"""Tab alone: stems, beams, flags, dots and rests under (and for a second voice above) the lines.

Halves have short stems, wholes none (our own choice).
"""

from __future__ import annotations

from core.display.items import Fill, Item, Line, Role
from core.model import Base
from core.page import pen
from core.page.cluster import CENTRE, Cluster
from core.page.draft import Draft, EventAt
from core.page.glyphs import FLAGS, RESTS, flag_name
from core.page.measure_box import MeasureBox
from core.page.rhythm import beam_levels
from core.page.staff import tab_height

NEAR = 0.8  # from the outer tab line to the stem
LENGTH = 2.8
BEAM = 0.45
STEP = 0.7


class Side:
    """Where one direction of stems runs: y at the lines, y of the tip, which way is inwards."""

    def __init__(self, draft: Draft, *, above: bool) -> None:
        self.above = above
        outer = 0.0 if above else tab_height(draft.strings)
        sign = -1.0 if above else 1.0
        self.near = outer + sign * NEAR
        self.tip = self.near + sign * LENGTH
        self.half = self.near + sign * LENGTH * 0.45
        self.inward = -sign


def draw_rhythm(draft: Draft) -> None:
    """The written values of every voice; fills in where events stand."""
    for index, box in enumerate(draft.row):
        shown = {c.voice for c in box.clusters if not c.event.hidden}
        for number, cluster in enumerate(box.clusters):
            if cluster.event.hidden:
                continue
            side = Side(draft, above=len(shown) > 1 and cluster.voice % 2 == 0)
            x = draft.xs[index][box.column_of[cluster.onset]] + CENTRE
            if cluster.beside:
                x -= 1.2 * cluster.beside
            _event(draft, cluster, x, side)
            if cluster.group >= 0 and box.groups[cluster.group][0] == number:
                _beams(draft, index, box, cluster.group, side)


def _event(draft: Draft, cluster: Cluster, x: float, side: Side) -> None:
    value, source = cluster.event.value, cluster.event.id
    tops = sorted((side.near, side.tip))
    bottom = tab_height(draft.strings)
    draft.events[source] = EventAt(
        x, x - 0.6, x + 0.6, min(tops[0], -0.6), max(tops[1], bottom + 0.6), side.above, side.tip,
        True,
    )  # fmt: skip
    items: list[Item] = []
    if cluster.event.is_rest and not cluster.fills:
        left, low, right, high = draft.m.boxes[RESTS[value.base]]
        middle = (side.near + side.tip) / 2
        y = middle + (high + low) / 2
        items.append(
            pen.glyph(draft.m, RESTS[value.base], x - (left + right) / 2, y, source=source)
        )
    elif cluster.stemmed and not cluster.beside:
        wide = draft.m.defaults["stemThickness"] * draft.style.line_weight
        start = side.half if value.base is Base.HALF else side.near
        items.append(Line(x, start, x, side.tip, wide, Role.INK, source))
        if cluster.group < 0 and FLAGS[value.base]:
            name = flag_name(value.base, side.above)
            items.append(pen.glyph(draft.m, name, x - wide / 2, side.tip, Role.INK, source, 0.8))
    for dot in range(value.dots):
        y = side.near + (side.tip - side.near) * 0.5
        items.append(pen.glyph(draft.m, "augmentationDot", x + 0.5 + 0.5 * dot, y))
    draft.put(items, (x - 0.5, tops[0], x + 0.5, tops[1]))


def _beams(draft: Draft, index: int, box: MeasureBox, number: int, side: Side) -> None:
    members = [box.clusters[i] for i in box.groups[number]]
    if members[0].event.grace is not None:
        return
    xs = [draft.xs[index][box.column_of[c.onset]] + CENTRE for c in members]
    half = draft.m.defaults["stemThickness"] / 2
    values = [(c.onset, FLAGS[c.event.value.base], c.event.value.ticks) for c in members]
    for level, row in enumerate(beam_levels(values)):
        for first, last, stub in row:
            left, right = xs[first] - half, xs[last] + half
            if stub > 0:
                right = left + 1.0
            elif stub < 0:
                left = right - 1.0
            y = side.tip + side.inward * level * STEP
            inner = y + side.inward * BEAM
            draft.items.append(
                Fill(
                    ((left, y), (right, y), (right, inner), (left, inner)),
                    Role.INK, members[first].event.id,
                )
            )  # fmt: skip
