"""One moment of a measure: every sign that stands at it, relative to its column."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Mapping, Sequence

from core.display.items import Line, Role
from core.model import Arpeggio, Breath, Event, Key, Value
from core.page import fingering, names, pen, tab_column
from core.page.accidentals import Shown, shape, stacked
from core.page.cluster import CENTRE, GRACE_SIZE, Cluster, Head
from core.page.glyphs import ACCIDENTALS, FLAGS, RESTS, backing_name, flag_name
from core.page.metrics import Metrics
from core.page.moment import Column, Draft, head_role
from core.page.pen import Rect
from core.page.staff import leger_lines, y_of
from core.page.stems import single_tip
from core.page.style import PageStyle

CLEAR = 1.0  # steps between a rest and the heads and stems of other voices
BEAMED_Y = -70.0
GRACE_CLEAR = 0.4  # spaces before a grace note, so that it leans on the note it belongs to
INNER = 2  # steps from the middle to the rests of a third and fourth voice


def build(
    onset: int,
    present: Sequence[Cluster],
    key: Key,
    shown: Mapping[int, Shown],
    held: frozenset[int],
    style: PageStyle,
    m: Metrics,
    active: int = 0,
) -> Column:
    """The column of one onset. `shown` are the accidentals, `held` the ids of notes tied into,
    `active` how many voices sound or rest there (0: no more than begin there)."""
    draft = Draft(style, m)
    mains = [c for c in present if not c.beside]
    if style.staff:
        _notes(draft, [c for c in mains if c.heads], shown, held)
        _rests(draft, mains, active or len(mains))
        _breaths(draft, [c for c in mains if c.heads])
        for cluster in sorted((c for c in present if c.beside), key=lambda c: c.beside):
            _grace(draft, cluster, shown)
    if style.tab:
        tab_column.draw_tab(draft, mains, held)
        for cluster in sorted((c for c in present if c.beside), key=lambda c: c.beside):
            tab_column.draw_grace(draft, cluster)
    if not style.staff:
        for cluster in mains:
            draft.rods += tab_column.rhythm_rods(m, cluster)
    names.reserve(draft, mains, held, key)
    draft.tab_rods += [rod for cluster in mains for rod in _beamed_rod(cluster, m)]
    return draft.done(onset)


def _notes(
    draft: Draft, clusters: Sequence[Cluster], shown: Mapping[int, Shown], held: frozenset[int]
) -> None:
    _legers(draft, clusters)
    for cluster in clusters:
        for head in cluster.heads:
            _head(draft, head, cluster.x + head.x)
    left = _accidentals(draft, clusters, shown)
    for cluster in clusters:
        _stem_rods(draft, cluster)
    for cluster in clusters:
        if not _dots_shared(cluster, clusters):
            _dots(draft, cluster, clusters)
    if draft.style.show_fingers:
        fingering.draw_fingers(draft, clusters, left, held)
    _arpeggio(draft, clusters)


def _head(draft: Draft, head: Head, x: float) -> None:
    """A notehead; behind one with a letter, paper."""
    paper = backing_name(head.name)
    if paper:
        draft.items.append(pen.glyph(draft.m, paper, x, head.y, Role.BLANK, 0, head.size))
    draft.glyph(head.name, x, head.y, head_role(head.note), head.note.id, head.size)


def _legers(draft: Draft, clusters: Sequence[Cluster]) -> None:
    """Leger lines reach `legerLineExtension` past the heads that need them; those of heads side
    by side are one line."""
    wanted: dict[int, list[tuple[float, float]]] = {}
    for cluster in clusters:
        for head in cluster.heads:
            inked = draft.m.boxes[head.name]
            x = cluster.x + head.x
            for at in leger_lines(head.pos):
                wanted.setdefault(at, []).append(
                    (x + inked[0] * head.size, x + inked[2] * head.size)
                )
    past = draft.m.defaults["legerLineExtension"]
    width = draft.m.defaults["legerLineThickness"] * draft.style.line_weight
    for at, reaches in sorted(wanted.items()):
        y = y_of(at)
        for left, right in _merged(reaches, 2 * past):
            draft.items.append(Line(left - past, y, right + past, y, width, Role.STAFF))
            draft.rods.append((left - past, y - 0.1, right + past, y + 0.1))


def _merged(reaches: list[tuple[float, float]], gap: float) -> list[tuple[float, float]]:
    """Stretches from left to right, those nearer than `gap` made one."""
    row: list[tuple[float, float]] = []
    for left, right in sorted(reaches):
        if row and left < row[-1][1] + gap:
            row[-1] = (row[-1][0], max(row[-1][1], right))
        else:
            row.append((left, right))
    return row


def _accidentals(
    draft: Draft, clusters: Sequence[Cluster], shown: Mapping[int, Shown]
) -> dict[int, float]:
    """Draw the accidentals of a column; returns note id -> left edge of its accidental."""
    wanted = [(c, h) for c in clusters for h in c.heads if h.note.id in shown]
    edges: dict[int, float] = {}
    if not wanted:
        return edges
    right = min(c.x + h.x for c in clusters for h in c.heads) - 0.2
    made = [_accidental(draft.m, head, shown[head.note.id]) for _, head in wanted]
    bars = [tuple(bar for _, _, shape in signs for bar in shape) for signs in made]
    places = stacked([(h.pos, b) for (_, h), b in zip(wanted, bars, strict=True)])
    for (_, head), signs, ink, x in zip(wanted, made, bars, places, strict=True):
        for name, dx, _ in signs:
            draft.glyph(name, right + x + dx, head.y, head_role(head.note), head.note.id)
        edges[head.note.id] = right + x + min(bar[0] for bar in ink)
    return edges


def _accidental(m: Metrics, head: Head, how: Shown) -> list[tuple[str, float, tuple[Rect, ...]]]:
    """The glyphs of one accidental from left to right: name, x, bars of ink; parentheses and
    brackets are whole boxes."""
    name = ACCIDENTALS[head.note.pitch.alter]
    pair = {"courtesy": "accidentalParens", "editorial": "accidentalBracket"}.get(how)
    names = (pair + "Left", name, pair + "Right") if pair else (name,)
    signs: list[tuple[str, float, tuple[Rect, ...]]] = []
    x = 0.0
    for one in names:
        bars = tuple((a + x, b, c + x, d) for a, b, c, d in shape(m, one))
        signs.append((one, x, bars))
        x += m.advances[one]
    return signs


def _dots_shared(mine: Cluster, clusters: Sequence[Cluster]) -> bool:
    """Whether a voice before has the same heads at the same place, and so the same dots."""
    before = clusters[: next(i for i, c in enumerate(clusters) if c is mine)]
    heads = [(h.pos, mine.x + h.x) for h in mine.heads]
    return any(
        other.event.value.dots == mine.event.value.dots
        and heads == [(h.pos, other.x + h.x) for h in other.heads]
        for other in before
    )


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
    down = not cluster.free and not cluster.up
    wide = draft.m.width("augmentationDot")
    places: list[tuple[Head, int]] = []
    for head in cluster.heads if down else cluster.heads[::-1]:
        at = head.pos
        if at % 2 == 0:
            at += -1 if down else 1
        if any(at == other for _, other in places):
            at += 2 if down else -2
        if not any(at == other for _, other in places):
            places.append((head, at))
    for _, at in places:  # right of flags and of other voices' dots
        y = y_of(at)
        row = [r for r in draft.rods if r[1] < y + 0.25 and y - 0.25 < r[3] and r[0] < x + 1.5]
        for rod in sorted(row):
            if rod[0] < x + 0.55 * dots + wide and x < rod[2] + 0.1 and rod[2] > 0.3:
                x = rod[2] + 0.15
    for head, at in places:
        for number in range(dots):
            role = head_role(head.note)
            draft.glyph("augmentationDot", x + 0.55 * number, y_of(at), role, head.note.id)


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


def _beamed_rod(cluster: Cluster, m: Metrics) -> list[Rect]:
    """What keeps the stems under one beam in order, also where a voice has moved aside; at a
    height of its own, far from everything else."""
    if cluster.group < 0 or not cluster.stemmed:
        return []
    x = cluster.x + (m.advances["noteheadBlack"] if cluster.up else 0.0)
    y = BEAMED_Y - 2 * cluster.voice
    return [(x - 0.25, y, x + 0.25, y + 1)]


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


def _rests(draft: Draft, clusters: Sequence[Cluster], active: int) -> None:
    """Rests, one for voices that rest alike: in the middle where all do, else out of the way."""
    resting = [c for c in clusters if c.event.is_rest and not (c.event.hidden or c.fills)]
    if not resting:
        return
    together = len(resting) == active and len({c.event.value for c in resting}) == 1
    for cluster in resting[:1] if together else _unlike(resting):
        alone = cluster.free or together
        step = rest_step(cluster.event, cluster.voice, alone)
        if cluster.voice > 1 and not alone:
            _inner_rest(draft, cluster)
            continue
        if not alone:
            if cluster.event.rest_line is None:
                step = _clear_step(draft, cluster, clusters, step)
            step = _free_step(draft, cluster, step)
        rest_glyphs(draft, cluster.event, step, CENTRE)


def _unlike(resting: Sequence[Cluster]) -> list[Cluster]:
    """Voices whose stems go one way and that rest alike share one rest."""
    kept: dict[tuple[int, Value], Cluster] = {}
    for cluster in resting:
        kept.setdefault((cluster.voice % 2, cluster.event.value), cluster)
    return list(kept.values())


def _free_step(draft: Draft, mine: Cluster, step: int) -> int:
    """Further outwards while a rest would touch what the column already holds."""
    for _ in range(16):
        if not _crowded(draft, mine.event, step):
            break
        step += 2 if mine.voice % 2 == 0 else -2
    return step


def _clear_step(draft: Draft, mine: Cluster, clusters: Sequence[Cluster], step: int) -> int:
    """Move a rest outwards, by whole spaces, until it stands clear of the other voices' heads."""
    upper = mine.voice % 2 == 0
    others = [h.pos for c in clusters if c.voice != mine.voice for h in c.heads]
    tips = [c for c in clusters if c.stemmed and c.up == upper and c.voice != mine.voice]
    others += [c.high + 7 if upper else c.low - 7 for c in tips]
    _, bottom, _, top = draft.m.boxes[RESTS[mine.event.value.base]]
    while others and abs(step) < 24:
        if upper and step + 2 * bottom >= max(others) + CLEAR:
            break
        if not upper and step + 2 * top <= min(others) - CLEAR:
            break
        step += 2 if upper else -2
    return step


