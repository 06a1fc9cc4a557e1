"""The figures of one moment on the tab."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face, Item, Role
from core.model import Note, Place
from core.page import pen
from core.page.cluster import CENTRE, Cluster
from core.page.glyphs import FLAGS, HEADS, RESTS, WAITING, flag_name
from core.page.metrics import Metrics
from core.page.moment import Draft
from core.page.pen import Rect
from core.page.staff import tab_y

FIGURE_SIZE = 1.9  # em of tab figures in spaces
UNPLACED_Y = -1.35  # of the count of notes without a place, from the top tab line
FIGURE_HEIGHT = 0.65  # of the em
HELD = 0.72  # of the size of a figure: parentheses are taller than figures
GRACE = 0.7  # of the size of a figure
RHYTHM_HEAD = 0.7  # size of the hollow heads of a tab that stands alone
RHYTHM_FLAG = 0.62


def draw_tab(draft: Draft, clusters: Sequence[Cluster], held: frozenset[int]) -> None:
    """One figure for each string, of a struck note before one that a tie holds; unplaced notes
    are counted."""
    notes = [head.note for cluster in clusters for head in cluster.heads]
    struck = [note for note in notes if note.id not in held]
    taken: set[int] = set()
    unplaced = 0
    for note in [*struck, *(note for note in notes if note.id in held)]:
        if note.place is None:
            unplaced += note.id not in held
        elif note.place.value.string not in taken:
            taken.add(note.place.value.string)
            _figure(draft, note, note.id in held)
    for note in struck:
        _alternative(draft, note)
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
    words = _words(note, place, held=held)
    role = Role.FIGURE if note.place.firm else Role.SUGGESTED
    face = Face.SANS if note.place.firm else Face.SERIF_ITALIC
    size = FIGURE_SIZE * (HELD if held else 0.75 if note.small else 1.0)
    items, rect = figure_items(
        draft.m, words, face, size, CENTRE, tab_y(place.string), role, note.id
    )
    if held and draft.style.staff:
        draft.over += items  # the staff shows the tie
    else:
        draft.tab += items
        draft.tab_rods.append(rect)


def _words(note: Note, place: Place, *, held: bool) -> str:
    """What is played: the fret; in angles where a harmonic is touched; in parentheses if held."""
    fret = place.fret if note.harmonic is None else note.harmonic.touched_fret
    if held:
        return f"({fret})"
    return str(fret) if note.harmonic is None else f"‹{fret}›"


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
        figure = pen.text(
            draft.m, str(count), Face.SANS, 1.1, CENTRE + wide, UNPLACED_Y + 0.3, Role.HOLLOW
        )
        draft.tab.append(figure)
        right = figure.x + figure.width
    draft.tab_rods.append((CENTRE - wide / 2, UNPLACED_Y - 0.5, right, UNPLACED_Y + 0.35))


def draw_grace(draft: Draft, cluster: Cluster) -> None:
    """Small figures to the left of their main note and of later grace notes."""
    notes = [h.note for h in cluster.heads if h.note.place is not None]
    size = FIGURE_SIZE * GRACE
    right = min((rod[0] for rod in draft.tab_rods), default=0.3)
    for note in notes:
        assert note.place is not None
        place = note.place.value
        words = _words(note, place, held=False)
        role = Role.FIGURE if note.place.firm else Role.SUGGESTED
        x = right - draft.m.text_width(words, Face.SANS) * size / 2 - 0.12
        items, rect = figure_items(
            draft.m, words, Face.SANS, size, x, tab_y(place.string), role, note.id
        )
        draft.tab += items
        draft.tab_rods.append(rect)


def rhythm_rods(m: Metrics, cluster: Cluster) -> list[Rect]:
    """The room of a moment's stem, flag, dots or rest where a tab stands alone; a row of stems
    for each voice, wherever it will stand."""
    value = cluster.event.value
    if cluster.event.hidden or cluster.fills:
        return []
    left, right = CENTRE - 0.1, CENTRE + 0.1
    if cluster.event.is_rest:
        box = m.boxes[RESTS[value.base]]
        half = (box[2] - box[0]) / 2
        left, right = CENTRE - half, CENTRE + half
    elif value.base in HEADS:
        half = m.advances[HEADS[value.base]] * RHYTHM_HEAD / 2
        left, right = CENTRE - half, CENTRE + half
    elif cluster.group < 0 and FLAGS[value.base]:
        right += m.width(flag_name(value.base, True)) * RHYTHM_FLAG
    if value.dots:
        right = max(right, CENTRE + 0.1) + 0.25 + 0.5 * value.dots
    return [(left, cluster.voice, right, cluster.voice + 0.5)]
