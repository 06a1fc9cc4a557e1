"""One moment of a measure: every sign that stands at it, relative to its column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from core.display.items import Line, Role
from core.model import Arpeggio, Breath, Event
from core.page import fingering, pen, tab_column
from core.page.accidentals import Shown, stacked
from core.page.cluster import CENTRE, GRACE_SIZE, Cluster, Head
from core.page.glyphs import ACCIDENTALS, FLAGS, RESTS, flag_name
from core.page.metrics import Metrics
from core.page.moment import Column, Draft, head_role
from core.page.staff import leger_lines, y_of
from core.page.stems import single_tip
from core.page.style import PageStyle


def build(
    onset: int,
    present: Sequence[Cluster],
    shown: Mapping[int, Shown],
    held: frozenset[int],
    style: PageStyle,
    m: Metrics,
) -> Column:
    """The column of one onset. `shown` are the accidentals, `held` the ids of notes tied into."""
    draft = Draft(style, m)
    mains = [c for c in present if not c.beside]
    if style.staff:
        _notes(draft, [c for c in mains if c.heads], shown, held)
        _rests(draft, mains)
        for cluster in sorted((c for c in present if c.beside), key=lambda c: c.beside):
            _grace(draft, cluster, shown)
    if style.tab:
        tab_column.draw_tab(draft, mains, held)
        for cluster in (c for c in present if c.beside):
            tab_column.draw_grace(draft, cluster)
    return draft.done(onset)


def _notes(
    draft: Draft, clusters: Sequence[Cluster], shown: Mapping[int, Shown], held: frozenset[int]
) -> None:
    for cluster in clusters:
        for head in cluster.heads:
            draft.glyph(head.name, cluster.x + head.x, head.y, head_role(head.note), head.note.id)
    _legers(draft, clusters)
    left = _accidentals(draft, clusters, shown)
    for cluster in clusters:
        _dots(draft, cluster, clusters)
        _stem_rods(draft, cluster)
    if draft.style.show_fingers:
        fingering.draw_fingers(draft, clusters, left, held)
    _arpeggio(draft, clusters)
    _breaths(draft, clusters)


def _legers(draft: Draft, clusters: Sequence[Cluster]) -> None:
    """Leger lines reach `legerLineExtension` past the heads that need them."""
    reach: dict[int, tuple[float, float]] = {}
    for cluster in clusters:
        for head in cluster.heads:
            left = cluster.x + head.x
            right = left + draft.m.advances[head.name]
            for at in leger_lines(head.pos):
                old = reach.get(at, (left, right))
                reach[at] = (min(old[0], left), max(old[1], right))
    past = draft.m.defaults["legerLineExtension"]
    width = draft.m.defaults["legerLineThickness"] * draft.style.line_weight
    for at, (left, right) in sorted(reach.items()):
        y = y_of(at)
        draft.items.append(Line(left - past, y, right + past, y, width, Role.STAFF))
        draft.rods.append((left - past, y - 0.1, right + past, y + 0.1))


def _accidentals(
    draft: Draft, clusters: Sequence[Cluster], shown: Mapping[int, Shown]
) -> dict[int, float]:
    """Draw the accidentals of a column; returns note id -> left edge of its accidental."""
    wanted = [(c, h) for c in clusters for h in c.heads if h.note.id in shown]
    edges: dict[int, float] = {}
    if not wanted:
        return edges
    heads_left = min(c.x + h.x for c in clusters for h in c.heads)
    columns = stacked([head.pos for _, head in wanted])
    right = heads_left - 0.2
    for number in range(max(columns) + 1):
        members = [w for w, column in zip(wanted, columns, strict=True) if column == number]
        widest = 0.0
        for _, head in members:
            width = _accidental(draft, head, shown[head.note.id], right)
            edges[head.note.id] = right - width
            widest = max(widest, width)
        right -= widest + 0.12
    return edges


def _accidental(draft: Draft, head: Head, how: Shown, right: float) -> float:
    """One accidental ending at `right`; returns its width with parentheses or brackets."""
    name = ACCIDENTALS[head.note.pitch.alter]
    pair = {"courtesy": "accidentalParens", "editorial": "accidentalBracket"}.get(how)
    x, role = right, head_role(head.note)
    if pair:
        x -= draft.m.advances[pair + "Right"]
        draft.glyph(pair + "Right", x, head.y, role)
    x -= draft.m.advances[name]
    draft.glyph(name, x, head.y, role)
    if pair:
        x -= draft.m.advances[pair + "Left"]
        draft.glyph(pair + "Left", x, head.y, role)
    return right - x


def _dots(draft: Draft, cluster: Cluster, every: Sequence[Cluster]) -> None:
    """Dots in the space of their head, or the space above a line (below it in a lower voice);
    right of every head of the column that is near."""
    dots = cluster.event.value.dots
    if not dots:
        return
    near = [
        other.x + head.x + draft.m.advances[head.name]
        for other in every
        for head in other.heads
        if cluster.low - 2 <= head.pos <= cluster.high + 2
    ]
    x = max(near) + 0.3
    if cluster.up and cluster.group < 0 and FLAGS[cluster.event.value.base]:
        x = max(x, cluster.x + 2.15)  # right of the flag
    taken: set[int] = set()
    down = not cluster.free and not cluster.up
    heads = cluster.heads if down else cluster.heads[::-1]
    for head in heads:
        at = head.pos
        if at % 2 == 0:
            at += -1 if down else 1
        if at in taken:
            at += 2 if down else -2
        taken.add(at)
        for number in range(dots):
            draft.glyph("augmentationDot", x + 0.55 * number, y_of(at), head_role(head.note))


def _stem_rods(draft: Draft, cluster: Cluster) -> None:
    """Room for a stem of the usual length, and for the flag."""
    if not cluster.stemmed:
        return
    anchor = draft.m.advances["noteheadBlack"]
    x = cluster.x + (anchor if cluster.up else 0.0)
    tip = y_of(cluster.high) - 3.5 if cluster.up else y_of(cluster.low) + 3.5
    if cluster.group < 0:
        tip = single_tip(cluster)
    top, bottom = sorted((tip, y_of(cluster.low if cluster.up else cluster.high)))
    draft.rods.append((x - 0.06, top, x + 0.06, bottom))
    if cluster.group < 0 and FLAGS[cluster.event.value.base]:
        name = flag_name(cluster.event.value.base, cluster.up)
        draft.rods.append(pen.glyph_rect(draft.m, name, x - 0.06, tip))


def _arpeggio(draft: Draft, clusters: Sequence[Cluster]) -> None:
    """A wavy line left of everything, along all heads of the events that are broken together."""
    marked = [(c, m) for c in clusters for m in c.event.marks if isinstance(m, Arpeggio)]
    if not marked:
        return
    mark = marked[0][1]
    ys = [h.y for c, _ in marked for h in c.heads]
    top, bottom = min(ys) - 0.7, max(ys) + 0.7
    x = min(rod[0] for rod in draft.rods) - 0.65
    source = marked[0][0].event.id
    draft.items += pen.wave(x, top, bottom, source)
    if mark.roll:
        draft.items.append(Line(x - 0.5, top, x - 0.5, bottom, 0.14, Role.INK, source))
    if mark.direction:
        down = mark.direction == "down"
        tip, back = (bottom + 0.6, -0.8) if down else (top - 0.6, 0.8)
        draft.items.append(pen.arrow_head(x, tip, back, source))
    draft.rods.append((x - (0.6 if mark.roll else 0.35), top - 0.6, x + 0.35, bottom + 0.6))


def _breaths(draft: Draft, clusters: Sequence[Cluster]) -> None:
    """Breath marks at the top line, right of everything."""
    for cluster in clusters:
        for mark in cluster.event.marks:
            if isinstance(mark, Breath):
                comma = mark.kind == "comma"
                x = max(rod[2] for rod in draft.rods) + 0.45
                name = "breathMarkComma" if comma else "caesura"
                draft.glyph(name, x, 0.2 if comma else 1.0, Role.INK, cluster.event.id)


def rest_step(event: Event, voice: int, alone: bool) -> int:
    """Where a rest stands, in steps above the middle line, before it yields to other voices."""
    if event.rest_line is not None:
        return event.rest_line
    return 0 if alone else (4 if voice % 2 == 0 else -4)


def _rests(draft: Draft, clusters: Sequence[Cluster]) -> None:
    resting = [c for c in clusters if c.event.is_rest and not (c.event.hidden or c.fills)]
    if not resting:
        return
    together = len(resting) == len(clusters) and len({c.event.value for c in resting}) == 1
    if together:
        resting = resting[:1]
    for cluster in resting:
        alone = cluster.free or together
        step = rest_step(cluster.event, cluster.voice, alone)
        if cluster.voice > 1 and any(c.heads for c in clusters):
            _inner_rest(draft, cluster.event, clusters)
            continue
        if not alone and cluster.event.rest_line is None:
            step = _clear_step(draft, cluster, clusters, step)
        rest_glyphs(draft, cluster.event, step, CENTRE)


def _clear_step(draft: Draft, mine: Cluster, clusters: Sequence[Cluster], step: int) -> int:
    """Move a rest outwards, by whole spaces, until it stands clear of the other voices' heads."""
    upper = mine.voice % 2 == 0
    others = [h.pos for c in clusters if c.voice != mine.voice for h in c.heads]
    tips = [c for c in clusters if c.stemmed and c.up == upper and c.voice != mine.voice]
    others += [c.high + 7 if upper else c.low - 7 for c in tips]
    _, bottom, _, top = draft.m.boxes[RESTS[mine.event.value.base]]
    while others and abs(step) < 24:
        if upper and step + 2 * bottom >= max(others) + 1.4:
            break
        if not upper and step + 2 * top <= min(others) - 1.4:
            break
        step += 2 if upper else -2
    return step


