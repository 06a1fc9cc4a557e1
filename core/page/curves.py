"""Ties and slurs: curved lines between notes, over line breaks too.

Shapes from memory of the handbooks (engraving.md): height .5 to 2, ends clear of the head by .2,
on the side away from the stems; in two voices towards the outside.
"""

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Line, Role
from core.model import Span
from core.page import pen
from core.page.cluster import Cluster, Head
from core.page.draft import Draft, EventAt, NoteAt
from core.page.setting import SpanPart

CLEAR = 0.2
SHORT_TIE = 0.8
HEAD_CLEAR = (
    0.27  # spaces between a slur and the heads under it: .25 (engraving.md, 9) and a little
)
STEEP = 0.2  # nearer its ends (as a share of its height) a slur clears heads only by moving away
TAB_ARC = 0.75  # spaces from the line of a figure to the ends of an arc over it
SAMPLES = 12  # pieces in which a slur enters the outline
LOOSE_END = 2.2  # spaces a tie reaches where the next note is on another line
JOINED = ("hammer-on", "pull-off")
CURVED = ("slur", "phrase", "hammer-on", "pull-off")


def draw_ties(draft: Draft) -> None:
    """Every tie of the system, with the halves that come from or go to another line."""
    rows: dict[int, list[Cluster]] = {}
    for box in draft.row:
        for cluster in box.clusters:
            if cluster.event.grace is None:
                rows.setdefault(cluster.voice, []).append(cluster)
    for voice in sorted(rows):
        events = rows[voice]
        for index, cluster in enumerate(events):
            following = events[index + 1] if index + 1 < len(events) else None
            for head in cluster.heads:
                if head.note.tied:
                    _tie(draft, cluster, head, following)
    first = draft.row[0]
    for voice, pitch in first.context.tied_in:
        events = [c for c in first.clusters if c.voice == voice and c.event.grace is None]
        for head in events[0].heads if events else ():
            if head.note.pitch == pitch:
                at = draft.notes[head.note.id]
                start = max(at.left - LOOSE_END, draft.header_width - 0.9)
                _tie_curve(draft, (start, at.y), (at.left - CLEAR, at.y), events[0], head)


def _tie(draft: Draft, cluster: Cluster, head: Head, following: Cluster | None) -> None:
    at = draft.notes[head.note.id]
    start = (at.right + CLEAR, at.y)
    if following is None:
        _tie_curve(draft, start, (max(draft.width - 0.4, start[0] + 1.0), at.y), cluster, head)
        return
    alike = [h for h in cluster.heads if h.note.pitch == head.note.pitch]
    others = [h for h in following.heads if h.note.pitch == head.note.pitch]
    if others:  # of two strings in unison each keeps to its own
        other = others[min(alike.index(head), len(others) - 1)]
        to = draft.notes[other.note.id]
        _tie_curve(draft, start, (to.left - CLEAR, to.y), cluster, head)


def tie_side(cluster: Cluster, head: Head) -> float:
    """-1 curves upwards, 1 downwards: away from the stem; in chords the upper half upwards."""
    if not cluster.free and len({h.pos for h in cluster.heads}) == 1:
        return -1.0 if cluster.up else 1.0
    if len(cluster.heads) == 1:
        return 1.0 if cluster.up else -1.0
    order = sorted(h.pos for h in cluster.heads)
    rank = order.index(head.pos)
    if 2 * rank == len(order) - 1:
        return 1.0 if cluster.up else -1.0
    return -1.0 if rank >= len(order) / 2 else 1.0


def _tie_curve(
    draft: Draft,
    start: tuple[float, float],
    end: tuple[float, float],
    cluster: Cluster,
    head: Head,
) -> None:
    side = tie_side(cluster, head)
    if end[0] - start[0] < SHORT_TIE:  # heads close together: from head to head, above both
        middle, half = (start[0] + end[0]) / 2, max(end[0] - start[0] + 0.6, 0.6) / 2
        start, end = (middle - half, start[1] + side * 0.2), (middle + half, end[1] + side * 0.2)
    length = end[0] - start[0]
    outer = head.pos == cluster.high if side < 0 else head.pos == cluster.low
    lift = side * (0.35 if outer and length < 30 else 0.12)
    inset = -0.35 if outer and length > 1.6 else 0.0  # outer ties begin over the heads
    height = side * min(0.35 + 0.055 * length, 1.1)
    a = (start[0] + inset, start[1] + lift)
    b = (end[0] - inset, end[1] + lift)
    draft.put(
        [pen.lens(a, b, height, thickness=draft.m.defaults["tieMidpointThickness"],
                  source=head.note.id)],
        (a[0], min(a[1], a[1] + height), b[0], max(a[1], a[1] + height)),
    )  # fmt: skip


