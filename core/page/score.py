"""What is known of every measure in written order, gathered anew only where a lesson changed."""

# ruff: noqa: PLR0913, PLR0917 (gathering takes what it gathers from)

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from itertools import accumulate, islice
from operator import is_
from typing import TypeVar

from msgspec import Struct, structs

from core.model import Arrangement, Measure, Section, Span
from core.page import facts, fingered, measure_box
from core.page.breaking import Part
from core.page.draft import SystemBody
from core.page.facts import Facts, Spot
from core.page.measure_box import Context, MeasureBox
from core.page.metrics import Metrics
from core.page.setting import Setting
from core.page.style import PageStyle

T = TypeVar("T")


class Cache:
    """What an owner keeps between layouts: facts, measure boxes and systems, by measure id.

    Entries are used only while measure, context and setting are the same, so a stale cache costs
    time and never truth. One cache serves one style at a time.
    """

    def __init__(self) -> None:
        self.facts: dict[int, Facts] = {}
        self.boxes: dict[int, MeasureBox] = {}
        self.systems: dict[int, tuple[tuple[MeasureBox, ...], Setting, SystemBody]] = {}
        self.inner: dict[int, Spot] = {}
        self.fingered = fingered.Kept()
        self.tab_top = 0.0
        self.style: PageStyle | None = None
        self.metrics: Metrics | None = None

    def use(self, style: PageStyle, metrics: Metrics) -> None:
        """Forget what was made for another style or other fonts."""
        if style != self.style or metrics is not self.metrics:
            self.boxes.clear()
            self.systems.clear()
            self.tab_top = 0.0
            self.style, self.metrics = style, metrics


class Order:
    """The ids of all measures as they are written, and the place of each."""

    def __init__(self, ids: tuple[int, ...]) -> None:
        self.ids = ids

    @cached_property
    def place(self) -> dict[int, int]:
        return {number: index for index, number in enumerate(self.ids)}


class Window(Struct, frozen=True, gc=False):
    """Where two scores differ: measures `first` to `last` - 1 stand where the old ones from
    `first` on stood; what follows is as before and has moved by `shift`."""

    first: int
    last: int
    shift: int

    @property
    def old_last(self) -> int:
        return self.last - self.shift


class Spans(Struct, frozen=True, eq=False, dict=True):
    """The visible spans of an arrangement with the places of the measures they begin and end in.

    `rows` go with the spans as `given`, None for those that are not shown. `wanted` are ids at
    ends of spans, of all that are shown and perhaps of some that were; `homes` leads from those
    found to measure ids. In `closing` measures phrases end.
    """

    given: tuple[Span, ...] = ()
    rows: list[tuple[Span, int, int] | None] = []
    wanted: frozenset[int] = frozenset()
    homes: dict[int, int] = {}
    placed: list[tuple[Span, int, int]] = []
    closing: frozenset[int] = frozenset()
    talks: bool = False

    @cached_property
    def closed(self) -> frozenset[int]:
        """The measures after which a span goes on."""
        return frozenset(i for _, first, last in self.placed for i in range(first, last))


class Score(Struct, frozen=True, eq=False):
    """Everything known before lines are broken. All lists but `sizes` have one entry a measure;
    nobody changes them: the next score shares what stays."""

    strings: int = 0
    sections: tuple[Section, ...] = ()
    sizes: list[int] = []
    order: Order = Order(())
    measures: list[Measure] = []
    spots: list[Spot] = []
    known: list[Facts] = []
    boxes: list[MeasureBox] = []
    numbers: list[int] = []
    parts: list[Part] = []
    spans: Spans = Spans()
    flags: dict[int, tuple[bool, bool, bool]] = {}


