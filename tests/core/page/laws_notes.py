"""The laws of single notes: figures, stems, leger lines, pitches, ties and slurs (2, 6 to 9)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from core.display.items import Curve, Fill, Glyph, Line, Role, Text
from core.model import Measure, Note, Pitch, Place, walk
from core.page.cluster import CENTRE, GRACE_SIZE, Cluster
from core.page.curves import CURVED
from core.page.layout import SystemBox
from core.page.staff import STAFF_HEIGHT, diatonic_at, tab_y, y_of
from tests.core.page.kit import NAMES, metrics
from tests.core.page.reading import heads, measures, placed_boxes, places_of
from tests.core.page.styles import Drawn

Complaints = Iterator[str]
EPS = 1e-6
STEM = metrics().defaults["stemThickness"]
DIGIT = 0.65  # of the em: the height of the tab's figures


def two_figures_stand_on_their_strings(d: Drawn) -> Complaints:
    """2: a tab figure within .05 of its column's head centre, on its line within .02, one figure
    for an onset and string."""
    if not d.style.tab:
        return
    drawn = heads(d)
    for system, columns, measure, clusters in placed_boxes(d):
        found = figures(d, system)
        seen: Counter[tuple[int, int]] = Counter()
        wanted: set[tuple[int, int]] = set()
        for cluster in clusters:
            for head in cluster.heads if not cluster.beside else ():
                note, label = head.note, head.note.place
                shown = found.get(note.id)
                if label is None:
                    continue
                spot = (cluster.onset, label.value.string)
                if note.id not in d.boxes[measure.id].held or not d.style.staff:
                    wanted.add(spot)
                if shown is None:
                    continue
                seen[spot] += 1
                if abs(shown.x - columns[cluster.onset] - CENTRE) >= 0.05:
                    yield f"{shown} is not in its column"
                if abs(_middle(shown) - system.body.tab_top - tab_y(spot[1])) >= 0.02:
                    yield f"{shown} is not on its line"
                if d.style.staff and not cluster.x and abs(head.x) < 0.3 and _alike(cluster):
                    yield from _under(drawn[note.id][1], shown)
        yield from (f"{spot}: no figure" for spot in wanted if not seen[spot])
        yield from (f"{spot}: two figures" for spot, count in seen.items() if count > 1)


def _alike(cluster: Cluster) -> bool:
    """Whether all heads are of one width: a narrow one among others stands at the common stem."""
    return len({(head.name, head.size) for head in cluster.heads}) == 1


def _under(head: Glyph, figure: Text) -> Complaints:
    left, _, right, _ = metrics().by_code[head.code]
    if abs(head.x + (left + right) / 2 * head.size - figure.x) >= 0.05:
        yield f"{figure} is not under {head}"


def _middle(figure: Text) -> float:
    return figure.y - DIGIT * figure.size / 2


def figures(d: Drawn, system: SystemBox) -> dict[int, Text]:
    """Note id -> the figure on the tab. Figures in parentheses are other places, but for notes
    that are held."""
    held = {note for placed in system.body.measures for note in d.boxes[placed.measure].held}
    top = system.body.tab_top - 0.5
    bottom = system.body.tab_top + tab_y(system.body.strings) + 0.5
    return {
        i.source: i
        for i in system.body.items
        if isinstance(i, Text) and i.source and i.anchor == 0.5 and i.text.strip("()‹›").isdigit()
        and top < _middle(i) < bottom and (i.source in held or "(" not in i.text)
    }  # fmt: skip


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
                beamed = cluster.group >= 0 and system.body.force  # not in a cramped measure
                if beamed and not any(_touches(b, stem) for b in beams):
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
    drawn = heads(d)
    for system in d.layout.systems:
        lines = _legers(d, system)
        used: set[Line] = set()
        for item in system.body.items:
            if not (isinstance(item, Glyph) and NAMES[item.code].startswith("note")):
                continue
            if item.source not in drawn or not d.style.staff:
                continue
            at = round(2 * (2 - item.y))
            left, _, right, _ = (item.x + side * item.size for side in metrics().by_code[item.code])
            room = past if item.size == 1 else 0.2
            for p in (*range(6, at + 1, 2), *range(-6, at - 1, -2)):
                fit = [i for i in lines if i.y0 == y_of(p) and i.x0 < right and i.x1 > item.x]
                used.update(fit)
                if not any(i.x0 <= left - room + EPS and i.x1 >= right + room - EPS for i in fit):
                    yield f"no leger line at {p} for the head at {item.x}, {item.y}"
        for line in lines:
            if line not in used:
                yield f"{line} is needed by no head"


def _legers(d: Drawn, system: SystemBox) -> list[Line]:
    """The leger lines of a system, known by their thickness."""
    body = system.body
    widths = {metrics().defaults["legerLineThickness"] * d.style.line_weight, 0.13}
    outer = (body.tab_top - 0.01) if body.tab_top else float("inf")
    return [
        i for i in body.items
        if isinstance(i, Line) and i.role is Role.STAFF and i.y0 == i.y1
        and i.width in widths and i.x0 > 0 and i.x1 - i.x0 < 12
        and not 0 <= i.y0 <= STAFF_HEIGHT and i.y0 < outer
    ]  # fmt: skip


def eight_the_page_sounds_as_the_lesson(d: Drawn) -> Complaints:
    """8: head y, key and accidentals give the pitch back; so do figure, string, tuning, capo.
    Under a capo the staff shows what is fingered: so many semitones lower than it sounds."""
    drawn = heads(d)
    instrument = d.lesson.arrangement.instrument
    sounding = {n.id: n.pitch.midi for m in measures(d) for _, n in walk.notes(m)}
    lower = 0 if d.style.sounding else instrument.capo
    for system, _, measure, clusters in placed_boxes(d):
        for _, note in walk.notes(measure):
            if note.pitch.midi + lower != sounding[note.id]:
                yield f"{note} is not written {lower} semitones under its sound"
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
            elif instrument.midi_at(Place(string, fret)) != sounding[note_id]:
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
        if note.id in held and note.id not in shown:
            if at != note.pitch.diatonic:
                yield f"{note.pitch} is held at the height of {at}"
            continue
        state[at] = shown.get(note.id, state.get(at, measure.key.alter_of("CDEFGAB"[at % 7])))
        plain = note.accidental != "hidden"
        if at != note.pitch.diatonic or (plain and state[at] != note.pitch.alter):
            yield f"{note.pitch} is read as {Pitch('CDEFGAB'[at % 7], state[at], at // 7)}"


def nine_ties_join_and_slurs_clear(d: Drawn) -> Complaints:
    """9: ties join equal pitches; slurs clear inner heads by .25."""
    if not d.style.staff:
        return
    drawn = heads(d)
    notes = {n.id: n for m in measures(d) for _, n in walk.notes(m)}
    spans = {s.id: s for s in d.lesson.arrangement.spans if s.kind in CURVED}
    places = places_of(d)
    for system in d.layout.systems:
        here = {i: glyph for i, (where, glyph) in drawn.items() if where is system}
        for item in system.body.items:
            if isinstance(item, Curve) and item.source in notes and system.body.force:
                yield from _tie(item, notes, here, system.body.width)
            elif item.source in spans and isinstance(item, Curve):
                span = spans[item.source]
                inner = [g for i, g in here.items()
                         if places[span.start] < places[i] < places[span.end]]  # fmt: skip
                yield from _cleared(item, inner)
    yield from _ties_drawn(d, drawn)


def _tie(curve: Curve, notes: dict[int, Note], here: dict[int, Glyph], width: float) -> Complaints:
    """A tie is level and ends at heads of one pitch, or at an end of the line; a let-ring tie
    begins at its head."""
    own, pitch = here[curve.source], notes[curve.source].pitch
    if curve.start[1] != curve.end[1]:
        yield f"{curve} is not level"
    heads = [g for i, g in here.items() if notes[i].pitch == pitch]
    starts = [g for g in heads if -0.5 < curve.start[0] - _right(g) < 2.5]
    ends = [g for g in heads if -0.5 < g.x - curve.end[0] < 0.5]
    if own not in starts and own not in ends:
        yield f"{curve} is away from its head {own}"
    if abs(curve.start[1] - own.y) > 0.6:
        yield f"{curve} is above or below its head {own}"
    if own in ends and own not in starts:
        return  # the second half of a tie from the line before
    if not (ends or notes[curve.source].let_ring or curve.end[0] > width - 0.6):
        yield f"{curve} ends at no head of {pitch}"


def _right(head: Glyph) -> float:
    return head.x + metrics().by_code[head.code][2] * head.size


def _ties_drawn(d: Drawn, drawn: dict[int, tuple[SystemBox, Glyph]]) -> Complaints:
    """Every tied note has its curve, if the next event of its voice has its pitch."""
    curved = {i.source for s in d.layout.systems for i in s.body.items if isinstance(i, Curve)}
    row = measures(d)
    for number, measure in enumerate(row):
        for voice, events in enumerate(measure.voices):
            plain = [e for e in events if e.grace is None and not e.hidden]
            after = row[number + 1].voices[voice : voice + 1] if number + 1 < len(row) else ()
            plain += [e for v in after for e in v if e.grace is None and not e.hidden][:1]
            for a, b in pairwise(plain):
                same = {n.pitch for n in b.notes}
                for note in a.notes if a in events else ():
                    if note.tied and note.pitch in same and note.id not in curved:
                        yield f"the tie of {note.id} is not there"


def _cleared(curve: Curve, inner: list[Glyph]) -> Complaints:
    """All of the curve passes over or under each head, .25 away."""
    for head in inner:
        left, low, right, high = metrics().by_code[head.code]
        x0, x1 = head.x + left * head.size, head.x + right * head.size
        top, bottom = head.y - high * head.size, head.y - low * head.size
        over = [(x, y) for x, y in _along(curve) if x0 <= x <= x1]
        above = all(top - y >= 0.25 for _, y in over)
        if not (above or all(y - bottom >= 0.25 for _, y in over)):
            yield f"a slur to {curve.end} is {[round(y, 2) for _, y in over]} at {head}"


def _along(curve: Curve) -> Iterator[tuple[float, float]]:
    """Points of both edges of a curve, 200 on each."""
    for controls in (curve.outer, curve.inner):
        row = (curve.start, *controls, curve.end)
        for number in range(201):
            t = number / 200
            weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            yield (
                sum(w * p[0] for w, p in zip(weights, row, strict=True)),
                sum(w * p[1] for w, p in zip(weights, row, strict=True)),
            )