def draw_let_ring(draft: Draft) -> None:
    """Short open ties after notes that ring on."""
    for box in draft.row:
        for cluster in box.clusters:
            for head in cluster.heads:
                if head.note.let_ring and not head.note.tied:
                    at = draft.notes[head.note.id]
                    start = (at.right + CLEAR + _dots(draft, cluster), at.y)
                    _tie_curve(draft, start, (start[0] + 1.9, at.y), cluster, head)


def _dots(draft: Draft, cluster: Cluster) -> float:
    """The room dots take beside a head: an open tie begins after them."""
    dots = cluster.event.value.dots
    return 0.5 + dots * (draft.m.advances["augmentationDot"] + 0.1) if dots else 0.0


def draw_slurs(draft: Draft, spans: Sequence[SpanPart]) -> None:
    """Slurs, phrases, hammer-ons and pull-offs; slides as lines between heads."""
    for part in spans:
        if part.span.kind in JOINED and draft.tab_notes:
            _tab_arc(draft, part)
        elif part.span.kind in CURVED:
            _slur(draft, part)
        elif part.span.kind == "slide":
            _slide(draft, part)


def end_of(draft: Draft, source: int) -> tuple[EventAt, NoteAt | None] | None:
    """Where a span's end stands: its event, and its note where it names one."""
    event = draft.find(source)
    return None if event is None else (event, draft.notes.get(source))


def _slur(draft: Draft, part: SpanPart) -> None:
    span = part.span
    begin = end_of(draft, span.start) if part.begins else None
    finish = end_of(draft, span.end) if part.ends else None
    if (part.begins and begin is None) or (part.ends and finish is None):
        return
    known = [end for end in (begin, finish) if end is not None]
    side = _slur_side(draft, span, [event for event, _ in known])
    left = _slur_point(begin, side, first=True) if begin else (draft.header_width - 0.8, None)
    right = _slur_point(finish, side, first=False) if finish else (draft.width - 0.3, None)
    outline = draft.above if side < 0 else draft.below
    edge = -1.2 if side < 0 else 5.2
    y0 = left[1] if left[1] is not None else (right[1] if right[1] is not None else edge)
    y1 = right[1] if right[1] is not None else y0
    a, b = (left[0], y0), (max(right[0], left[0] + 1.0), y1)
    a, b, height = _over_heads(draft, part, a, b, _slur_height(draft, a, b, side))
    thick = draft.m.defaults["slurMidpointThickness"]
    curve = pen.lens(a, b, height, thickness=thick, source=span.id)
    draft.items += pen.dotted(curve) if span.optional else [curve]
    for number in range(1, SAMPLES):
        t = number / SAMPLES
        bulge = 3 * t * (1 - t) * height * 4 / 3
        x, y = a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]) + bulge
        half = (b[0] - a[0]) / SAMPLES / 2
        outline.add((x - half, y - 0.15, x + half, y + 0.15))


def _over_heads(
    draft: Draft, part: SpanPart, a: tuple[float, float], b: tuple[float, float], height: float
) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Ends and height of a slur that clears every head between its first and last note: a higher
    one, and where that would become too steep one that is moved away as a whole."""
    side = -1.0 if height < 0 else 1.0
    length, thick = b[0] - a[0], draft.m.defaults["slurMidpointThickness"]
    inset = 0.25 if length < 8 else 0.2  # as pen.lens draws it
    wanted: list[tuple[float, float]] = []  # (4 t (1 - t), how far outside the straight line)
    for note in _inner_notes(draft, part):
        edge = side * note.y + (0.62 if note.right - note.left > 1.3 else 0.5) + HEAD_CLEAR
        if note.right < a[0] or b[0] < note.left:
            continue
        for x in (note.left - 0.02, note.right + 0.02):
            share = min(max((x - a[0]) / length, 0.0), 1.0)
            t = _parameter(share, inset)
            straight = side * (a[1] + share * (b[1] - a[1]))
            wanted.append((4 * t * (1 - t), edge - straight))
    tall = max((out / bulge for bulge, out in wanted if bulge > STEEP), default=0.0) + thick / 2
    tall = max(abs(height), min(tall, 1.2 + length / 6))
    left = max((out - bulge * (tall - thick / 2) for bulge, out in wanted), default=0.0)
    aside = side * max(left, 0.0)
    return (a[0], a[1] + aside), (b[0], b[1] + aside), side * tall


def _inner_notes(draft: Draft, part: SpanPart) -> list[NoteAt]:
    """The notes that sound after a span's first and before its last moment."""
    moments = {
        cluster.event.id: (place, cluster.onset)
        for place, box in enumerate(draft.row)
        for cluster in box.clusters
    }
    ends = [draft.notes.get(source) for source in (part.span.start, part.span.end)]
    start = ends[0].event if ends[0] else part.span.start
    finish = ends[1].event if ends[1] else part.span.end
    first, last = moments.get(start, (-1, 0)), moments.get(finish, (len(draft.row), 0))
    return [note for note in draft.notes.values() if first < moments[note.event] < last]


