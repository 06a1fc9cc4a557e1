"""Rows of note names: over a system's staff, and for lower voices under it."""

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face, Role
from core.page import pen
from core.page.cluster import CENTRE
from core.page.draft import Draft
from core.page.names import em, in_row, named, width
from core.page.pen import Rect
from core.page.tab_column import UNPLACED_Y

LINE = 1.1  # em from one name of a chord to the next
APART = 0.5  # spaces between the staff's signs and the row


def draw_names(draft: Draft) -> None:
    """The rows of a system, each on one baseline, clear of everything over (under) it."""
    if not in_row(draft.style):
        return
    size = em(draft.style)
    entries: dict[bool, list[tuple[float, list[tuple[str, int]]]]] = {True: [], False: []}
    for place, box in enumerate(draft.row):
        for column in box.columns:
            present = [c for c in box.clusters if c.onset == column.onset]
            x = draft.x_at(place, column.onset) + CENTRE
            for up, row in named(present, box.held, box.measure.key, draft.style).items():
                if row:
                    names = [(words, source) for _, words, source in row]
                    entries[up].append((x, names[::-1] if up else names))
    for up, stacks in entries.items():
        _row(draft, stacks, size, up=up)


def _row(
    draft: Draft, stacks: Sequence[tuple[float, list[tuple[str, int]]]], size: float, *, up: bool
) -> None:
    """Names from the staff outwards, the first of every stack on the same line."""
    if not stacks:
        return
    halves = [max(width(draft.m, w, size) for w, _ in names) / 2 + 0.1 for _, names in stacks]
    edges = [(x - half, x + half) for (x, _), half in zip(stacks, halves, strict=True)]
    outline = draft.above if up else draft.below
    reaches = [outline.reach(left, right) for left, right in edges]
    if up and not draft.style.staff and draft.any_unplaced:
        reaches.append(UNPLACED_Y - 0.5)  # the row of notes without a place, over a tab alone
    first = min(reaches) - APART if up else max(reaches) + APART + 0.72 * size
    step = -LINE * size if up else LINE * size
    for (x, names), (left, right) in zip(stacks, edges, strict=True):
        for number, (words, source) in enumerate(names):
            y = first + number * step
            draft.items.append(
                pen.text(draft.m, words, Face.SANS, size, x, y, Role.WORDS, source, 0.5)
            )
        last = first + (len(names) - 1) * step
        rect: Rect = (left, min(first, last) - 0.75 * size, right, max(first, last) + 0.24 * size)
        outline.add(rect)
