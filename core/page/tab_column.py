"""The figures of one moment on the tab."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face, Item, Role
from core.model import Note
from core.page import pen
from core.page.cluster import CENTRE, Cluster
from core.page.glyphs import WAITING
from core.page.metrics import Metrics
from core.page.moment import Draft
from core.page.pen import Rect
from core.page.staff import tab_y

FIGURE_SIZE = 1.9  # em of tab figures in spaces
UNPLACED_Y = -1.35  # of the count of notes without a place, from the top tab line
FIGURE_HEIGHT = 0.65  # of the em


def draw_tab(draft: Draft, clusters: Sequence[Cluster], held: frozenset[int]) -> None:
    """One figure for each string; none for notes held by a tie; unplaced notes are counted."""
    taken: set[int] = set()
    unplaced = 0
    for cluster in clusters:
        for head in cluster.heads:
            note = head.note
            if note.place is None:
                unplaced += note.id not in held
            elif note.place.value.string not in taken:
                taken.add(note.place.value.string)
                _figure(draft, note, note.id in held)
    for cluster in clusters:
        for head in cluster.heads:
            if head.note.id not in held:
                _alternative(draft, head.note)
    if unplaced:
        _unplaced(draft, unplaced)


def _alternative(draft: Draft, note: Note) -> None:
    """Another place kept for a note: small, in parentheses, on its string before the figures."""
    if not draft.style.show_fingers or note.alternative is None or note.alternative.place is None:
        return
    place = note.alternative.place
    if note.place is not None and place == note.place.value:
        return  # another finger at the same place
    words, size = f"({place.fret})", FIGURE_SIZE * 0.7
    wide = draft.m.text_width(words, Face.SANS) * size / 2
    left = min((rod[0] for rod in draft.tab_rods if rod[1] > -2), default=CENTRE)
    y = tab_y(place.string)
    items, rect = figure_items(
        draft.m, words, Face.SANS, size, left - wide - 0.2, y, Role.FIGURE, note.id
    )
    draft.tab += items
    draft.tab_rods.append(rect)


def _figure(draft: Draft, note: Note, held: bool) -> None:
    assert note.place is not None
    place = note.place.value
    fret = str(place.fret if note.harmonic is None else note.harmonic.touched_fret)
    words = f"({fret})" if held else (f"‹{fret}›" if note.harmonic is not None else fret)
    role = Role.FIGURE if note.place.firm else Role.SUGGESTED
    face = Face.SANS if note.place.firm else Face.SERIF_ITALIC
    size = FIGURE_SIZE * (0.75 if note.small else 1.0)
    items, rect = figure_items(
        draft.m, words, face, size, CENTRE, tab_y(place.string), role, note.id
    )
    if held and draft.style.staff:
        draft.over += items  # the staff shows the tie
    else:
        draft.tab += items
        draft.tab_rods.append(rect)


def figure_items(
    m: Metrics,
    words: str,
    face: Face,
    size: float,
    centre: float,
    y: float,
    role: Role,
    source: int,
) -> tuple[list[Item], Rect]:
    """A tab figure centred on its line, paper behind it."""
    figure = pen.text(m, words, face, size, centre, y + FIGURE_HEIGHT * size / 2, role, source, 0.5)
    half = figure.width / 2 + 0.12
    rect = (centre - half, y - 0.38 * size, centre + half, y + 0.38 * size)
    return [pen.box(*rect, Role.BLANK), figure], rect


def _unplaced(draft: Draft, count: int) -> None:
    """Notes without a place are counted above the tab, so that none is forgotten."""
    size = 0.6
    wide = draft.m.advances[WAITING] * size
    draft.tab.append(
        pen.glyph(draft.m, WAITING, CENTRE - wide / 2, UNPLACED_Y, Role.HOLLOW, 0, size)
    )
    right = CENTRE + wide / 2
    if count > 1:
        right = CENTRE + wide + 0.7
        draft.tab.append(
            pen.text(
                draft.m, str(count), Face.SANS, 1.1, CENTRE + wide, UNPLACED_Y + 0.3, Role.HOLLOW
            )
        )
    draft.tab_rods.append((CENTRE - wide / 2, UNPLACED_Y - 0.5, right, UNPLACED_Y + 0.4))


def draw_grace(draft: Draft, cluster: Cluster) -> None:
    """Small figures to the left of their main note."""
    x = min((rod[0] for rod in draft.tab_rods), default=0.0) - 0.75 * cluster.beside
    for head in cluster.heads:
        if head.note.place is not None:
            place = head.note.place.value
            items, rect = figure_items(
                draft.m, str(place.fret), Face.SANS, FIGURE_SIZE * 0.7, x, tab_y(place.string),
                Role.FIGURE if head.note.place.firm else Role.SUGGESTED, head.note.id,
            )  # fmt: skip
            draft.tab += items
            draft.tab_rods.append(rect)
