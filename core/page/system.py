"""One system: measures set to a width, everything drawn, relative to the system's own origin.

The origin is the left end of the top line of the staff (of the tab where that stands alone).
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import structs

from core.display.items import Item, Line, Role, Text
from core.page import (
    bars,
    column,
    curves,
    header,
    marks_above,
    marks_below,
    marks_event,
    measure_box,
    moment,
    name_rows,
    ossia,
    pen,
    stems,
    tab_rhythm,
    talk,
    tuplets,
)
from core.page.bars import Bar
from core.page.cluster import CENTRE, Cluster
from core.page.draft import Draft, EventAt, Moved, NoteAt, PlacedMeasure, SystemBody
from core.page.glyphs import FLAGS, flag_name
from core.page.measure_box import MeasureBox
from core.page.metrics import Metrics
from core.page.pen import Rect
from core.page.setting import Setting, SpanPart
from core.page.spacing import force_for
from core.page.staff import STAFF_HEIGHT, tab_height, tab_y, y_of
from core.page.style import PageStyle

TAB_DISTANCE = 4.4  # least spaces between the staff and the tab under it
LOOSE = 1.2  # force of a line that is not filled
FORCED_LOOSE = 2.6  # a line broken by hand is not pulled apart further than this


def fixed_width(draft: Draft, header_width: float) -> float:
    """The part of a system that does not stretch."""
    return header_width + sum(
        (box.lead_first if draft.leads(place) else box.lead)
        + (box.tail_last if draft.ends(place) else box.tail)
        for place, box in enumerate(draft.row)
    )


def set_columns(draft: Draft, head: float, *, justified: bool) -> None:
    """Give every column and bar line its x; fills in the force."""
    row = draft.row
    springs = [spring for box in row for spring in box.springs]
    force, squeeze = 1.0, 1.0
    if draft.width:
        room = draft.width - fixed_width(draft, head)
        force = force_for(springs, room)
        most = FORCED_LOOSE if justified else LOOSE
        justified = justified and force <= most
        if force > most:
            force = LOOSE
        least = sum(rod for _, rod in springs)
        if least > room:  # one measure that no line can hold: cramped, but on the paper
            force, squeeze = 0.0, max(room, 0.1 * least) / least
    draft.force = force
    draft.header_width = head
    x = head
    for index, box in enumerate(row):
        draft.lefts.append(x if index else 0.0)
        x += box.lead_first if draft.leads(index) else box.lead
        places: list[float] = []
        for length, rod in box.springs:
            places.append(x)
            x += max(rod, force * length) * squeeze
        draft.xs.append(places)
        x += box.tail_last if draft.ends(index) else box.tail
        draft.rights.append(x)
    if draft.width and (justified or force < LOOSE):
        draft.rights[-1] = draft.width
    else:
        draft.width = x


def draw_staff_signs(draft: Draft) -> None:
    """Heads, accidentals, rests, stems and beams of every measure."""
    for index, box in enumerate(draft.row):
        for here, x in zip(box.columns, draft.xs[index], strict=True):
            draft.items.append(Moved(here.items, x, 0.0))
            for left, top, right, bottom in here.rods:
                rect = (left + x, top, right + x, bottom)
                draft.above.add(rect)
                draft.below.add(rect)
        _stems(draft, index, box)
        draw_full_rests(draft, index, box)


def draw_full_rests(draft: Draft, index: int, box: MeasureBox) -> None:
    """A rest as long as its measure is a whole rest in the middle, once for all voices."""
    full = [c for c in box.clusters if c.fills and not c.event.hidden]
    voices = {c.voice for c in box.clusters if not c.event.hidden}
    together = len(full) == len(voices)
    left = draft.xs[index][0]
    tail = box.tail_last if draft.ends(index) else box.tail
    centre = (left - min(1.0, left) + draft.rights[index] - tail) / 2
    taken: list[Rect] = []
    for cluster in full[:1] if together else full:
        step = column.rest_step(cluster.event, cluster.voice, cluster.free or together)
        for _ in range(12):
            part = moment.Draft(draft.style, draft.m)
            column.rest_glyphs(part, cluster.event, step, centre, whole=True)
            clear = not any(pen.overlap(part.rods[0], other, 0.15) for other in taken)
            if together or cluster.free or (clear and not _hits(draft, index, part.rods[0])):
                break
            step += 2 if cluster.voice % 2 == 0 else -2
        taken += part.rods
        draft.put(part.items, *part.rods)


def _hits(draft: Draft, index: int, rect: Rect) -> bool:
    """Whether a rectangle touches anything of a measure's columns."""
    left, top, right, bottom = rect
    for here, x in zip(draft.row[index].columns, draft.xs[index], strict=True):
        moved = (left - x, top, right - x, bottom)
        if any(pen.overlap(moved, rod, 0.15) for rod in here.rods):
            return True
    return False


