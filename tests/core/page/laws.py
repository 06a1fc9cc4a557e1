"""The invariants of engraving.md that hold for one drawn lesson: each gives its complaints.

Everything is read off the display list and the lesson; of the engraver's own values only the
columns of a measure, its springs and the force of a system are taken (3 and 4 are about them).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import pairwise

from core.display.items import Curve, Fill, Glyph, Item, Line, Role, Sheet, Text
from core.model import Event, Measure, Span, walk
from core.page.bars import Bar
from core.page.cluster import CENTRE
from core.page.cover import rect_of, stroke_points
from core.page.curves import CURVED
from core.page.layout import SystemBox
from core.page.pen import Rect
from core.page.staff import STAFF_HEIGHT
from core.page.system import FORCED_LOOSE, LOOSE
from tests.core.page.ink import collisions, ink_of
from tests.core.page.kit import metrics
from tests.core.page.laws_notes import (
    eight_the_page_sounds_as_the_lesson,
    nine_ties_join_and_slurs_clear,
    seven_leger_lines,
    six_stems,
    two_figures_stand_on_their_strings,
)
from tests.core.page.reading import heads, measures, placed_boxes, places_of
from tests.core.page.styles import Drawn

Complaints = Iterator[str]
EPS = 1e-6
TITLE = 12.0  # spaces of the title block
MARGIN = 8.0  # spaces at head and foot of a page, footer included


def one_no_two_signs_overlap(d: Drawn) -> Complaints:
    """1: by more than .02, but for the list in ink.py. A measure that no line can hold is set
    cramped (its force is 0): it is passed over here and drawn again on wider paper."""
    for system in d.layout.systems:
        if system.body.force:
            yield from collisions(system.body)


def three_time_is_place(d: Drawn) -> Complaints:
    """3: same onset, same x; x grows with the onset; gaps respect rods."""
    drawn = heads(d)
    for system, columns, measure, clusters in placed_boxes(d):
        onsets = {located.onset for located in walk.events(measure)} or {0}
        if list(columns) != sorted(onsets):
            yield f"measure {measure.id}: columns {list(columns)} for onsets {sorted(onsets)}"
        if any(b <= a for a, b in pairwise(columns.values())):
            yield f"measure {measure.id}: x does not grow"
        springs = d.boxes[measure.id].springs
        if system.body.force:
            for (a, b), (_, rod) in zip(pairwise(columns.values()), springs, strict=False):
                if b - a < rod - EPS:
                    yield f"measure {measure.id}: a gap of {b - a} under a rod of {rod}"
        if not d.style.staff:
            continue
        for cluster in clusters:
            for head in cluster.heads if not cluster.beside else ():
                x = drawn[head.note.id][1].x
                if abs(x - columns[cluster.onset] - cluster.x - head.x) > EPS:
                    yield f"note {head.note.id} has left its column"


def four_equal_times_take_equal_room(d: Drawn) -> Complaints:
    """4: unblocked gaps share one force; gaps of equal durations are equal."""
    for system in d.layout.systems:
        force = system.body.force
        gaps: dict[tuple[int, int], list[float]] = defaultdict(list)
        for placed in system.body.measures if force else ():
            box = d.boxes[placed.measure]
            xs = [x for _, x in placed.columns]
            for n, (a, b) in enumerate(pairwise(xs)):
                ideal, rod = box.springs[n]
                if abs(b - a - max(rod, force * ideal)) > EPS:
                    yield f"measure {placed.measure}: {b - a} is not its force {force}"
                if force * ideal > rod + EPS:
                    gaps[_durations(box.measure, placed.columns[n][0])].append(b - a)
        for durations, lengths in gaps.items():
            if max(lengths) - min(lengths) > EPS:
                yield f"gaps of {durations} differ: {lengths}"


def _durations(measure: Measure, onset: int) -> tuple[int, int]:
    """Ticks from one onset to the next, and the shortest value that sounds there."""
    rows = [r for r in walk.events(measure) if r.event.ticks]
    following = [r.onset for r in walk.events(measure) if r.onset > onset]
    gap = min(following, default=measure.length_ticks) - onset
    sounding = [r.event.ticks for r in rows if r.onset <= onset < r.onset + r.event.ticks]
    return gap, min(sounding, default=gap)


def five_lines_end_at_their_width(d: Drawn) -> Complaints:
    """5: the last bar line at the system's width within 1e-6 (courtesy signs stand after it);
    full lines are as wide as the room, and only a line pulled too far is left short."""
    if d.style.flow == "line":
        return
    style = d.layout.style
    for number, system in enumerate(d.layout.systems):
        body = system.body
        last = d.boxes[body.measures[-1].measure]
        if abs(body.measures[-1].right - body.width) > EPS:
            yield f"system {number} ends at {body.measures[-1].right}, not {body.width}"
        context = last.context
        followed = context.next_key is not None or context.next_metre is not None
        barred = not followed and context.end_last is not Bar.NONE
        if barred and abs(_last_bar(system) - body.width) > EPS:
            yield f"bar line at {_last_bar(system)}, not {body.width}"
        final = number + 1 == len(d.layout.systems)
        widest = (style.width_mm - style.right_mm) / style.space_mm - system.x
        if body.width > widest + EPS:
            yield f"system {number} is {body.width} wide, {widest} is the room"
        if not final and body.width < widest - EPS:
            springs = [s for m in body.measures for s in d.boxes[m.measure].springs]
            more = sum(max(rod, FORCED_LOOSE * ideal) - max(rod, LOOSE * ideal)
                       for ideal, rod in springs)  # fmt: skip
            if body.width + more > widest + EPS or abs(body.force - LOOSE) > EPS:
                yield f"system {number} is short: {body.width}"


def _last_bar(system: SystemBox) -> float:
    """The right edge of the last bar line or of its thick stroke; the line weight left out."""
    edges = [0.0]
    thin = metrics().defaults["thinBarlineThickness"]
    for item in system.body.items:
        if item.role is not Role.STAFF:
            continue
        if isinstance(item, Line) and item.x0 == item.x1 and item.y1 - item.y0 > STAFF_HEIGHT - 1:
            edges.append(item.x0 + thin / 2)
        elif isinstance(item, Fill) and item.points[2][1] - item.points[0][1] > STAFF_HEIGHT - 1:
            edges.append(item.points[1][0])
    return max(edges)


def ten_everything_is_on_the_paper(d: Drawn) -> Complaints:
    """10: inside the page, inside the room of its system, and systems apart."""
    for number, system in enumerate(d.layout.systems):
        sheet, body = d.layout.sheets[system.page], system.body
        for item in body.items:
            left, top, right, bottom = _ink(item)
            if left + system.x < -0.01 or right + system.x > sheet.width + 0.01:
                yield f"system {number}: {item} leaves the page"
            if body.bottom - body.top > _most(sheet, system.page):
                continue  # taller than the paper of the style: it is set alone and runs over
            if top + system.y < 0 or bottom + system.y > sheet.height:
                yield f"system {number}: {item} leaves the page above or below"
            if top < body.top - 0.3 or bottom > body.bottom + 0.3:
                yield f"system {number}: {item} leaves its room {body.top} to {body.bottom}"
    for a, b in pairwise(d.layout.systems):
        paged = a.page == b.page and d.style.flow == "pages"
        if paged and a.y + a.body.bottom > b.y + b.body.top + EPS:
            yield f"systems at {a.y} and {b.y} meet"
        if d.style.flow == "line" and a.x + a.body.width > b.x + EPS:
            yield f"pieces at {a.x} and {b.x} meet"
    yield from _blocks_apart(d)


def _ink(item: Item) -> Rect:
    return ink_of(item) if isinstance(item, Glyph | Text) else rect_of(item, metrics())


def _most(sheet: Sheet, page: int) -> float:
    """The tallest system that a page can hold."""
    return sheet.height - 2 * MARGIN - (0 if page else TITLE)


def _blocks_apart(d: Drawn) -> Complaints:
    """Title and footer keep clear of the systems."""
    own = {id(system.block) for system in d.layout.systems}
    for page, sheet in enumerate(d.layout.sheets):
        most = _most(sheet, page)
        bodies = [(s.y, s.body) for s in d.layout.systems if s.page == page]
        rooms = [(y + b.top, y + b.bottom) for y, b in bodies if b.bottom - b.top < most]
        for block in sheet.blocks:
            for item in block.items if id(block) not in own else ():
                _, top, _, bottom = _ink(item)
                if any(top + block.y < low and high < bottom + block.y for high, low in rooms):
                    yield f"page {page}: {item} stands in a system"


def eleven_everything_is_there(d: Drawn) -> Complaints:
    """11: every note, event, section and span has a primitive."""
    known = {i.source for s in d.layout.systems for i in s.body.items}
    yield from (f"{what} is not there" for what, ids in _objects(d) if not ids & known)
    for measure in measures(d) if d.style.staff else ():
        for located, note in walk.notes(measure):
            if not located.event.hidden and note.id not in known:
                yield f"note {note.id} is not there"


def eleven_everything_is_found(d: Drawn) -> Complaints:
    """11: every id is found under a point of its own signs, every moment at its caret."""
    hits = _hits(d)
    spans = {span.id: span for span in d.lesson.arrangement.spans}
    for what, ids in _objects(d):
        tiny = [spans[i] for i in ids if i in spans and _tiny(d, spans[i])]
        if not (ids & hits or tiny):
            yield f"{what} cannot be pointed at"
    for measure in measures(d):
        yield from _moments(d, measure)


def _objects(d: Drawn) -> Iterator[tuple[str, set[int]]]:
    """What must be drawn: in words, and the ids its signs may carry."""
    places = places_of(d) | {measure.id: (n, 0) for n, measure in enumerate(measures(d))}
    for section in d.lesson.arrangement.sections:
        if section.letter or section.title:
            yield f"section {section.id}", {section.id}
    for span in d.lesson.arrangement.spans if d.style.flow == "pages" else ():
        empty = span.kind in WRITTEN or (span.kind in SILENT and not span.text)
        empty = empty or (span.kind in PAIRED and places[span.start] == places[span.end])
        twins = {
            o.id for o in d.lesson.arrangement.spans if (o.start, o.end) == (span.start, span.end)
        }
        if not (span.hidden or empty):  # curves from and to the same notes lie on each other
            yield str(span), twins if span.kind in CURVED else {span.id}
    for measure in measures(d):
        shared = _shared_rests(measure)
        for located in walk.events(measure):
            event = located.event
            if not (event.hidden or event.id in shared or _untold(d, event)):
                ids = {event.id, *(note.id for note in event.notes)}
                yield f"event {event.id} of measure {measure.id}", ids
        for other in measure.others:
            for event in (event for row in other.voices for event in row if event.notes):
                if event.grace is None and not event.hidden:
                    yield f"other event {event.id}", {event.id, *(n.id for n in event.notes)}


def _tiny(d: Drawn, span: Span) -> bool:
    """Whether a span is a stroke between heads so close that they cover it."""
    items = [i for s in d.layout.systems for i in s.body.items if i.source == span.id]
    rects = [rect_of(item, metrics()) for item in items]
    return max(r[2] for r in rects) - min(r[0] for r in rects) < 2.0


SILENT = ("talk", "tempo")  # spans that are their words
PAIRED = ("slide", "hammer-on", "pull-off")  # from a note to another, never to itself
WRITTEN = ("tuplet",)  # spans that repeat what the values say: brackets are drawn from those


def _untold(d: Drawn, event: Event) -> bool:
    """On a tab alone a grace note shows its figures and nothing else."""
    return not d.style.staff and event.grace is not None and not any(n.place for n in event.notes)


def _shared_rests(measure: Measure) -> set[int]:
    """Rests that may be shown by another voice's like rest at the same moment."""
    rows = [r for r in walk.events(measure) if r.event.is_rest and not r.event.hidden]
    return {
        r.event.id for r in rows
        if any(o is not r and o.onset == r.onset and o.event.value == r.event.value for o in rows)
    }  # fmt: skip