def _inner_rest(draft: Draft, mine: Cluster) -> None:
    """A third or fourth voice's rest stands between the outer voices, as near to its own side of
    the middle as there is room; where there is none, right of the notes."""
    near = rest_step(mine.event, mine.voice, True) or (INNER if mine.voice % 2 == 0 else -INNER)
    for step in sorted(range(near - 6, near + 7, 2), key=lambda step: abs(step - near)):
        if not _crowded(draft, mine.event, step):
            rest_glyphs(draft, mine.event, step, CENTRE)
            return
    right = max(rod[2] for rod in draft.rods) if draft.rods else 0.0
    left, _, wide, _ = draft.m.boxes[RESTS[mine.event.value.base]]
    rest_glyphs(draft, mine.event, near, right + 0.2 + (wide - left) / 2)


def _crowded(draft: Draft, event: Event, step: int) -> bool:
    """Whether a rest at a step, with its dots, would come near what the column already holds."""
    name, at = _rest_glyph(event, step)
    left, _, right, _ = draft.m.boxes[name]
    rects = [pen.glyph_rect(draft.m, name, CENTRE - (left + right) / 2, y_of(at))]
    if event.value.dots:
        edge, y = rects[0][2], y_of(step + 1)
        rects.append((edge + 0.2, y - 0.2, edge + 0.7 + 0.55 * (event.value.dots - 1), y + 0.2))
    return any(pen.overlap(rect, rod, 0.1) for rod in draft.rods for rect in rects)