def _inner_rest(draft: Draft, event: Event, clusters: Sequence[Cluster]) -> None:
    """A third or fourth voice's rest stands right of the other voices' notes."""
    right = max(rod[2] for rod in draft.rods) if draft.rods else 0.0
    left, _, wide, _ = draft.m.boxes[RESTS[event.value.base]]
    positions = [h.pos for c in clusters for h in c.heads]
    step = 2 * round((min(positions) + max(positions)) / 4)
    rest_glyphs(draft, event, max(-4, min(4, step)), right + 0.2 + (wide - left) / 2)


def rest_glyphs(
    draft: Draft, event: Event, step: int, centre: float, *, whole: bool = False
) -> None:
    """A rest about `centre`, with its dots; whole rests hang from the line above."""
    name = "restWhole" if whole else RESTS[event.value.base]
    hung = name == "restWhole"
    at = step + 2 if hung else step
    if name in ("restWhole", "restHalf") and not -4 <= at <= 4:
        name += "LegerLine"
    left, _, right, _ = draft.m.boxes[name]
    rect = draft.glyph(name, centre - (left + right) / 2, y_of(at), Role.INK, event.id)
    for number in range(0 if whole else event.value.dots):
        draft.glyph("augmentationDot", rect[2] + 0.25 + 0.55 * number, y_of(step + 1))


