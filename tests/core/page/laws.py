"""The invariants of engraving.md that hold for one drawn lesson: each gives its complaints.

Everything is read off the display list and the lesson; of the engraver's own values only the
columns of a measure, its springs and the force of a system are taken (3 and 4 are about them).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import pairwise

from core.display.items import Curve, Fill, Glyph, Item, Line, Role, Text
from core.model import Event, Measure, Pitch, Place, walk
from core.page.bars import Bar
from core.page.cluster import CENTRE, GRACE_SIZE, Cluster
from core.page.layout import SystemBox, rect_of, stroke_points
from core.page.pen import Rect
from core.page.staff import STAFF_HEIGHT, diatonic_at, position, tab_y, y_of
from core.page.system import FORCED_LOOSE, LOOSE
from tests.core.page.ink import collisions, ink_of
from tests.core.page.kit import NAMES, metrics
from tests.core.page.styles import Drawn

Complaints = Iterator[str]
EPS = 1e-6
STEM = metrics().defaults["stemThickness"]
DIGIT = 0.65  # of the em: the height of the tab's figures


def measures(d: Drawn) -> list[Measure]:
    return list(walk.measures(d.lesson.arrangement))


def heads(d: Drawn) -> dict[int, tuple[SystemBox, Glyph]]:
    """Note id -> its system and notehead."""
    return {
        item.source: (system, item)
        for system in d.layout.systems
        for item in system.body.items
        if isinstance(item, Glyph) and item.source and NAMES[item.code].startswith("notehead")
    }


def placed_boxes(d: Drawn) -> Iterator[tuple[SystemBox, dict[int, float], Measure, list[Cluster]]]:
    """Every measure in its system: x of each onset, the measure, its clusters."""
    for system in d.layout.systems:
        for placed in system.body.measures:
            box = d.boxes[placed.measure]
            yield system, dict(placed.columns), box.measure, list(box.clusters)


def one_no_two_signs_overlap(d: Drawn) -> Complaints:
    """1: by more than .02, but for the list in ink.py. A measure that no line can hold is set
    cramped (its force is 0): it is passed over here and drawn again on wider paper."""
    for system in d.layout.systems:
        if system.body.force:
            yield from collisions(system.body)


def two_figures_stand_on_their_strings(d: Drawn) -> Complaints:
    """2: a tab figure within .05 of its column's head centre, on its line within .02, one figure
    for an onset and string."""
    if not d.style.tab:
        return
    drawn = heads(d)
    for system, columns, measure, clusters in placed_boxes(d):
        found = figures(d, system)
        taken: set[tuple[int, int]] = set()
        for cluster in clusters:
            for head in cluster.heads if not cluster.beside else ():
                note, label = head.note, head.note.place
                shown = found.pop(note.id, None)
                held = note.id in d.boxes[measure.id].held
                if label is None or (held and shown is None and d.style.staff):
                    continue
                spot = (cluster.onset, label.value.string)
                if (shown is not None) == (spot in taken):
                    yield f"{spot}: {'two figures' if shown else 'no figure'}"
                taken.add(spot)
                if shown is None:
                    continue
                if abs(shown.x - columns[cluster.onset] - CENTRE) >= 0.05:
                    yield f"{shown} is not in its column"
                if abs(_middle(shown) - system.body.tab_top - tab_y(spot[1])) >= 0.02:
                    yield f"{shown} is not on its line"
                if d.style.staff and not cluster.x and abs(head.x) < 0.3 and _alike(cluster):
                    yield from _under(drawn[note.id][1], shown)


def _alike(cluster: Cluster) -> bool:
    """Whether all heads are of one width: a narrow one among others stands at the common stem."""
    return len({head.name for head in cluster.heads}) == 1


def _under(head: Glyph, figure: Text) -> Complaints:
    left, _, right, _ = metrics().by_code[head.code]
    if abs(head.x + (left + right) / 2 - figure.x) >= 0.05:
        yield f"{figure} is not under {head}"


def _middle(figure: Text) -> float:
    return figure.y - DIGIT * figure.size / 2


def figures(d: Drawn, system: SystemBox) -> dict[int, Text]:
    """Note id -> the figure on the tab."""
    top = system.body.tab_top - 0.5
    bottom = system.body.tab_top + tab_y(system.body.strings) + 0.5
    return {
        i.source: i
        for i in system.body.items
        if isinstance(i, Text) and i.source and i.anchor == 0.5 and i.text.strip("()‹›").isdigit()
        and top < _middle(i) < bottom
    }  # fmt: skip


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
        if not followed and context.end_last is not Bar.NONE:
            if abs(_last_bar(system) - body.width) > EPS:
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


def six_stems(d: Drawn) -> Complaints:
    """6: at least 2.5 long, at the head's anchor within .001, ending on their beam."""
    drawn = heads(d)
    for system in d.layout.systems:
        stems, beams = _strokes(d, system)
        for placed in system.body.measures:
            for cluster in d.boxes[placed.measure].clusters:
                if not cluster.stemmed or (cluster.beside and not d.style.staff):
                    continue
                stem = stems.get(cluster.event.id)
                if stem is None:
                    yield f"event {cluster.event.id} has no stem"
                    continue
                size = GRACE_SIZE if cluster.beside else 1.0
                if cluster.group >= 0 and not any(_touches(b, stem) for b in beams):
                    yield f"the stem of {cluster.event.id} ends beside its beam"
                if not d.style.staff:
                    if abs(stem.y1 - stem.y0) < 2.5:
                        yield f"the stem of {cluster.event.id} is short"
                    continue
                nearest = cluster.heads[-1 if cluster.up else 0].y
                length = nearest - stem.y1 if cluster.up else stem.y1 - nearest
                if length < 2.5 * size - EPS:
                    yield f"the stem of {cluster.event.id} is {length} long"
                foot = cluster.heads[0 if cluster.up else -1]
                yield from _at_anchor(stem, drawn[foot.note.id][1], up=cluster.up)