def _hits(d: Drawn) -> set[int]:
    """The ids that a finger on their own signs finds; in cramped measures signs cover others."""
    found: set[int] = set()
    for system in d.layout.systems:
        if not system.body.force:
            found.update(item.source for item in system.body.items)
            continue
        for item in system.body.items:
            if not item.source or item.source in found or item.role is Role.STAFF:
                continue
            for x, y in _points(item):
                hit = d.layout.hit(system.page, system.x + x, system.y + y)
                if hit is not None:
                    found.add(hit.source)
                if item.source in found:
                    break
    return found


def _points(item: Item) -> list[tuple[float, float]]:
    """Where one would point at a sign: at its middle, or along its stroke."""
    if isinstance(item, Line):
        return [(item.x0 + t * (item.x1 - item.x0), item.y0 + t * (item.y1 - item.y0))
                for t in (0.5, 0.25, 0.75, 0.02, 0.98)]  # fmt: skip
    if isinstance(item, Curve):
        return list(stroke_points(item))
    left, top, right, bottom = rect_of(item, metrics())
    return [((left + right) / 2, (top + bottom) / 2)]


def _moments(d: Drawn, measure: Measure) -> Complaints:
    """The caret's rectangle at every moment, on staff and tab, leads back to it."""
    for on in ("staff",) * d.style.staff + ("tab",) * d.style.tab:
        for column in d.boxes[measure.id].columns:
            string = 2 if on == "tab" else None
            page, box = d.layout.caret_box(measure.id, column.onset, on, string)
            hit = d.layout.hit(page, box.left + 0.35 + CENTRE, (box.top + box.bottom) / 2)
            found = None if hit is None else (hit.measure, hit.onset, hit.on, hit.string)
            if found != (measure.id, column.onset, on, string):
                yield f"the caret at {measure.id}, {column.onset} on the {on} finds {found}"


LAWS: dict[int, Callable[[Drawn], Complaints]] = {
    1: one_no_two_signs_overlap,
    2: two_figures_stand_on_their_strings,
    3: three_time_is_place,
    4: four_equal_times_take_equal_room,
    5: five_lines_end_at_their_width,
    6: six_stems,
    7: seven_leger_lines,
    8: eight_the_page_sounds_as_the_lesson,
    9: nine_ties_join_and_slurs_clear,
    10: ten_everything_is_on_the_paper,
    11: eleven_everything_is_there,
    -11: eleven_everything_is_found,
}


POINTED = ("a4", "tab", "line")  # ways of showing in which all is pointed at, which takes time


def broken(d: Drawn, *, pointed: bool = True) -> list[str]:
    """The complaints of all laws, with their numbers."""
    laws = {number: law for number, law in LAWS.items() if number > 0 or pointed}
    return [f"{abs(number)}: {said}" for number, law in laws.items() for said in law(d)]
