"""Left-hand finger figures: pinned ones upright and bold, suggested ones light italic.

A figure stands left of its head (and accidental) at its height, those of a chord in one column.
Where a second, close heads of two voices, or accidentals leave no such place, all figures of the
event stand outside it instead, in the order of its notes: in one voice on the side of the heads, of
two voices the upper one's above and the lower one's below (common practice, no source; the bounds
are our own choice). Another finger or place kept beside the first stands before it, small and in
parentheses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from core.display.items import Face, Item, Line, Role
from core.model import Finger, Label, Note
from core.page import pen
from core.page.cluster import Cluster, Head
from core.page.glyphs import FINGERS
from core.page.metrics import Metrics
from core.page.moment import Draft
from core.page.style import PageStyle

FINGER_GAP = 0.22  # spaces between a head (or its accidental) and its finger figure
FINGER_ROOM = 0.9  # room kept for a figure, also for one that may still come
APART = 1.24  # from the middle of a figure to that of the next under it
STRAY = 0.5  # a figure further from the height of its head is read as another note's
FAR = 1.6  # so is one further to the left of its head or accidental
SMALL = 0.66  # of an alternative
CIRCLE = 0.58  # of the string in it


class Figure(Struct, frozen=True, gc=False):
    """The figures of one note, right edge at x 0, middle at y 0, and their width."""

    items: tuple[Item, ...]
    width: float


class Wanted(Struct, frozen=True, gc=False):
    """A head with its figure, or with none yet, and the room it keeps."""

    cluster: Cluster
    head: Head
    drawn: Figure | None
    room: float


class Stand(Struct, frozen=True, gc=False):
    """Where a figure beside its head stands: right edge and middle, and whether that is too far
    from its head."""

    wanted: Wanted
    right: float
    y: float
    crowded: bool


def draw_fingers(
    draft: Draft,
    clusters: Sequence[Cluster],
    edges: Mapping[int, float],
    held: frozenset[int],
) -> None:
    """Figures left of their heads; the events that are too crowded for that are noted in
    `draft.outside`.

    A placed note keeps the room of a figure beside it, also where that stands outside or is still
    to come, so that suggestions repaint and do not re-break.
    """
    wanted = [
        _wanted(draft, cluster, head)
        for cluster in clusters
        for head in cluster.heads
        if head.note.id not in held
        and (head.note.place is not None or seen(draft.style, head.note))
    ]
    if len(wanted) > 1:
        wanted.sort(key=lambda each: -each.head.pos)
    shown = [each for each in wanted if each.drawn is not None]
    kept = [] if len(shown) == len(wanted) else _stands(draft, wanted, edges)
    while True:
        stands = _stands(draft, shown, edges)
        crowded = [s.wanted.cluster for s in stands if s.crowded]
        if not crowded:
            break
        out = max(crowded, key=lambda cluster: len(cluster.heads))
        draft.outside.append(out.event.id)
        kept += [stand for stand in stands if stand.wanted.cluster is out]
        shown = [each for each in shown if each.cluster is not out]
    half, room = 0.6 * draft.style.sign_size, FINGER_ROOM * draft.style.sign_size
    for stand in kept:
        draft.rods.append((stand.right - room, stand.y - half, stand.right, stand.y + half))
    for stand in stands:
        drawn, right, y = stand.wanted.drawn, stand.right, stand.y
        draft.rods.append((right - stand.wanted.room, y - half, right, y + half))
        draft.items += [pen.moved(item, right, y) for item in drawn.items] if drawn else []


def _wanted(draft: Draft, cluster: Cluster, head: Head) -> Wanted:
    room = FINGER_ROOM * draft.style.sign_size
    if not seen(draft.style, head.note):
        return Wanted(cluster, head, None, room)
    drawn = figure(draft.m, draft.style, head.note)
    return Wanted(cluster, head, drawn, max(room, drawn.width))


def seen(style: PageStyle, note: Note) -> bool:
    """Whether a note has something to show."""
    return _label(style, note) is not None or note.alternative is not None


def _label(style: PageStyle, note: Note) -> Label[Finger] | None:
    """The finger of a note where it is shown."""
    shown = note.finger is not None and (note.finger.firm or style.show_suggested)
    return note.finger if shown else None


def _stands(draft: Draft, wanted: Sequence[Wanted], edges: Mapping[int, float]) -> list[Stand]:
    """The nearest places beside the heads at which no figure touches another or anything else."""
    rods = len(draft.rods)
    stands: list[Stand] = []
    half = 0.6 * draft.style.sign_size
    ys = spread([each.head.y for each in wanted], APART * draft.style.sign_size)
    for each, y in zip(wanted, ys, strict=True):
        edge = edges.get(each.head.note.id, each.cluster.x + each.head.x)
        right = _free_left(draft, edge, y, each.room)
        far = edge - FINGER_GAP - right > FAR
        stray = abs(y - each.head.y) > STRAY * draft.style.sign_size
        stands.append(Stand(each, right, y, far or stray or _second(each, wanted)))
        draft.rods.append((right - each.room, y - half + 0.01, right, y + half - 0.01))
    del draft.rods[rods:]
    return stands


def _second(mine: Wanted, wanted: Sequence[Wanted]) -> bool:
    """Whether the next head of the same event that has a figure is a second away or nearer."""
    return any(
        other is not mine and other.cluster is mine.cluster
        and abs(other.head.pos - mine.head.pos) <= 1
        for other in wanted
    )  # fmt: skip


def spread(ys: Sequence[float], apart: float) -> list[float]:
    """Heights from the top down moved as little as may be (least squares) to stand `apart`."""
    if len(ys) < 2:
        return list(ys)
    groups: list[tuple[float, int]] = []  # (sum of heights less their steps, how many)
    for number, y in enumerate(ys):
        total, count = y - number * apart, 1
        while groups and groups[-1][0] / groups[-1][1] > total / count:
            before, many = groups.pop()
            total, count = total + before, count + many
        groups.append((total, count))
    means = [total / count for total, count in groups for _ in range(count)]
    return [mean + number * apart for number, mean in enumerate(means)]


def _free_left(draft: Draft, edge: float, y: float, width: float) -> float:
    """The right edge for a figure at y: left of head, accidental and whatever else is there."""
    half = 0.65 * draft.style.sign_size
    top, bottom = y - half + 0.01, y + half - 0.08
    beside = [rod for rod in draft.rods if rod[1] < bottom and top < rod[3]]
    for rod in sorted(beside, key=lambda rod: -rod[2]):
        if rod[0] < edge and rod[2] > edge - width - 2 * FINGER_GAP:
            edge = rod[0]
    return edge - FINGER_GAP


def figure(m: Metrics, style: PageStyle, note: Note) -> Figure:
    """The finger of a note with the second one of a change, the dash of a guide finger, and the
    alternative, from right to left."""
    size = 1.12 * style.sign_size
    items: list[Item] = []
    left = 0.0
    label = _label(style, note)
    if label is not None:
        role = Role.PINNED if label.firm else Role.SUGGESTED
        left = _finger(m, note, size, items)
        if note.guide:
            wide = 0.16 * style.line_weight
            items.append(Line(left - 0.65, 0.0, left - 0.1, 0.0, wide, role, note.id))
            left -= 0.7
    if note.alternative is not None:
        left = _alternative(m, note, size * SMALL, left - 0.12 if items else 0.0, items)
    half = 0.58 * size
    paper = pen.box(left - 0.06, -half, 0.06, half, Role.BLANK)  # legible on the lines
    return Figure((paper, *items), -left)


def _finger(m: Metrics, note: Note, size: float, items: list[Item]) -> float:
    """A finger figure, right edge at 0; gives its left edge."""
    assert note.finger is not None
    label, words = note.finger, note.finger.value.value
    if note.substitute is not None:
        words = f"{words}–{note.substitute.value}"
    if label.firm and words in FINGERS:
        width = m.advances[FINGERS[words]] * size
        items.append(pen.glyph(m, FINGERS[words], -width, 0.5 * size, Role.PINNED, note.id, size))
        return -width
    face = Face.SERIF_BOLD if label.firm else Face.SERIF_ITALIC
    role = Role.PINNED if label.firm else Role.SUGGESTED
    text = pen.text(m, words, face, 1.5 * size, 0.0, 0.5 * size, role, note.id, 1.0)
    items.append(text)
    return -text.width


def _alternative(m: Metrics, note: Note, size: float, right: float, items: list[Item]) -> float:
    """Another finger, another string in its circle, or both, in parentheses; the left edge."""
    other = note.alternative
    assert other is not None
    here = note.place.value.string if note.place is not None else None
    words = "" if other.finger is None else other.finger.value
    string = other.place.string if other.place is not None else None
    circled = string is not None and string != here and string <= 9
    y = 0.4 * size  # parentheses reach below the figures
    close = pen.text(m, ")", Face.SERIF, 1.5 * size, right, y, Role.PINNED, note.id, 1.0)
    items.append(close)
    left = right - close.width
    if circled:
        name, scale = f"guitarString{string}", CIRCLE * size
        left -= m.advances[name] * scale
        middle = (m.boxes[name][1] + m.boxes[name][3]) / 2 * scale
        items.append(pen.glyph(m, name, left, middle, Role.PINNED, note.id, scale))
        left -= 0.08 if words else 0.0
    for part in (words, "("):
        text = pen.text(m, part, Face.SERIF, 1.5 * size, left, y, Role.PINNED, note.id, 1.0)
        items += [text] if part else []
        left -= text.width
    return left