def _at_anchor(stem: Line, head: Glyph, *, up: bool) -> Complaints:
    x, y = metrics().anchors[NAMES[head.code]]["stemUpSE" if up else "stemDownNW"]
    edge = stem.x0 + (STEM / 2 if up else -STEM / 2)
    if abs(edge - head.x - x * head.size) > 0.001 or abs(stem.y0 - head.y + y * head.size) > 0.001:
        yield f"{stem} is not at the anchor of {head}"


def _strokes(d: Drawn, system: SystemBox) -> tuple[dict[int, Line], list[Fill]]:
    """The stems by event id, known by their thickness, and the beams."""
    stems: dict[int, Line] = {}
    beams: list[Fill] = []
    widths = (STEM * d.style.line_weight, STEM * 0.8)
    for item in system.body.items:
        if isinstance(item, Line) and item.x0 == item.x1 and item.width in widths:
            stems[item.source] = item
        elif isinstance(item, Fill) and item.role in (Role.INK, Role.HOLLOW):
            beams.append(item)
    return stems, beams


def _touches(beam: Fill, stem: Line) -> bool:
    (x0, y0), (x1, y1) = beam.points[:2]
    if not x0 - EPS <= stem.x1 <= x1 + EPS or x0 == x1:
        return False
    return abs(y0 + (y1 - y0) * (stem.x1 - x0) / (x1 - x0) - stem.y1) < 1e-3