def _stems(draft: Draft, index: int, box: MeasureBox) -> None:
    weight = draft.style.line_weight
    lines: dict[int, stems.BeamLine] = {}
    xs = [_cluster_x(box, c, draft.xs[index]) for c in box.clusters]
    for number, group in enumerate(box.groups):
        members = [box.clusters[i] for i in group]
        size = stems.grace_size(members[0])
        places = [stems.stem_x(box.clusters[i], xs[i], draft.m, size) for i in group]
        line = stems.beam_line(members, places, size)
        lines[number] = line
        items = stems.draw_beams(members, places, line, draft.m, size)
        ends = (line.at(places[0]), line.at(places[-1]))
        draft.put(items, (places[0], min(ends), places[-1], max(ends)))
    for cluster, x in zip(box.clusters, xs, strict=True):
        if cluster.heads:
            _stem(draft, cluster, x, lines.get(cluster.group), weight, index)
        else:
            middle = x + CENTRE
            rest = EventAt(middle, middle - 0.5, middle + 0.5, 0.5, 3.5, cluster.up, 2.0)
            draft.events[cluster.event.id] = rest


def _cluster_x(box: MeasureBox, cluster: Cluster, places: Sequence[float]) -> float:
    at = box.column_of[cluster.onset]
    if cluster.beside:
        return places[at] + dict(box.columns[at].graces).get(cluster.event.id, 0.0)
    return places[at]


def _stem(
    draft: Draft, cluster: Cluster, x: float, line: stems.BeamLine | None, weight: float, index: int
) -> None:
    size = stems.grace_size(cluster)
    high, low = y_of(cluster.high), y_of(cluster.low)
    tip = high if cluster.up else low
    left = x + cluster.x
    if cluster.stemmed:
        at = stems.stem_x(cluster, x, draft.m, size)
        tip = line.at(at) if line is not None else stems.single_tip(cluster)
        stem = stems.Stem(at, stems.foot_y(cluster, draft.m, size), tip)
        items = stems.draw_stem(cluster, stem, draft.m, weight, size)
        draft.put(items, (at - 0.1, min(tip, high), at + 0.1, max(tip, low)))
        if cluster.group < 0 and FLAGS[cluster.event.value.base]:
            name = flag_name(cluster.event.value.base, cluster.up)
            draft.put((), pen.glyph_rect(draft.m, name, at, tip, size))
    width = draft.m.advances["noteheadBlack"] * size
    draft.events[cluster.event.id] = EventAt(
        left + width / 2, left, left + width, min(tip, high - 0.5), max(tip, low + 0.5),
        cluster.up, tip, not cluster.free, len(cluster.heads) == 1,
    )  # fmt: skip
    for head in cluster.heads:
        wide = draft.m.advances[head.name] * size * head.size
        draft.notes[head.note.id] = NoteAt(
            left + head.x, left + head.x + wide, head.y, cluster.up, index, cluster.event.id
        )


def draw_tab(draft: Draft) -> None:
    """The figures of the tab, and those repeated in parentheses where a tie comes over the line."""
    for index, box in enumerate(draft.row):
        for number, (here, x) in enumerate(zip(box.columns, draft.xs[index], strict=True)):
            shown = here.tab + (here.over if index == 0 and number == 0 else ())
            draft.items.append(Moved(shown, x, draft.tab_top))


def draw_frame(draft: Draft, *, metre_shown: bool, octave: bool, courtesy: bool) -> None:
    """Staff and tab lines, header, bar lines, changes of key and time."""
    m, style, row = draft.m, draft.style, draft.row
    rows = frame_rows(draft)
    thin = m.defaults["staffLineThickness"] * style.line_weight
    lines: list[Item] = []
    if style.staff:
        lines += [Line(0, y, draft.width, y, thin, Role.STAFF) for y in map(float, range(5))]
    if style.tab:
        ys = [draft.tab_top + tab_y(s) for s in range(1, draft.strings + 1)]
        lines += [Line(0, y, draft.width, y, thin * 0.85, Role.STAFF) for y in ys]
    if draft.opens:
        lines.append(Line(thin / 2, rows[0][0], thin / 2, rows[-1][1], thin, Role.STAFF))
    draft.items[:0] = lines
    if draft.opens:
        _header(draft, metre_shown=metre_shown, octave=octave)
    for index, box in enumerate(row):
        _bars(draft, index, box, rows, courtesy=courtesy)