def gather(
    arrangement: Arrangement, style: PageStyle, metrics: Metrics, cache: Cache, old: Score | None
) -> tuple[Score, Window]:
    """The score of an arrangement, and where its boxes may differ from those of `old`, which was
    made for the same style and fonts."""
    strings = len(arrangement.instrument.strings)
    old = old if old is not None and old.strings == strings else Score()
    sections = tuple(section for section in arrangement.sections if section.measures)
    measures, spots, window = _written(old, sections, cache)
    a, b, c = window.first, window.last, window.old_last
    changed = measures[a:b]
    same = [m.id for m in changed] == [m.id for m in old.measures[a:c]]
    order = old.order if same else Order(tuple([measure.id for measure in measures]))
    known = [*old.known[:a], *(_facts(m, cache) for m in changed), *old.known[c:]]
    low, high = max(a - 1, 0), min(b + 1, len(measures))  # neighbours may have a new context
    fresh = _boxes(measures, known, spots, strings, low, high, style, metrics, cache)
    boxes = [*old.boxes[:low], *fresh, *old.boxes[high - window.shift :]]
    sizes = [len(section.measures) for section in sections]
    spans = _spans(arrangement.spans, order, known, old, window)
    as_before = spans.closing == old.spans.closing and order is old.order and sizes == old.sizes
    flags = old.flags if as_before else _flags(sizes, spans.closing, style.phrases_per_line)
    if as_before:
        touched = [_flagged(box, flags.get(low + n)) for n, box in enumerate(fresh)]
        parts = [*old.parts[:low], *touched, *old.parts[high - window.shift :]]
    else:
        parts = [_flagged(box, flags.get(n)) for n, box in enumerate(boxes)]
    numbers = _numbers(old.numbers, changed, window)
    score = Score(
        strings, sections, sizes, order, measures, spots, known, boxes, numbers, parts, spans, flags
    )
    return score, Window(low, high, window.shift)


def _written(
    old: Score, sections: tuple[Section, ...], cache: Cache
) -> tuple[list[Measure], list[Spot], Window]:
    """All measures with their spots, and where they are not the very same as before."""
    head, tail = alike(old.sections, sections)
    count = len(old.measures)
    if head == len(sections) == len(old.sections):
        return old.measures, old.spots, Window(count, count, 0)
    head, tail = max(head - 1, 0), max(tail - 1, 0)  # the ends of the piece may have moved
    middle = sections[head : len(sections) - tail]
    begin = sum([len(section.measures) for section in sections[:head]])
    end = count - sum([len(s.measures) for s in sections[len(sections) - tail :]])
    measures = [measure for section in middle for measure in section.measures]
    spots: list[Spot] = []
    for number, section in enumerate(middle, head):
        opens, closes = number == 0, number + 1 == len(sections)
        spots += facts.spots(section, opens, closes, cache.inner)
    was = list(zip(old.measures[begin:end], old.spots[begin:end], strict=True))
    now = list(zip(measures, spots, strict=True))
    first, last = alike(was, now, lambda one, two: one[0] is two[0] and equal(one[1], two[1]))
    fresh = len(measures)
    window = Window(begin + first, begin + fresh - last, begin + fresh - end)
    return (
        [*old.measures[:begin], *measures, *old.measures[end:]],
        [*old.spots[:begin], *spots, *old.spots[end:]],
        window,
    )


def alike(
    old: Sequence[T], new: Sequence[T], same: Callable[[T, T], bool] = is_
) -> tuple[int, int]:
    """How many members of two rows are the same at their beginning, and at their end."""
    shorter = min(len(old), len(new))
    first = _run(map(same, old, new), shorter)
    last = _run(map(same, reversed(old), reversed(new)), shorter - first)
    return first, last


def _run(same: Iterable[bool], most: int) -> int:
    """How many hold before the first that does not, of the first `most`."""
    return next((n for n, holds in enumerate(islice(same, most)) if not holds), most)


def equal(a: object, b: object) -> bool:
    """Whether two values are the same; they are compared only where they are two objects."""
    return a is b or a == b


def _facts(measure: Measure, cache: Cache) -> Facts:
    known = cache.facts.get(measure.id)
    if known is None or known.measure is not measure:
        known = cache.facts[measure.id] = facts.gather(measure)
    return known


def _boxes(
    measures: list[Measure],
    known: list[Facts],
    spots: list[Spot],
    strings: int,
    low: int,
    high: int,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache,
) -> list[MeasureBox]:
    """The boxes of measures `low` to `high` - 1, whose contexts come from their neighbours."""
    a, b = max(low - 1, 0), high + 1
    contexts = facts.contexts(measures[a:b], known[a:b], spots[a:b], strings)
    return [
        _box(measure, context, style, metrics, cache)
        for measure, context in zip(
            measures[low:high], contexts[low - a : high - a], strict=True
        )
    ]  # fmt: skip


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