def seven_leger_lines(d: Drawn) -> Complaints:
    """7: at every even position from the staff to the head, as wide as the font says, no others."""
    past = metrics().defaults["legerLineExtension"]
    for system in d.layout.systems:
        lines = _legers(system)
        used: set[Line] = set()
        for item in system.body.items:
            if not (isinstance(item, Glyph) and NAMES[item.code].startswith("notehead")):
                continue
            if not item.source or not d.style.staff:
                continue
            at = round(2 * (2 - item.y))
            left, _, right, _ = (item.x + side * item.size for side in metrics().by_code[item.code])
            room = past if item.size == 1 else 0.2
            needed = [p for p in range(6, at + 1, 2)] + [p for p in range(-6, at - 1, -2)]
            for p in needed:
                fit = [i for i in lines if i.y0 == y_of(p) and i.x0 < right and i.x1 > item.x]
                used.update(fit)
                if not any(i.x0 <= left - room + EPS and i.x1 >= right + room - EPS for i in fit):
                    yield f"no leger line at {p} for the head at {item.x}, {item.y}"
        for line in lines:
            if line not in used:
                yield f"{line} is needed by no head"


def _legers(system: SystemBox) -> list[Line]:
    body = system.body
    outer = (body.tab_top - 0.01) if body.tab_top else float("inf")
    return [
        i for i in body.items
        if isinstance(i, Line) and i.role is Role.STAFF and i.y0 == i.y1 and 0 < i.x0 and i.x1 - i.x0 < 12
        and not 0 <= i.y0 <= STAFF_HEIGHT and i.y0 < outer
    ]  # fmt: skip


def eight_the_page_sounds_as_the_lesson(d: Drawn) -> Complaints:
    """8: head y, key and accidentals give the pitch back; so do figure, string, tuning, capo."""
    drawn = heads(d)
    instrument = d.lesson.arrangement.instrument
    for system, _, measure, clusters in placed_boxes(d):
        if d.style.staff:
            yield from _read_staff(d, drawn, measure, system)
        for note_id, figure in figures(d, system).items() if d.style.tab else ():
            note = next((h.note for c in clusters for h in c.heads if h.note.id == note_id), None)
            if note is None:
                continue
            fret = int(figure.text.strip("()‹›"))
            string = round((_middle(figure) - system.body.tab_top) / 1.5) + 1
            if note.harmonic is not None:
                if fret != note.harmonic.touched_fret:
                    yield f"{figure} is not where the harmonic {note.id} is touched"
            elif instrument.midi_at(Place(string, fret)) != note.pitch.midi:
                yield f"{figure} does not sound {note.pitch}"


def _read_staff(
    d: Drawn, drawn: dict[int, tuple[SystemBox, Glyph]], measure: Measure, system: SystemBox
) -> Complaints:
    """Read a measure as a player would: an accidental holds at its height to the bar line."""
    signs = {"Flat": -1, "Natural": 0, "Sharp": 1, "DoubleSharp": 2, "DoubleFlat": -2,
             "TripleSharp": 3, "TripleFlat": -3}  # fmt: skip
    shown = {
        i.source: signs[NAMES[i.code].removeprefix("accidental")]
        for i in system.body.items
        if isinstance(i, Glyph) and i.source
        and NAMES[i.code].removeprefix("accidental") in signs
    }  # fmt: skip
    state: dict[int, int] = {}
    held = d.boxes[measure.id].held
    rows = sorted(walk.notes(measure), key=lambda pair: (pair[0].onset, pair[0].voice))
    for located, note in rows:
        if located.event.hidden:
            continue
        at = diatonic_at(drawn[note.id][1].y)
        state[at] = shown.get(note.id, state.get(at, measure.key.alter_of("CDEFGAB"[at % 7])))
        plain = note.accidental != "hidden" and note.id not in held
        if at != note.pitch.diatonic or (plain and state[at] != note.pitch.alter):
            yield f"{note.pitch} is read as {Pitch('CDEFGAB'[at % 7], state[at], at // 7)}"
        if note.id in held and note.id not in shown:
            state.pop(at)


