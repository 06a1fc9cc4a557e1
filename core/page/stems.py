"""Stems, flags and beams: lengths, slopes, where they end.

Lengths: E. Gould, Behind Bars (excerpt read): 3.5 spaces, never under 2.5, and beyond one leger
line they reach the middle line. Slopes from memory: second .25, third .5, fourth .75, wider 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from msgspec import Struct

from core.display.items import Fill, Item, Line, Role
from core.page import pen
from core.page.cluster import GRACE_SIZE, Cluster, Head
from core.page.glyphs import FLAGS, flag_name
from core.page.metrics import Metrics
from core.page.rhythm import beam_levels
from core.page.staff import y_of

USUAL = 3.5
SHORTEST = 2.5
MIDDLE = 2.0
_SHORTEST_BEAMED = (3.25, 3.25, 3.5, 4.25, 5.25, 6.0)  # by number of beams: our own choice
CROWD = 4  # from so many beams on they are thinner and further apart, or they close to a block
_CROWDED = (0.42, 0.38)  # thickness of a beam and the gap to the next: our own choice


class Stem(Struct, frozen=True, gc=False):
    """Where a stem stands: middle x, y at the head farthest from the tip, y of the tip."""

    x: float
    foot: float
    tip: float


def stem_x(cluster: Cluster, column_x: float, m: Metrics, size: float = 1.0) -> float:
    """The middle of the stem, its outer edge on the anchor of the head at its foot."""
    half = m.defaults["stemThickness"] / 2
    head = _foot(cluster)
    left = column_x + cluster.x + head.x
    if cluster.up:
        return left + m.anchors[head.name]["stemUpSE"][0] * size * head.size - half
    return left + m.anchors[head.name]["stemDownNW"][0] * size * head.size + half


def foot_y(cluster: Cluster, m: Metrics, size: float = 1.0) -> float:
    """Where the stem begins: at the anchor of the head farthest from its tip."""
    head = _foot(cluster)
    end = "stemUpSE" if cluster.up else "stemDownNW"
    return head.y - m.anchors[head.name][end][1] * size * head.size


def _foot(cluster: Cluster) -> Head:
    """The head farthest from the tip; of two on one height the one at the stem's own side."""
    return cluster.heads[0] if cluster.up else cluster.heads[-1]


def single_tip(cluster: Cluster) -> float:
    """The y of the tip of an unbeamed stem."""
    flags = FLAGS[cluster.event.value.base]
    outward = cluster.high if cluster.up else -cluster.low
    length = USUAL + 0.75 * max(0, flags - 2)
    if outward > 1 and not cluster.free:
        length = max(length - 0.125 * (outward - 1), 3.0 if flags else 2.75)
    if cluster.event.grace is not None:
        length = 2.6
    if cluster.up:
        tip = y_of(cluster.high) - length
        return min(tip, MIDDLE) if cluster.event.grace is None else tip
    tip = y_of(cluster.low) + length
    return max(tip, MIDDLE) if cluster.event.grace is None else tip


class BeamLine(Struct, frozen=True, gc=False):
    """The outer edge of a beam: y at x is ``y + slope * (x - x0)``."""

    x0: float
    y: float
    slope: float

    def at(self, x: float) -> float:
        return self.y + self.slope * (x - self.x0)


def beam_line(members: Sequence[Cluster], xs: Sequence[float], size: float = 1.0) -> BeamLine:
    """Where the beam of a group lies. Heights are measured towards the beam, so one rule serves
    both directions."""
    up = members[0].up
    sign = -1.0 if up else 1.0
    near = [sign * y_of(c.high if up else c.low) for c in members]
    rise = _rise(near, xs[-1] - xs[0])
    slope = rise / (xs[-1] - xs[0]) if xs[-1] > xs[0] else 0.0
    levels = max(FLAGS[c.event.value.base] for c in members)
    least = _SHORTEST_BEAMED[min(levels, 5)] * size
    base = max(n + least - slope * (x - xs[0]) for n, x in zip(near, xs, strict=True))
    if size == 1.0:
        base = max(base, sign * MIDDLE - min(0.0, rise))
        base = ceil(base * 4 - 1e-9) / 4  # ends sit, straddle or hang on the lines
    return BeamLine(xs[0], sign * base, sign * slope)


