"""From a lesson to sheets: the one entrance to engraving. Pure; what may be kept is passed in."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, structs

from core.display.items import Block, Sheet
from core.model import Arrangement, Lesson, Measure, Section, walk
from core.page import breaking, facts, fingered, measure_box, system, titles
from core.page.draft import SystemBody
from core.page.facts import Facts, Spot
from core.page.layout import Layout, SystemBox
from core.page.measure_box import Context, MeasureBox
from core.page.metrics import Metrics
from core.page.setting import Setting, settings_of, span_places
from core.page.style import PageStyle

SYSTEM_GAP = 3.0  # least spaces between what two systems draw
MOST_GAP = 7.0  # a page is rather left open at its foot than pulled further apart
LINE_MARGIN = 3.0
PIECE = 4  # measures in a piece of one long line
FOOT = 3.0  # spaces kept for the footer


class Gathered(Struct, frozen=True, eq=False):
    """What is known of every measure, in written order, before lines are broken."""

    sections: tuple[Section, ...]
    strings: int
    known: list[Facts]
    where: list[Spot]
    made: list[Context]
    boxes: list[MeasureBox]


class Cache:
    """What an owner keeps between layouts: facts, measure boxes and systems, by measure id.

    Entries are used only while measure, context and setting are the same, so a stale cache costs
    time and never truth. One cache serves one style at a time.
    """

    def __init__(self) -> None:
        self.facts: dict[int, Facts] = {}
        self.boxes: dict[int, MeasureBox] = {}
        self.systems: dict[int, tuple[tuple[MeasureBox, ...], Setting, SystemBody]] = {}
        self.style: PageStyle | None = None
        self.tab_top = 0.0
        self.before: Gathered | None = None
        self.fingered = fingered.Kept()

    def use(self, style: PageStyle) -> None:
        """Forget what was made for another style."""
        if style != self.style:
            self.boxes.clear()
            self.systems.clear()
            self.before = None
            self.style = style


class Frame(Struct, frozen=True):
    """The room on paper, in spaces."""

    width: float
    height: float
    left: float
    top: float
    right: float
    bottom: float
    talk: float

    @property
    def system_left(self) -> float:
        return self.left + self.talk

    @property
    def system_width(self) -> float:
        return self.right - self.left - self.talk


def engrave(
    lesson: Lesson,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache | None = None,
    previous: Layout | None = None,
    turns: Mapping[int, float] | None = None,
) -> Layout:
    """Lay the lesson out. With `cache`, unchanged measures and systems are taken from it; with
    `previous`, its line breaks stay while every line remains within bounds of stretch. `turns` is
    the cost of turning the page after a measure, by its id: 0 where a hand is free, 1 where both
    play on (as after measures not named)."""
    cache = Cache() if cache is None else cache
    cache.use(style)
    if not style.sounding:
        lesson = cache.fingered.lesson(lesson)
    arrangement = lesson.arrangement
    gathered = cache.before = _gather(arrangement, style, metrics, cache)
    boxes, where, known = gathered.boxes, gathered.where, gathered.known
    frame = _frame(style, arrangement)
    if not boxes:
        return Layout((_blank(frame),), (), style, metrics, {}, ())
    breaks = _breaks(boxes, where, known, arrangement, frame, style, metrics, previous)
    bodies = _bodies(lesson, boxes, known, where, breaks, frame, style, metrics, cache)
    return _paged(lesson, bodies, frame, style, metrics, previous, turns or {})


def _gather(arrangement: Arrangement, style: PageStyle, metrics: Metrics, cache: Cache) -> Gathered:
    """Facts, contexts and boxes of all measures; what lies outside changed sections is kept."""
    measures = list(walk.measures(arrangement))
    strings = len(arrangement.instrument.strings)
    old, where, count = cache.before, facts.spots(arrangement), len(measures)
    known: list[Facts] = []
    made: list[Context] = []
    boxes: list[MeasureBox] = []
    first, last = 0, count
    if old is not None and old.strings == strings and _sizes(old) == _sizes(arrangement):
        first, last = _changed(old.sections, arrangement.sections)
        known, made, boxes = old.known[:], old.made[:], old.boxes[:]
    known[first:last] = [_facts(m, cache) for m in measures[first:last]]
    low, high = max(first - 1, 0), min(last + 1, count)  # neighbours may have a new context
    a, b = max(low - 1, 0), min(high + 1, count)  # and need their own neighbours for it
    part = facts.contexts(measures[a:b], known[a:b], where[a:b], strings)
    made[low:high] = part[low - a : high - a]
    boxes[low:high] = [
        _box(m, c, style, metrics, cache)
        for m, c in zip(measures[low:high], made[low:high], strict=True)
    ]
    return Gathered(arrangement.sections, strings, known, where, made, boxes)


def _sizes(of: Gathered | Arrangement) -> list[int]:
    """How many measures each section has."""
    return [len(section.measures) for section in of.sections]


def _changed(old: Sequence[Section], new: Sequence[Section]) -> tuple[int, int]:
    """First measure and the one after the last of the sections that are other than before."""
    changed = [
        number for number, pair in enumerate(zip(old, new, strict=True)) if pair[0] is not pair[1]
    ]
    if not changed:
        return 0, 0
    first = sum(len(s.measures) for s in new[: changed[0]])
    return first, first + sum(len(s.measures) for s in new[changed[0] : changed[-1] + 1])


def _facts(measure: Measure, cache: Cache) -> Facts:
    known = cache.facts.get(measure.id)
    if known is None or known.measure is not measure:
        known = cache.facts[measure.id] = facts.gather(measure)
    return known


def _box(
    measure: Measure, context: Context, style: PageStyle, metrics: Metrics, cache: Cache
) -> MeasureBox:
    box = cache.boxes.get(measure.id)
    if box is not None and box.context == context:
        same = box.measure is measure or box.measure == measure
        if same:
            return box
    box = cache.boxes[measure.id] = measure_box.build(measure, context, style, metrics)
    return box


def _frame(style: PageStyle, arrangement: Arrangement) -> Frame:
    mm = style.space_mm
    if style.flow == "line":
        return Frame(0.0, 0.0, LINE_MARGIN, LINE_MARGIN, 0.0, 0.0, 0.0)
    talks = any(span.kind == "talk" and not span.hidden for span in arrangement.spans)
    usable = (style.width_mm - style.left_mm - style.right_mm) / mm
    talk = min(style.talk_mm / mm, usable / 4) if talks and style.talk else 0.0
    return Frame(
        style.width_mm / mm, style.height_mm / mm, style.left_mm / mm, style.top_mm / mm,
        (style.width_mm - style.right_mm) / mm, (style.height_mm - style.bottom_mm) / mm, talk,
    )  # fmt: skip


def _blank(frame: Frame) -> Sheet:
    return Sheet(max(frame.width, 20.0), max(frame.height, 20.0), ())


def _breaks(
    boxes: Sequence[MeasureBox],
    where: Sequence[Spot],
    known: Sequence[Facts],
    arrangement: Arrangement,
    frame: Frame,
    style: PageStyle,
    metrics: Metrics,
    previous: Layout | None,
) -> list[int]:
    if style.flow == "line":
        return _pieces(boxes, where, known, arrangement)
    closing = _phrase_ends(arrangement, known)
    ends = 0
    parts = [box.part for box in boxes]
    for index, spot in enumerate(where):
        if not spot.last and index not in closing:
            continue
        ends += 1
        forced = ends == style.phrases_per_line > 0
        ends = 0 if forced or spot.last else ends
        part = parts[index]
        parts[index] = structs.replace(
            part,
            must_end=part.must_end or forced,
            ends_section=spot.last,
            ends_phrase=index in closing,
        )
    width = frame.system_width
    if previous is not None and previous.style == style:
        kept = breaking.keep_breaks(parts, _old_breaks(boxes, previous), width)
        if kept:
            return kept
    return breaking.break_lines(parts, width)


def _phrase_ends(arrangement: Arrangement, known: Sequence[Facts]) -> frozenset[int]:
    """The measures in which a phrase ends."""
    phrases = [span for span in arrangement.spans if span.kind == "phrase"]
    return frozenset(last for _, _, last in span_places(phrases, known))


def _pieces(
    boxes: Sequence[MeasureBox],
    where: Sequence[Spot],
    known: Sequence[Facts],
    arrangement: Arrangement,
) -> list[int]:
    """Where one long line may be cut into pieces that are set by themselves: about every fourth
    measure, where no tie, no span and no ending passes; counted anew in each section."""
    closed: set[int] = set()
    for _, first, last in span_places(arrangement.spans, known):
        closed.update(range(first, last))
    place = {box.measure.id: index for index, box in enumerate(boxes)}
    for section in arrangement.sections:
        for ending in section.endings:
            if ending.first in place and ending.last in place:
                closed.update(range(place[ending.first], place[ending.last]))
    ends: list[int] = []
    count = 0
    for index in range(len(boxes) - 1):
        count += 1
        held = boxes[index + 1].context.tied_in
        if (count >= PIECE or where[index].last) and not held and index not in closed:
            ends.append(index + 1)
            count = 0
    return [*ends, len(boxes)]


def _old_breaks(boxes: Sequence[MeasureBox], previous: Layout) -> list[int]:
    """The breaks of the layout before: new measures join the line of the measure before them.

    Empty where measures have changed places.
    """
    line = 0
    ends: list[int] = []
    for index, box in enumerate(boxes):
        own = previous.index.get(box.measure.id)
        if own is not None and own[0] != line:
            if own[0] < line:
                return []
            if index:
                ends.append(index)
            line = own[0]
    return [*ends, len(boxes)]


def _bodies(
    lesson: Lesson,
    boxes: Sequence[MeasureBox],
    known: Sequence[Facts],
    where: Sequence[Spot],
    breaks: Sequence[int],
    frame: Frame,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache,
) -> list[SystemBody]:
    width, talk = frame.system_width, frame.talk
    settings = settings_of(lesson, boxes, known, where, breaks, style, width, talk)
    starts = [0, *breaks]
    rows = [tuple(boxes[a:b]) for a, b in zip(starts, breaks, strict=False)]
    if style.flow == "pages":
        return [_set(row, s, style, metrics, cache) for row, s in zip(rows, settings, strict=True)]
    while True:  # all pieces of one long line have their tab at the height the lowest one needs
        at = cache.tab_top
        level = [structs.replace(setting, tab_top=at) for setting in settings]
        bodies = [_set(r, s, style, metrics, cache) for r, s in zip(rows, level, strict=True)]
        cache.tab_top = max(body.tab_need for body in bodies)
        if cache.tab_top == at:
            return bodies


def _set(
    row: tuple[MeasureBox, ...],
    setting: Setting,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache,
) -> SystemBody:
    """A system from the cache where its measures and its setting are the same, else set anew."""
    name = row[0].measure.id
    kept = cache.systems.get(name)
    if kept is not None and len(kept[0]) == len(row) and kept[1] == setting:
        same = all(a is b for a, b in zip(kept[0], row, strict=True))
        if same:
            return kept[2]
    body = system.set_system(row, setting, style, metrics)
    cache.systems[name] = (row, setting, body)
    return body


def _paged(
    lesson: Lesson,
    bodies: Sequence[SystemBody],
    frame: Frame,
    style: PageStyle,
    metrics: Metrics,
    previous: Layout | None,
    turns: Mapping[int, float],
) -> Layout:
    if style.flow == "line":
        return _line(bodies, style, metrics, previous)
    head, head_height = (
        titles.title_block(lesson, style, frame.right - frame.left, metrics)
        if style.title
        else ([], 0.0)
    )
    room = frame.bottom - frame.top - (FOOT if style.footer else 0.0)
    heights = [body.bottom - body.top for body in bodies]
    costs = [turns.get(body.measures[-1].measure, 1.0) for body in bodies] if turns else ()
    pages = breaking.break_pages(heights, room - head_height, room, SYSTEM_GAP, costs)
    sheets: list[Sheet] = []
    placed: list[SystemBox] = []
    old = _old_blocks(previous)
    first = 0
    for number, last in enumerate(pages):
        top = head_height if number == 0 else 0.0
        gap = _page_gap(heights[first:last], room - top, last == len(bodies))
        row = _stacked(bodies[first:last], number, frame, frame.top + top, gap, old)
        placed += row
        blocks = [system.block for system in row]
        if number == 0 and head:
            blocks.insert(0, Block(frame.left, frame.top, tuple(head), key=1))
        if style.footer:
            edges = (frame.left, frame.right, frame.bottom)
            blocks.append(titles.footer(lesson, number + 1, len(pages), *edges, metrics))
        sheets.append(Sheet(frame.width, frame.height, tuple(blocks)))
        first = last
    return _layout(sheets, placed, style, metrics)


def _stacked(
    bodies: Sequence[SystemBody],
    page: int,
    frame: Frame,
    y: float,
    gap: float,
    old: dict[int, Block],
) -> list[SystemBox]:
    """The systems of one page, one under the other from y on."""
    placed: list[SystemBox] = []
    for body in bodies:
        block = _block(body, frame.system_left, y - body.top, old)
        placed.append(SystemBox(page, block.x, block.y, body, block))
        y += body.bottom - body.top + gap
    return placed


def _page_gap(heights: Sequence[float], room: float, final: bool) -> float:
    """The space between the systems of a page; the last page is not pulled apart."""
    if len(heights) < 2:
        return SYSTEM_GAP
    even = (room - sum(heights)) / (len(heights) - 1)
    most = SYSTEM_GAP if final else MOST_GAP
    return max(SYSTEM_GAP, min(even, most))


def _old_blocks(previous: Layout | None) -> dict[int, Block]:
    return {} if previous is None else {id(s.body): s.block for s in previous.systems}


def _block(body: SystemBody, x: float, y: float, old: dict[int, Block]) -> Block:
    """The block of a system: the very same object as before where nothing moved."""
    kept = old.get(id(body))
    if kept is not None and kept.x == x and kept.y == y:
        return kept
    return Block(x, y, body.items, body.key)


def _line(
    bodies: Sequence[SystemBody], style: PageStyle, metrics: Metrics, previous: Layout | None
) -> Layout:
    """Everything in one long line on one sheet, piece after piece."""
    old = _old_blocks(previous)
    top = LINE_MARGIN - min(body.top for body in bodies)
    x = LINE_MARGIN
    placed: list[SystemBox] = []
    for body in bodies:
        block = _block(body, x, top, old)
        placed.append(SystemBox(0, block.x, block.y, body, block))
        x += body.width
    height = top + max(body.bottom for body in bodies) + LINE_MARGIN
    sheet = Sheet(x + LINE_MARGIN, height, tuple(system.block for system in placed))
    return _layout([sheet], placed, style, metrics)


def _layout(
    sheets: Sequence[Sheet], placed: Sequence[SystemBox], style: PageStyle, metrics: Metrics
) -> Layout:
    index = {
        measure.measure: (number, place)
        for number, box in enumerate(placed)
        for place, measure in enumerate(box.body.measures)
    }
    breaks = tuple(tuple(m.measure for m in box.body.measures) for box in placed)
    return Layout(tuple(sheets), tuple(placed), style, metrics, index, breaks)
