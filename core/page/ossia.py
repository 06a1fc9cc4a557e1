"""Other versions of a measure (easier, harder, for the second time), set small above it.

A version stands on staff and tab of its own from bar line to bar line, without clef; what sounds
together with the measure stands over it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import Struct

from core.display.items import Face, Item, Line, Role, Text
from core.model import Measure, walk
from core.page import pen
from core.page.cluster import CENTRE
from core.page.draft import Draft, SystemBody
from core.page.measure_box import SMALL, MeasureBox, Small, segments
from core.page.setting import Setting, SpanPart
from core.page.spacing import force_for
from core.page.staff import STAFF_HEIGHT, tab_height
from core.page.style import small_style

LABELS = {"easier": "easier", "harder": "harder", "second time": "2nd time"}
LABEL_SIZE = 1.8  # em in spaces of the page
APART = 0.9  # spaces over what the measure draws
INSET = 0.45  # from the bar lines, so that neighbours' versions stand apart

SetSmall = Callable[[Draft, Setting], SystemBody]


def outside(draft: Draft, spans: Sequence[SpanPart]) -> tuple[SpanPart, ...]:
    """The spans that do not begin or end in another version of a measure."""
    inside = {
        number
        for box in draft.row
        for other in box.others
        for number in _ids(other.box.measure)
    }  # fmt: skip
    return tuple(p for p in spans if p.span.start not in inside and p.span.end not in inside)


class Set(Struct, frozen=True):
    """A version as it was set: items about its own origin, and its edges in the system."""

    left: float
    right: float
    top: float
    bottom: float
    items: tuple[Item, ...]


def draw(draft: Draft, spans: Sequence[SpanPart], set_small: SetSmall) -> None:
    """All other versions of a system's measures, the first ones in one row above what is there,
    then the second ones."""
    most = max((len(box.others) for box in draft.row), default=0)
    for number in range(most):
        places = [place for place, box in enumerate(draft.row) if number < len(box.others)]
        drafts = [_draft(draft, place, number, spans) for place in places]
        needs = [set_small(*one).tab_need for one in drafts]
        made = [_set(draft, place, number, spans, set_small, max(needs)) for place in places]
        lowest = min(draft.above.reach(one.left, one.right) for one in made) - APART
        dy = lowest - SMALL * max(one.bottom for one in made)
        for one in made:
            draft.items += [pen.scaled(item, SMALL, one.left, dy) for item in one.items]
            draft.above.add((one.left, dy + SMALL * one.top, one.right, lowest))


def _draft(
    draft: Draft, place: int, number: int, spans: Sequence[SpanPart], tab_top: float = 0.0
) -> tuple[Draft, Setting]:
    """A version with its moments at their places, and what it is told."""
    box = draft.row[place]
    other = box.others[number].box
    left, right = draft.measure_left(place) + INSET, draft.rights[place] - INSET
    width = (right - left) / SMALL
    small = Draft([other], small_style(draft.style), draft.m, width, opens=False)
    small.lefts, small.rights = [0.0], [width]
    aside = left - CENTRE * (1 - SMALL)  # heads over heads, by their middles
    small.xs = [[(x - aside) / SMALL for x in _columns(draft, place, box, other)]]
    ids = _ids(other.measure)
    own = tuple(p for p in spans if p.span.start in ids and p.span.end in ids)
    return small, Setting(
        width, True, False, False, False, (0,), spans=own, final=True, tab_top=tab_top
    )


def _set(
    draft: Draft,
    place: int,
    number: int,
    spans: Sequence[SpanPart],
    set_small: SetSmall,
    tab_top: float,
) -> Set:
    box = draft.row[place]
    small, setting = _draft(draft, place, number, spans, tab_top)
    body = set_small(small, setting)
    label = _label(small, box.others[number], box.measure.id)
    edge = _left_edge(small, body, box.measure.id)
    top = min(body.top, label.y - 0.75 * label.size)
    left = draft.measure_left(place) + INSET
    return Set(left, left + SMALL * small.width, top, body.bottom, (*body.items, edge, label))


def _label(small: Draft, other: Small, source: int) -> Text:
    """What a version is for, over its left end."""
    words, size = LABELS[other.purpose], LABEL_SIZE / SMALL
    wide = small.m.text_width(words, Face.SERIF_ITALIC) * size
    y = small.above.reach(0.0, wide + 0.3) - 0.5
    return pen.text(small.m, words, Face.SERIF_ITALIC, size, 0.0, y, Role.WORDS, source)


def _left_edge(small: Draft, body: SystemBody, source: int) -> Line:
    """The bar line a version begins with."""
    style = small.style
    top = 0.0 if style.staff else body.tab_top
    bottom = body.tab_top + tab_height(body.strings) if style.tab else STAFF_HEIGHT
    thin = small.m.defaults["thinBarlineThickness"] * style.line_weight
    return Line(thin / 2, top, thin / 2, bottom, thin, Role.STAFF, source)


def _ids(measure: Measure) -> set[int]:
    """The ids of a version's events and notes."""
    return set(walk.measure_ids(measure)) - {measure.id}


def _columns(draft: Draft, place: int, box: MeasureBox, other: MeasureBox) -> list[float]:
    """Where the moments of a version stand: common ones over the measure's, others between."""
    tail = box.tail_last if draft.ends(place) else box.tail
    ends = [*draft.xs[place], draft.rights[place] - tail]
    made: list[float] = []
    for mine, theirs in segments(box.columns, other.columns):
        x, room = ends[mine.start], ends[mine.stop] - ends[mine.start]
        springs = [(SMALL * length, SMALL * rod) for length, rod in other.springs[theirs]]
        least = sum(rod for _, rod in springs)
        squeeze = min(1.0, room / least)
        force = force_for(springs, room)
        for length, rod in springs:
            made.append(x)
            x += max(rod * squeeze, force * length)
    return made