def _header(draft: Draft, *, metre_shown: bool, octave: bool) -> None:
    """Clefs and signatures at the start of a line."""
    m, style, first = draft.m, draft.style, draft.row[0].measure
    metre = first.metre if metre_shown else None
    signs = header.system_header(m, style, first.key, metre, octave)
    if style.staff:
        draft.put(signs.items, (0.5, -1.4, 3.5, 6.6))
        if first.key.fifths:
            draft.above.add((3.5, -1.6, draft.header_width - 0.5, 0.0))
    else:
        draft.items += [pen.moved(item, 0.0, signs_y(draft)) for item in signs.items]
    if style.tab:
        draft.items += [pen.moved(i, 0.0, draft.tab_top) for i in header.tab_clef(m, draft.strings)]


def _over(left: float, signs: header.Signature) -> Rect:
    """What signatures cover; nothing above the staff where there are none."""
    return (left, -1.7, left + signs.width, 5.0) if signs.width else (left, 0.0, left, 0.0)


def signs_y(draft: Draft) -> float:
    """How far time signatures are lowered: to the middle of a tab that stands alone."""
    return 0.0 if draft.style.staff else (tab_height(draft.strings) - STAFF_HEIGHT) / 2


def frame_rows(draft: Draft) -> list[tuple[float, float, bool]]:
    """(top, bottom, dots wanted) of the staff and the tab."""
    rows: list[tuple[float, float, bool]] = []
    if draft.style.staff:
        rows.append((0.0, STAFF_HEIGHT, True))
    if draft.style.tab:
        rows.append((draft.tab_top, draft.tab_top + tab_height(draft.strings), True))
    return rows


def _bars(
    draft: Draft,
    index: int,
    box: MeasureBox,
    rows: list[tuple[float, float, bool]],
    *,
    courtesy: bool,
) -> None:
    m, style, source = draft.m, draft.style, box.measure.id
    context = box.context
    last = draft.ends(index)
    start = context.start_first if draft.leads(index) else context.start
    left = draft.lefts[index] if index else draft.header_width
    if start is not Bar.NONE:
        draft.items += bars.draw(start, left, rows, m, style, source)
    if not draft.leads(index):
        signs = measure_box.changes(box.measure, context, style, m)
        at = left + bars.width(start, m)
        draft.put([pen.moved(item, at, signs_y(draft)) for item in signs.items], _over(at, signs))
    end = context.end_last if last else context.end
    edge = draft.rights[index]
    if last and courtesy:
        signs = measure_box.warnings(box.measure, context, style, m)
        edge -= signs.width
        draft.put(
            [pen.moved(item, edge, signs_y(draft)) for item in signs.items], _over(edge, signs)
        )
    draft.items += bars.draw(end, edge - bars.width(end, m), rows, m, style, source)


def finish(draft: Draft) -> SystemBody:
    """The drawn system as a value."""
    measures = tuple(
        PlacedMeasure(
            box.measure.id, draft.lefts[i], draft.rights[i],
            tuple((c.onset, x) for c, x in zip(box.columns, draft.xs[i], strict=True)),
            box.end_ticks,
        )
        for i, box in enumerate(draft.row)
    )  # fmt: skip
    bottom = max(draft.below.extreme, draft.margin_bottom)
    return SystemBody(
        parts=tuple(draft.items),
        width=draft.width,
        top=draft.above.extreme,
        bottom=bottom,
        tab_top=draft.tab_top,
        tab_need=draft.tab_need,
        strings=draft.strings,
        measures=measures,
        force=draft.force,
        numbers=tuple(draft.numbers),
    )


def renumbered(body: SystemBody, setting: Setting, metrics: Metrics) -> SystemBody | None:
    """The system with other measure numbers; None where they do not fit into the same room."""
    numbers = setting.numbers
    if [place for _, place in body.numbers] != marks_above.numbered(setting):
        return None
    parts = list(body.parts)
    for index, place in body.numbers:
        text = parts[index]
        assert isinstance(text, Text)
        words = str(numbers[place])
        if metrics.text_width(words, text.face) * text.size != text.width:
            return None
        parts[index] = structs.replace(text, text=words)
    return structs.replace(body, parts=tuple(parts))


