"""Finger figures left of their heads: pinned ones upright and bold, suggested ones light italic."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from core.display.items import Face, Fill, Line, Role
from core.model import Note
from core.page import pen
from core.page.cluster import Cluster, Head
from core.page.glyphs import FINGERS
from core.page.moment import Draft

FINGER_GAP = 0.22  # spaces between a head (or its accidental) and its finger figure
FINGER_ROOM = 0.9  # room kept for a figure, also for one that may still come


def draw_fingers(
    draft: Draft,
    clusters: Sequence[Cluster],
    edges: Mapping[int, float],
    held: frozenset[int],
) -> None:
    """Figures left of their heads, pushed apart where heads stand closer than a figure is tall.

    A placed note keeps the room of its figure, so that suggestions repaint and never re-break.
    """
    heads = sorted(((c, h) for c in clusters for h in c.heads), key=lambda pair: -pair[1].pos)
    size = 1.12 * draft.style.sign_size
    lowest = -99.0
    for cluster, head in heads:
        reserved = head.note.place is not None
        finger = head.note.finger
        if head.note.id in held:
            continue
        seen = finger is not None and (finger.firm or draft.style.show_suggested)
        if not (seen or reserved):
            continue
        y = max(head.y, lowest + 1.24 * draft.style.sign_size)
        right = _free_left(draft, cluster, head, edges, y, _width(draft, head.note))
        lowest = y
        room = FINGER_ROOM * draft.style.sign_size
        half = 0.6 * draft.style.sign_size
        draft.rods.append((right - room, y - half, right, y + half))
        if seen:
            _finger(draft, head.note, right, y, size)


def _free_left(
    draft: Draft, cluster: Cluster, head: Head, edges: Mapping[int, float], y: float, width: float
) -> float:
    """The right edge for a figure at y: left of head, accidental and whatever else is there."""
    half = 0.65 * draft.style.sign_size
    edge = edges.get(head.note.id, cluster.x + head.x)
    top, bottom = y - half + 0.04, y + half - 0.08
    beside = [rod for rod in draft.rods if rod[1] < bottom and top < rod[3]]
    for rod in sorted(beside, key=lambda rod: -rod[2]):
        if rod[0] < edge and rod[2] > edge - width - 2 * FINGER_GAP:
            edge = rod[0]
    return edge - FINGER_GAP


def _width(draft: Draft, note: Note) -> float:
    """The room of a note's figure; with the second finger of a change it is three times as wide."""
    room = FINGER_ROOM * draft.style.sign_size
    return room if note.substitute is None else 3 * room


def _paper(left: float, right: float, y: float, size: float) -> Fill:
    """Paper behind a figure, so that it is legible on the lines."""
    return pen.box(left - 0.06, y - 0.58 * size, right + 0.06, y + 0.58 * size, Role.BLANK)


def _finger(draft: Draft, note: Note, right: float, y: float, size: float) -> None:
    """A finger figure: pinned ones upright and bold, suggested ones light italic."""
    label = note.finger
    assert label is not None
    m = draft.m
    figure = label.value.value
    if note.substitute is not None:
        figure = f"{figure}–{note.substitute.value}"
    if label.firm and figure in FINGERS:
        name = FINGERS[figure]
        width = m.advances[name] * size
        draft.items.append(_paper(right - width, right, y, size))
        draft.glyph(name, right - width, y + 0.5 * size, Role.PINNED, note.id, size)
        left = right - width
    else:
        face = Face.SERIF_BOLD if label.firm else Face.SERIF_ITALIC
        role = Role.PINNED if label.firm else Role.SUGGESTED
        words = pen.text(m, figure, face, 1.5 * size, right, y + 0.5 * size, role, note.id, 1.0)
        draft.items += [_paper(right - words.width, right, y, size), words]
        left = right - words.width
        draft.rods.append((left, y - 0.5 * size, right, y + 0.5 * size))
    if note.guide:
        width = 0.16 * draft.style.line_weight
        role = Role.PINNED if label.firm else Role.SUGGESTED
        draft.items.append(Line(left - 0.65, y, left - 0.1, y, width, role, note.id))
        draft.rods.append((left - 0.7, y - 0.2, left, y + 0.2))