def _rest_glyph(event: Event, step: int, *, whole: bool = False) -> tuple[str, int]:
    """The glyph of a rest and the step of its origin: whole rests hang from the line above."""
    name = "restWhole" if whole else RESTS[event.value.base]
    at = step + 2 if name == "restWhole" else step
    if name in ("restWhole", "restHalf") and not -4 <= at <= 4:
        name += "LegerLine"
    return name, at


def rest_glyphs(
    draft: Draft, event: Event, step: int, centre: float, *, whole: bool = False
) -> None:
    """A rest about `centre`, with its dots; whole rests hang from the line above."""
    name, at = _rest_glyph(event, step, whole=whole)
    left, _, right, _ = draft.m.boxes[name]
    rect = draft.glyph(name, centre - (left + right) / 2, y_of(at), Role.INK, event.id)
    for number in range(0 if whole else event.value.dots):
        draft.glyph("augmentationDot", rect[2] + 0.25 + 0.55 * number, y_of(step + 1))


def _grace(draft: Draft, cluster: Cluster, shown: Mapping[int, Shown]) -> None:
    """Grace notes stand, small, to the left of everything placed so far."""
    if not cluster.heads:
        _grace_rest(draft, cluster)
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
                Line(
                    x + head.x - 0.25,
                    y_of(at),
                    x + head.x + width + 0.25,
                    y_of(at),
                    0.13,
                    Role.STAFF,
                )
            )
    _grace_accidentals(draft, cluster, x, shown)
    tip = single_tip(cluster)
    top, bottom = sorted((tip, y_of(cluster.low if cluster.up else cluster.high)))
    draft.rods.append((x - GRACE_CLEAR, top, x + width, bottom))
    if cluster.group < 0 and FLAGS[cluster.event.value.base]:
        name = flag_name(cluster.event.value.base, cluster.up)
        left = x + (width if cluster.up else 0.0) - 0.06
        draft.rods.append(pen.glyph_rect(m, name, left, tip, GRACE_SIZE))


