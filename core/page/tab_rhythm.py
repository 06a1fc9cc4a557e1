"""Tab alone: stems, beams, flags, dots and rests under (and for a second voice above) the lines.

Halves have a small hollow head at the foot of their stem and wholes the head alone, so that the
signs mean what they mean on a staff (our own choice; printed tabs differ).
"""

from __future__ import annotations

from core.display.items import Fill, Glyph, Item, Line, Role
from core.page import pen
from core.page.cluster import CENTRE, Cluster
from core.page.cover import rect_of
from core.page.draft import Draft, EventAt, NoteAt
from core.page.glyphs import FLAGS, HEADS, RESTS, flag_name
from core.page.measure_box import MeasureBox
from core.page.rhythm import beam_levels
from core.page.staff import tab_height, tab_y
from core.page.tab_column import RHYTHM_FLAG, RHYTHM_HEAD

NEAR = 1.1  # from the outer tab line to the stem
WAITING = 1.6  # more where notes without a place are counted over the tab
LENGTH = 3.0
LONGER = 0.7  # for every flag or beam from the third on
BEAM = 0.42
STEP = 0.7


class Side:
    """Where one direction of stems runs: y at the lines, which way is outwards. A third or fourth
    voice has a row of its own (`row` 1), beyond stems of `most` flags."""

    def __init__(self, draft: Draft, *, above: bool, row: int, most: int) -> None:
        self.above = above
        outer = 0.0 if above else tab_height(draft.strings)
        self.sign = -1.0 if above else 1.0
        room = NEAR + (WAITING if above and draft.any_unplaced else 0.0)
        room += row * (LENGTH + 1.5 * LONGER * max(0, most - 2) + 0.9)
        self.near = outer + self.sign * room
        self.head = self.near + self.sign * RHYTHM_HEAD / 2

    def tip(self, flags: int) -> float:
        """The y of the tip of a stem with so many flags or beams."""
        return self.near + self.sign * (LENGTH + LONGER * max(0, flags - 2))


def draw_rhythm(draft: Draft) -> None:
    """The written values of every voice; fills in where events stand."""
    shown = {c.voice for box in draft.row for c in box.clusters if not c.event.hidden}
    most = max((FLAGS[c.event.value.base] for box in draft.row for c in box.clusters), default=0)
    for index, box in enumerate(draft.row):
        tips = _tips(box)
        for number, cluster in enumerate(box.clusters):
            if cluster.event.hidden:
                continue
            above = len(shown) > 1 and cluster.voice % 2 == 0
            side = Side(draft, above=above, row=cluster.voice // 2, most=most)
            x = draft.xs[index][box.column_of[cluster.onset]] + CENTRE
            if cluster.beside:
                x -= 1.2 * cluster.beside
            elif cluster.fills:
                x = (draft.measure_left(index) + draft.rights[index]) / 2
            _event(draft, cluster, x, side, side.tip(tips[number]))
            if cluster.group >= 0 and box.groups[cluster.group][0] == number:
                _beams(draft, index, box, cluster.group, side)


def _tips(box: MeasureBox) -> list[int]:
    """How many flags or beams reach into each stem: those of its whole group."""
    flags = [FLAGS[c.event.value.base] for c in box.clusters]
    for group in box.groups:
        most = max(flags[i] for i in group)
        for i in group:
            flags[i] = most
    return flags


def _event(draft: Draft, cluster: Cluster, x: float, side: Side, tip: float) -> None:
    source = cluster.event.id
    tops = sorted((side.near, tip))
    bottom = tab_height(draft.strings)
    draft.events[source] = EventAt(
        x, x - 0.6, x + 0.6, min(tops[0], -0.6), max(tops[1], bottom + 0.6), side.above, tip, True
    )
    for head in cluster.heads:
        if head.note.place is not None:
            y = tab_y(head.note.place.value.string)
            at = NoteAt(x - 0.6, x + 0.6, y, side.above, 0, source)
            draft.tab_notes[head.note.id] = draft.tab_notes[source] = at
    if cluster.beside:
        items = []
    elif cluster.event.is_rest:
        items = _rest(draft, cluster, x, side)
    else:
        items = _note(draft, cluster, x, side, tip)
    rects = [rect_of(item, draft.m) for item in items if isinstance(item, Glyph)]
    draft.put(items, (x - 0.5, tops[0], x + 0.5, tops[1]), *rects)


def _rest(draft: Draft, cluster: Cluster, x: float, side: Side) -> list[Item]:
    """A rest in the row of the stems; as long as its measure, in the measure's middle."""
    name = "restWhole" if cluster.fills else RESTS[cluster.event.value.base]
    left, low, right, high = draft.m.boxes[name]
    y = side.near + side.sign * max(LENGTH, high - low) / 2 + (high + low) / 2
    source = cluster.event.id
    items: list[Item] = [pen.glyph(draft.m, name, x - (left + right) / 2, y, source=source)]
    for dot in range(0 if cluster.fills else cluster.event.value.dots):
        at = x + (right - left) / 2 + 0.25 + 0.5 * dot
        items.append(pen.glyph(draft.m, "augmentationDot", at, y, source=source))
    return items


def _note(draft: Draft, cluster: Cluster, x: float, side: Side, tip: float) -> list[Item]:
    """Stem, hollow head, flag and dots of one event."""
    value, source, m = cluster.event.value, cluster.event.id, draft.m
    wide = m.defaults["stemThickness"] * draft.style.line_weight
    items: list[Item] = []
    start, at, edge = side.near, x, x + 0.1
    if value.base in HEADS:
        name = HEADS[value.base]
        half = m.advances[name] * RHYTHM_HEAD / 2
        items.append(pen.glyph(m, name, x - half, side.head, Role.INK, source, RHYTHM_HEAD))
        start, at, edge = side.head, x - side.sign * (half - wide / 2), x + half
    if cluster.stemmed:
        items.append(Line(at, start, at, tip, wide, Role.INK, source))
        if cluster.group < 0 and FLAGS[value.base]:
            name = flag_name(value.base, side.above)
            items.append(pen.glyph(m, name, at - wide / 2, tip, Role.INK, source, RHYTHM_FLAG))
    for dot in range(value.dots):
        items.append(
            pen.glyph(m, "augmentationDot", edge + 0.25 + 0.5 * dot, side.head, Role.INK, source)
        )
    return items


def _beams(draft: Draft, index: int, box: MeasureBox, number: int, side: Side) -> None:
    members = [box.clusters[i] for i in box.groups[number]]
    if members[0].event.grace is not None:
        return
    xs = [draft.xs[index][box.column_of[c.onset]] + CENTRE for c in members]
    half = draft.m.defaults["stemThickness"] / 2
    values = [(c.onset, FLAGS[c.event.value.base], c.event.value.ticks) for c in members]
    tip = side.tip(max(flags for _, flags, _ in values))
    for level, row in enumerate(beam_levels(values)):
        for first, last, stub in row:
            left, right = xs[first] - half, xs[last] + half
            if stub > 0:
                right = left + 1.0
            elif stub < 0:
                left = right - 1.0
            y = tip - side.sign * level * STEP
            inner = y - side.sign * BEAM
            draft.items.append(
                Fill(
                    ((left, y), (right, y), (right, inner), (left, inner)),
                    Role.INK, members[first].event.id,
                )
            )  # fmt: skip