def _numbers(old: list[int], changed: list[Measure], window: Window) -> list[int]:
    """The printed number of every measure; see `walk.numbers`."""
    number = old[window.first - 1] if window.first else 0
    made: list[int] = []
    for measure in changed:
        number += measure.counted
        made.append(number)
    before = old[window.old_last - 1] if window.old_last else 0
    after = old[window.old_last :]
    if number != before:
        after = [n + number - before for n in after]
    return [*old[: window.first], *made, *after]


def _spans(
    given: tuple[Span, ...], order: Order, known: list[Facts], old: Score, window: Window
) -> Spans:
    """The spans with their places: the same value as before while nothing of it has changed.

    Where all that spans reach has stayed, only spans that came are looked for.
    """
    before, head, tail = old.spans, 0, 0
    stays = order is old.order and _reach_stays(known, old, window)
    if stays and given is before.given:
        return before
    if stays:
        head, tail = alike(before.given, given)
    fresh = [span for span in given[head : len(given) - tail] if not span.hidden]
    wanted = frozenset(end for span in fresh for end in (span.start, span.end))
    homes = _homes(wanted, order, known, old, window)
    if stays:
        wanted, homes = before.wanted | wanted, before.homes | homes
    middle = [
        _placed(span, order, homes) for span in given[head : len(given) - tail]
    ]  # fmt: skip
    rows = [*before.rows[:head], *middle, *before.rows[len(before.rows) - tail :]]
    placed = [row for row in rows if row is not None]
    gone = before.given[head : len(before.given) - tail] if stays else before.given
    kinds = {span.kind for span in (*fresh, *gone)}
    closing, talks = before.closing, before.talks
    if not stays or "phrase" in kinds:
        closing = frozenset([last for span, _, last in placed if span.kind == "phrase"])
    if not stays or "talk" in kinds:
        talks = any(span.kind == "talk" and not span.hidden for span in given)
    return Spans(given, rows, wanted, homes, placed, closing, talks)


def _reach_stays(known: list[Facts], old: Score, window: Window) -> bool:
    """Whether changed measures hold the same ends of spans as before."""
    a, b = window.first, window.last
    pairs = zip(old.known[a:b], known[a:b], strict=True)
    return all(f.ids == g.ids or old.spans.wanted.isdisjoint(f.ids ^ g.ids) for f, g in pairs)


def _placed(span: Span, order: Order, homes: dict[int, int]) -> tuple[Span, int, int] | None:
    """A span with the places of its measures; None where it is hidden or reaches nothing."""
    if span.hidden or span.start not in homes or span.end not in homes:
        return None
    start, end = order.place[homes[span.start]], order.place[homes[span.end]]
    return (span, start, end) if start <= end else None


def _homes(
    wanted: frozenset[int], order: Order, known: list[Facts], old: Score, window: Window
) -> dict[int, int]:
    """The measure that holds each end of a span; first looked for where it was before."""
    changed = set(old.order.ids[window.first : window.old_last])
    changed.update(order.ids[window.first : window.last])
    found: dict[int, int] = {}
    missing: set[int] = set()
    for end in wanted:
        home = old.spans.homes.get(end)
        if home is not None and home not in changed:
            found[end] = home
        else:
            missing.add(end)
    for part in (known[window.first : window.last], known) if missing else ():
        for facts_of in part:
            for end in missing & facts_of.ids:
                found[end] = facts_of.measure.id
        missing -= found.keys()
        if not missing:
            break
    return found


def _flags(
    sizes: list[int], closing: frozenset[int], phrases_per_line: int
) -> dict[int, tuple[bool, bool, bool]]:
    """For measures at whose end a section or phrase ends: (the line must end, section, phrase)."""
    section_ends = {total - 1 for total in accumulate(sizes)}
    flags: dict[int, tuple[bool, bool, bool]] = {}
    ends = 0
    for index in sorted(section_ends | closing):
        ends += 1
        last = index in section_ends
        forced = ends == phrases_per_line > 0
        ends = 0 if forced or last else ends
        flags[index] = (forced, last, index in closing)
    return flags


def _flagged(box: MeasureBox, flags: tuple[bool, bool, bool] | None) -> Part:
    if flags is None:
        return box.part
    forced, section, phrase = flags
    return structs.replace(
        box.part, must_end=box.part.must_end or forced, ends_section=section, ends_phrase=phrase
    )