def _rise(near: Sequence[float], length: float) -> float:
    """How far the beam rises towards its own side from first to last note."""
    interval = round(2 * (near[-1] - near[0]))
    inner = near[1:-1]
    if interval == 0 or (inner and max(inner) >= max(near[0], near[-1])):
        return 0.0
    rise = (0.0, 0.25, 0.5, 0.75, 1.0)[min(abs(interval), 4)]
    rise = min(rise, 0.25 if length < 2.5 else 0.5 if length < 4.5 else 1.0)
    return rise if interval > 0 else -rise


def draw_stem(
    cluster: Cluster, stem: Stem, m: Metrics, weight: float, size: float = 1.0
) -> list[Item]:
    """The stem and, where it has no beam, its flag."""
    role = Role.INK if any(h.note.place is not None for h in cluster.heads) else Role.HOLLOW
    width = m.defaults["stemThickness"] * (weight if size == 1.0 else 0.8)
    items: list[Item] = [Line(stem.x, stem.foot, stem.x, stem.tip, width, role, cluster.event.id)]
    base = cluster.event.value.base
    if cluster.group < 0 and FLAGS[base]:
        left = stem.x - m.defaults["stemThickness"] / 2
        name = flag_name(base, cluster.up)
        items.append(pen.glyph(m, name, left, stem.tip, role, cluster.event.id, size))
    if cluster.event.grace is not None and cluster.event.grace.slashed and cluster.group < 0:
        items.append(Line(stem.x - 0.45, stem.tip + 1.5, stem.x + 0.8, stem.tip + 0.55, 0.11, role))
    return items


def beam_sizes(levels: int, m: Metrics, size: float = 1.0) -> tuple[float, float]:
    """Thickness of a beam and the distance from one beam to the next, in a group so deep."""
    thick, gap = m.defaults["beamThickness"], m.defaults["beamSpacing"]
    if levels >= CROWD:
        thick, gap = _CROWDED
    return thick * size, (thick + gap) * size


def draw_beams(
    members: Sequence[Cluster], xs: Sequence[float], line: BeamLine, m: Metrics, size: float = 1.0
) -> list[Item]:
    """Every beam of a group, primary and secondary."""
    thick, step = beam_sizes(max(FLAGS[c.event.value.base] for c in members), m, size)
    inward = 1.0 if members[0].up else -1.0
    half = m.defaults["stemThickness"] / 2
    rows = beam_levels([(c.onset, FLAGS[c.event.value.base], c.event.value.ticks) for c in members])
    placed = any(h.note.place is not None for c in members for h in c.heads)
    role = Role.INK if placed else Role.HOLLOW
    items: list[Item] = []
    for level, row in enumerate(rows):
        for first, last, stub in row:
            left, right = xs[first] - half, xs[last] + half
            if stub > 0:
                right = xs[first] + min(1.1 * size, 0.5 * (xs[first + 1] - xs[first]))
            elif stub < 0:
                left = xs[first] - min(1.1 * size, 0.5 * (xs[first] - xs[first - 1]))
            y0 = line.at(left) + inward * level * step
            y1 = line.at(right) + inward * level * step
            fat = inward * thick
            items.append(
                Fill(
                    ((left, y0), (right, y1), (right, y1 + fat), (left, y0 + fat)),
                    role, members[first].event.id,
                )
            )  # fmt: skip
    return items


def grace_size(cluster: Cluster) -> float:
    """The scale of a cluster's stem and beams."""
    return GRACE_SIZE if cluster.event.grace is not None else 1.0
