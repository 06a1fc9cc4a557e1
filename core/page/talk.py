"""Talking points: pencil words in the margin beside the system in which they begin, one under the
other in the order of their measures; above their measure where there is no margin.

The reasons of other ways to finger a note stand among them, where there is a margin.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from core.display.items import Face, Role
from core.model import Note
from core.page import pen, rows
from core.page.draft import Draft
from core.page.setting import Setting

SIZE = 1.55  # em of the words in spaces
FIRST = 1.2  # baseline of the first line: it begins with the staff
LINE = 1.2  # em from line to line
BETWEEN = 0.7  # em more between two points
CLEAR = 1.6  # spaces between the words and the system


class Point(Struct, frozen=True):
    """Words for the measure at `place`, `onset` ticks after its start."""

    place: int
    onset: int
    words: str
    source: int


def draw_talk(draft: Draft, setting: Setting) -> None:
    """The talking points that begin in a system."""
    points = list(_spans(draft, setting))
    if setting.talk <= 0:
        for point in points:
            rows.words_over(draft, point.words, draft.measure_left(point.place), size=SIZE,
                            role=Role.PENCIL, source=point.source)  # fmt: skip
        return
    points += _reasons(draft)
    y = FIRST
    for point in sorted(points, key=lambda point: (point.place, point.onset)):
        y = _in_margin(draft, setting.talk, point, y) + SIZE * BETWEEN
    if points:
        draft.margin_bottom = max(draft.margin_bottom, y - 0.6)


def _spans(draft: Draft, setting: Setting) -> Iterator[Point]:
    places = {box.measure.id: place for place, box in enumerate(draft.row)}
    for part in setting.spans:
        span = part.span
        if span.kind == "talk" and part.begins and span.text and span.start in places:
            yield Point(places[span.start], -1, span.text, span.id)


def _reasons(draft: Draft) -> Iterator[Point]:
    """Why a note may be fingered another way."""
    if not draft.style.show_fingers:
        return
    for place, box in enumerate(draft.row):
        for cluster in box.clusters:
            for head in cluster.heads:
                other = head.note.alternative
                words = reason_words(head.note)
                # A tab alone shows other places, not other fingers: no reason without its sign.
                if words and other is not None and (draft.style.staff or other.place is not None):
                    yield Point(place, cluster.onset, words, head.note.id)


def reason_words(note: Note) -> str:
    """``(4, string 3) keeps the bass``; empty where no reason is given."""
    other = note.alternative
    if other is None or not other.reason:
        return ""
    finger = "" if other.finger is None else other.finger.value
    here = note.place.value.string if note.place is not None else None
    moves = other.place is not None and other.place.string != here
    string = f"string {other.place.string}" if other.place is not None and moves else ""
    way = ", ".join(part for part in (finger, string) if part)
    return f"({way}) {other.reason}" if way else other.reason


def _in_margin(draft: Draft, talk: float, point: Point, y: float) -> float:
    """Lines from a baseline on; gives the baseline after the last. A word that is wider than the
    margin is set smaller."""
    room = talk - CLEAR
    for line in rows.wrapped(draft.m, point.words, Face.SERIF_ITALIC, SIZE, room):
        wide = draft.m.text_width(line, Face.SERIF_ITALIC) * SIZE
        size = SIZE * min(1.0, room / max(wide, room))
        draft.items.append(
            pen.text(draft.m, line, Face.SERIF_ITALIC, size, -talk, y, Role.PENCIL, point.source)
        )
        y += SIZE * LINE
    return y