def _grace(draft: Draft, cluster: Cluster, shown: Mapping[int, Shown]) -> None:
    """Grace notes stand, small, to the left of everything placed so far."""
    if not cluster.heads:
        return
    m = draft.m
    width = m.advances["noteheadBlack"] * GRACE_SIZE
    x = grace_x(draft)
    draft.graces.append((cluster.event.id, x))
    for head in cluster.heads:
        role = head_role(head.note)
        draft.glyph(head.name, x + head.x, head.y, role, head.note.id, GRACE_SIZE)
        for at in leger_lines(head.pos):
            draft.items.append(
                Line(x - 0.25, y_of(at), x + width + 0.25, y_of(at), 0.13, Role.STAFF)
            )
        if head.note.id in shown:
            name = ACCIDENTALS[head.note.pitch.alter]
            wide = m.advances[name] * GRACE_SIZE
            draft.glyph(name, x - 0.15 - wide, head.y, role, 0, GRACE_SIZE)
    draft.rods.append((x, y_of(cluster.high) - 2.4, x + width, y_of(cluster.low)))


def grace_x(draft: Draft) -> float:
    """Where the next grace note to the left goes."""
    left = min((rod[0] for rod in draft.rods), default=0.0)
    return left - 0.45 - draft.m.advances["noteheadBlack"] * GRACE_SIZE - 0.3