def _grace_rest(draft: Draft, cluster: Cluster) -> None:
    """A small rest among grace notes."""
    if cluster.event.hidden or not cluster.event.is_rest:
        return
    name = RESTS[cluster.event.value.base]
    right = draft.m.boxes[name][2] * GRACE_SIZE
    left = min((rod[0] for rod in draft.rods), default=0.0) - 0.2
    draft.graces.append((cluster.event.id, left - right))
    draft.glyph(name, left - right, 2.0, Role.INK, cluster.event.id, GRACE_SIZE)


def _grace_accidentals(
    draft: Draft, cluster: Cluster, x: float, shown: Mapping[int, Shown]
) -> None:
    """Small accidentals left of all heads of a grace note, stacked as large ones are."""
    heads = [h for h in cluster.heads if h.note.id in shown]
    right = x + min((h.x for h in cluster.heads), default=0.0) - 0.15
    bars = [
        tuple(
            tuple(v * GRACE_SIZE for v in bar)
            for bar in shape(draft.m, ACCIDENTALS[h.note.pitch.alter])
        )
        for h in heads
    ]
    places = stacked([(h.pos, b) for h, b in zip(heads, bars, strict=True)])  # type: ignore[misc]
    for head, at in zip(heads, places, strict=True):
        name = ACCIDENTALS[head.note.pitch.alter]
        role = head_role(head.note)
        draft.glyph(name, right + at, head.y, role, head.note.id, GRACE_SIZE)


def grace_x(draft: Draft) -> float:
    """Where the next grace note to the left goes."""
    left = min((rod[0] for rod in draft.rods), default=0.0)
    flag = draft.m.advances["flag8thUp"] * GRACE_SIZE
    return left - 0.1 - draft.m.advances["noteheadBlack"] * GRACE_SIZE - flag