def _parameter(share: float, inset: float) -> float:
    """The parameter at which a slur has gone `share` of its way across."""
    low, high = 0.0, 1.0
    for _ in range(20):
        t = (low + high) / 2
        across = 3 * t * (1 - t) ** 2 * inset + 3 * t * t * (1 - t) * (1 - inset) + t**3
        low, high = (t, high) if across < share else (low, t)
    return (low + high) / 2


def _slur_side(draft: Draft, span: Span, events: Sequence[EventAt]) -> float:
    """-1 above, 1 below: outside in two voices, else on the side of the heads; above if mixed."""
    if any(event.fixed for event in events):
        return -1.0 if events[0].up else 1.0
    return 1.0 if events and all(event.up for event in events) else -1.0


def _slur_point(
    end: tuple[EventAt, NoteAt | None], side: float, *, first: bool
) -> tuple[float, float | None]:
    """Where a slur touches its first or last note: over the head, or beside the stem's tip."""
    event, note = end
    stem_side = (side < 0) == event.up
    if not stem_side:
        y = event.top - 0.3 if side < 0 else event.bottom + 0.3
        return (event.x, y)
    if note is not None and event.solo:
        y = note.y + side * 0.75
        return (note.right + 0.1, y) if first else (note.left - 0.1, y)
    y = event.tip + side * 0.35
    return (event.right if event.up else event.left, y)


def _slur_height(
    draft: Draft, a: tuple[float, float], b: tuple[float, float], side: float
) -> float:
    """High enough to clear what lies under it by a quarter of a space, within reason."""
    length = b[0] - a[0]
    need = min(0.6 + 0.05 * length, 2.0)
    outline = draft.above if side < 0 else draft.below
    steps = max(4, min(int(length), 40))
    for number in range(1, steps):
        share = number / steps
        x = a[0] + share * length
        if min(x - a[0], b[0] - x) < max(1.2, 0.14 * length):
            continue  # the ends stand by their own notes
        straight = a[1] + share * (b[1] - a[1])
        reach = outline.reach(x, x + 0.01)
        over = side * (reach - straight) + 0.4
        bulge = min(3 * share * (1 - share) * 4 / 3, 1.0)  # of a cubic with level controls
        need = max(need, over / max(bulge, 0.6))
    return side * min(need, 1.2 + length / 6)


def _tab_arc(draft: Draft, part: SpanPart) -> None:
    """On a tab alone a hammer-on or pull-off is an arc over its two figures."""
    begin = draft.tab_notes.get(part.span.start) if part.begins else None
    finish = draft.tab_notes.get(part.span.end) if part.ends else None
    if begin is None and finish is None:
        return
    y0, y1 = (begin or finish).y, (finish or begin).y  # type: ignore[union-attr]
    left = (begin.left + begin.right) / 2 if begin else draft.header_width - 0.8
    right = (finish.left + finish.right) / 2 if finish else draft.width - 0.3
    a, b = (left, y0 - TAB_ARC), (max(right, left + 1.0), y1 - TAB_ARC)
    height = -min(0.4 + 0.04 * (b[0] - a[0]), 0.9)
    thick = draft.m.defaults["slurMidpointThickness"]
    curve = pen.lens(a, b, height, thickness=thick, source=part.span.id)
    draft.items += pen.dotted(curve) if part.span.optional else [curve]
    draft.above.add((a[0], min(a[1], b[1]) + height, b[0], max(a[1], b[1])))


def _slide(draft: Draft, part: SpanPart) -> None:
    """A line between two heads (on a tab alone between two figures)."""
    notes = draft.notes or draft.tab_notes
    begin = notes.get(part.span.start) if part.begins else None
    finish = notes.get(part.span.end) if part.ends else None
    if begin is None and finish is None:
        return
    left = begin.right if begin else draft.header_width - 0.8
    right = finish.left if finish else draft.width - 0.3
    if right - left < 0.6:  # heads close together: a short stroke between them
        left, right = (left + right) / 2 - 0.3, (left + right) / 2 + 0.3
    y0, y1 = (begin or finish).y, (finish or begin).y  # type: ignore[union-attr]
    rise = 0.3 if y1 > y0 else (-0.3 if y1 < y0 else 0.0)
    inset = min(0.25, 0.15 * (right - left))
    draft.items.append(
        Line(
            left + inset, y0 + rise, right - inset, y1 - rise,
            0.14 * draft.style.line_weight, Role.INK, part.span.id,
        )
    )  # fmt: skip