def ten_everything_is_on_the_paper(d: Drawn) -> Complaints:
    """10: inside the page, inside the room of its system, and systems apart."""
    for number, system in enumerate(d.layout.systems):
        sheet, body = d.layout.sheets[system.page], system.body
        for item in body.items:
            left, top, right, bottom = _ink(item)
            if left + system.x < -0.01 or right + system.x > sheet.width + 0.01:
                yield f"system {number}: {item} leaves the page"
            if top + system.y < 0 or bottom + system.y > sheet.height:
                yield f"system {number}: {item} leaves the page above or below"
            if top < body.top - 0.3 or bottom > body.bottom + 0.3:
                yield f"system {number}: {item} leaves its room {body.top} to {body.bottom}"
    for a, b in pairwise(d.layout.systems):
        if a.page == b.page and d.style.flow == "pages":
            if a.y + a.body.bottom > b.y + b.body.top + EPS:
                yield f"systems at {a.y} and {b.y} meet"
        if d.style.flow == "line" and a.x + a.body.width > b.x + EPS:
            yield f"pieces at {a.x} and {b.x} meet"
    yield from _blocks_apart(d)


def _ink(item: Item) -> Rect:
    return ink_of(item) if isinstance(item, Glyph | Text) else rect_of(item, metrics())


def _blocks_apart(d: Drawn) -> Complaints:
    """Title and footer keep clear of the systems."""
    own = {id(system.block) for system in d.layout.systems}
    for page, sheet in enumerate(d.layout.sheets):
        rooms = [(s.y + s.body.top, s.y + s.body.bottom) for s in d.layout.systems
                 if s.page == page]  # fmt: skip
        for block in sheet.blocks:
            for item in block.items if id(block) not in own else ():
                _, top, _, bottom = _ink(item)
                if any(top + block.y < low and high < bottom + block.y for high, low in rooms):
                    yield f"page {page}: {item} stands in a system"


def eleven_everything_is_there(d: Drawn) -> Complaints:
    """11: every note, event, measure, section and span has a primitive, and every id is found
    under a point of its own signs."""
    known = {i.source for s in d.layout.systems for i in s.body.items}
    hits = _hits(d)
    for section in d.lesson.arrangement.sections:
        if section.id not in hits and (section.letter or section.title):
            yield f"section {section.id} cannot be pointed at"
        if (section.letter or section.title) and section.id not in known:
            yield f"section {section.id} is not there"
    for span in d.lesson.arrangement.spans if d.style.flow == "pages" else ():
        empty = span.kind in WRITTEN or (span.kind in SILENT and not span.text)
        empty = empty or (span.kind == "slide" and span.start == span.end)
        if not (span.hidden or empty or span.id in known):
            yield f"{span} is not there"
        elif not (span.hidden or empty or span.id in hits):
            yield f"{span} cannot be pointed at"
    for measure in measures(d):
        rests = _shared_rests(measure)
        for located in walk.events(measure):
            ids = {located.event.id, *(note.id for note in located.event.notes)}
            if located.event.hidden or located.event.id in rests or _untold(d, located.event):
                continue
            if not ids & known:
                yield f"event {located.event.id} of measure {measure.id} is not there"
            if not ids & hits:
                yield f"event {located.event.id} of measure {measure.id} cannot be pointed at"
        yield from _moments(d, measure)


SILENT = ("talk", "tempo")  # spans that are their words
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
    """The ids that a finger on their own signs finds."""
    found: set[int] = set()
    for system in d.layout.systems:
        for item in system.body.items:
            if not item.source or item.source in found or item.role is Role.STAFF:
                continue
            for x, y in _points(item):
                hit = d.layout.hit(system.page, system.x + x, system.y + y)
                if hit is not None:
                    found.add(hit.source)
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
    10: ten_everything_is_on_the_paper,
    11: eleven_everything_is_there,
}


def broken(d: Drawn) -> list[str]:
    """The complaints of all laws, with their numbers."""
    return [f"{number}: {said}" for number, law in LAWS.items() for said in law(d)]