def place_tab(draft: Draft, least: float) -> None:
    """Decide where the tab stands; from then on the lower outline is the tab's."""
    if not draft.style.tab:
        return
    if draft.style.staff:
        clear = 2.2 if draft.any_unplaced else 1.25
        draft.tab_need = max(STAFF_HEIGHT + TAB_DISTANCE, draft.below.extreme + clear)
        draft.tab_top = max(least, draft.tab_need)
    bottom = draft.tab_top + tab_height(draft.strings)
    draft.below.add((0.0, draft.tab_top, draft.width, bottom + 0.7))


def set_system(
    row: Sequence[MeasureBox], setting: Setting, style: PageStyle, metrics: Metrics
) -> SystemBody:
    """Set measures to a width and draw them."""
    paged = setting.width > 0
    closes = paged or setting.final
    draft = Draft(row, style, metrics, setting.width, opens=setting.opens, closes=closes)
    head = 0.0
    if setting.opens:
        metre = row[0].measure.metre if setting.metre_shown else None
        head = header.system_header(metrics, style, row[0].measure.key, metre, setting.octave).width
    set_columns(draft, head, justified=setting.justified)
    draft.outline()
    spans = setting.spans
    if any(box.others for box in row):
        setting = structs.replace(setting, spans=ossia.outside(draft, spans))
    _draw_music(draft, setting)
    _draw_above(draft, setting, spans)
    return finish(draft)


def _draw_music(draft: Draft, setting: Setting) -> None:
    """Notes and figures, what stands close to them, staff and tab."""
    if draft.style.staff:
        draw_staff_signs(draft)
    else:
        tab_rhythm.draw_rhythm(draft)
    _reserve_signs(draft, setting)
    _draw_inside(draft, setting)
    place_tab(draft, setting.tab_top)
    draw_tab(draft)
    draw_frame(
        draft, metre_shown=setting.metre_shown, octave=setting.octave, courtesy=setting.courtesy
    )


def _draw_small(draft: Draft, setting: Setting) -> SystemBody:
    """Another version of a measure, for the one that sets it above."""
    _draw_music(draft, setting)
    marks_event.draw_notes_words(draft)
    marks_above.draw_lines(draft, setting.spans)
    marks_above.draw_warnings(draft)
    return finish(draft)


def _reserve_signs(draft: Draft, setting: Setting) -> None:
    """Let the outlines pass around clefs and signatures before anything is put on them."""
    if not draft.style.staff:
        return
    if draft.opens:
        draft.put((), (0.5, -1.4, 3.5, 6.6))
        if draft.row[0].measure.key.fifths:
            draft.above.add((3.5, -1.6, draft.header_width - 0.5, 0.0))
    for index, box in enumerate(draft.row):
        if not draft.leads(index):
            signs = measure_box.changes(box.measure, box.context, draft.style, draft.m)
            at = draft.lefts[index] if index else draft.header_width
            draft.put((), _over(at + bars.width(box.context.start, draft.m), signs))
        if draft.ends(index) and setting.courtesy:
            signs = measure_box.warnings(box.measure, box.context, draft.style, draft.m)
            draft.put((), _over(draft.rights[index] - signs.width, signs))


def _draw_inside(draft: Draft, setting: Setting) -> None:
    """Signs close to the notes, then what stands between staff and tab."""
    marks_event.draw_articulations(draft)
    marks_event.draw_fingers_outside(draft)
    if draft.style.staff:
        curves.draw_ties(draft)
        curves.draw_let_ring(draft)
    tuplets.draw_tuplets(draft)
    curves.draw_slurs(draft, setting.spans)
    marks_event.draw_circled(draft)
    marks_event.draw_plucking(draft)
    marks_event.draw_fermatas(draft)
    name_rows.draw_names(draft)
    marks_below.draw_dynamics(draft, setting.spans)
    marks_below.draw_texts_below(draft)
    marks_below.draw_beat_dots(draft)


def _draw_above(draft: Draft, setting: Setting, spans: Sequence[SpanPart]) -> None:
    """The rows above the system, from the staff outwards; `spans` are those of other versions
    too."""
    marks_event.draw_notes_words(draft)
    marks_above.draw_lines(draft, setting.spans)
    marks_above.draw_positions(draft)
    marks_above.draw_numbers(draft, setting)
    ossia.draw(draft, spans, _draw_small)
    marks_above.draw_voltas(draft, setting.voltas)
    marks_above.draw_marks(draft, setting)
    marks_above.draw_warnings(draft)
    marks_above.draw_times(draft, setting.times)
    marks_above.draw_signs(draft)
    marks_above.draw_tempo(draft, setting)
    marks_above.draw_letters(draft, setting.letters, setting.talk)
    talk.draw_talk(draft, setting)
