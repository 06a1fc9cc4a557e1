"""A measure before it has a place: columns, springs and rods. Cached by measure and context."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.model import Key, Measure, Metre, OtherVersion, Pitch
from core.page import accidentals, bars, column, header
from core.page.bars import Bar
from core.page.breaking import Part
from core.page.cluster import Cluster, clusters
from core.page.metrics import Metrics
from core.page.moment import Column
from core.page.spacing import clearance, ideal, separation
from core.page.style import PageStyle, small_style
from core.page.turns import Free, free_hands

LEAD = 1.0  # spaces between a bar line (or signature) and the first note
LEAD_AFTER_HEADER = 0.6
TRAIL = 0.5
SMALL = 0.65  # size of other versions above their measure: our own choice
REACH = 6  # columns over which a wide sign is kept clear of the next


class Context(Struct, frozen=True, gc=False):
    """What a measure must know of its neighbours, and nothing more.

    `before` are alterations the measure before left; `tied_in` (voice, pitch) held into it.
    `end` is its closing bar line inside a system and `end_last` the one at a system's end.
    `next_key` and `next_metre` are set where the next measure changes them.
    """

    strings: int
    before: tuple[tuple[int, int], ...] = ()
    tied_in: tuple[tuple[int, Pitch], ...] = ()
    key_before: Key | None = None
    metre_before: Metre | None = None
    next_key: Key | None = None
    next_metre: Metre | None = None
    start: Bar = Bar.NONE
    start_first: Bar = Bar.NONE
    end: Bar = Bar.SINGLE
    end_last: Bar = Bar.SINGLE


class Small(Struct, frozen=True, eq=False):
    """Other music for a measure, ready to be set small above it."""

    purpose: Literal["easier", "harder", "second time"]
    box: MeasureBox


class MeasureBox(Struct, frozen=True, eq=False):
    """A measure ready to be set. Lengths in spaces.

    `springs` are (ideal, rod), one for each column up to the next one or the bar line.
    `lead` is fixed room before the first column inside a system, `lead_first` after a header;
    `part` is what line breaking needs where no section and no phrase ends.
    `tail` and `tail_last` hold the closing bar line (and a system's end courtesy signatures).
    `others` are set small above the measure, in the room its springs keep for them.
    """

    measure: Measure
    context: Context
    columns: tuple[Column, ...]
    clusters: tuple[Cluster, ...]
    groups: tuple[tuple[int, ...], ...]
    column_of: dict[int, int]
    held: frozenset[int]
    springs: tuple[tuple[float, float], ...]
    lead: float
    lead_first: float
    tail: float
    tail_last: float
    natural: float
    least: float
    metre_shown: bool
    part: Part
    free: Free
    others: tuple[Small, ...] = ()

    @property
    def end_ticks(self) -> int:
        return self.measure.length_ticks


def build(measure: Measure, context: Context, style: PageStyle, metrics: Metrics) -> MeasureBox:
    """Lay out one measure."""
    letters = style.names == "letters" and style.staff
    laid, groups = clusters(measure, metrics, letters)
    shown = accidentals.needed(measure, dict(context.before), frozenset(context.tied_in))
    held = _held(measure, context)
    columns = _columns(laid, measure.key, shown, held, style, metrics)
    springs = _springs(measure, laid, columns, style)
    others = tuple(_other(measure, other, context, style, metrics) for other in measure.others)
    for other in others:
        springs = _widened(springs, columns, other.box)
    first_left = max(0.0, -columns[0].left, *(-SMALL * o.box.columns[0].left for o in others))
    change = changes(measure, context, style, metrics).width
    courtesy = warnings(measure, context, style, metrics).width
    shown_metre = measure.metre if context.metre_before != measure.metre else None
    part = Part(
        header.system_header(metrics, style, measure.key, shown_metre, True).width,
        bars.width(context.start_first, metrics) + LEAD_AFTER_HEADER + first_left,
        bars.width(context.start, metrics) + change + LEAD + first_left,
        bars.width(context.end, metrics),
        bars.width(context.end_last, metrics) + courtesy,
        sum(max(rod, length) for length, rod in springs),
        sum(rod for _, rod in springs),
        measure.line_break,
    )
    return MeasureBox(
        measure, context, columns, laid, groups,
        {c.onset: i for i, c in enumerate(columns)}, held, springs,
        part.lead, part.lead_first, part.tail, part.tail_last, part.natural, part.least,
        shown_metre is not None, part, free_hands(measure, held), others,
    )  # fmt: skip


def _other(
    measure: Measure, other: OtherVersion, context: Context, style: PageStyle, metrics: Metrics
) -> Small:
    """Another version as a small measure by itself, without clef, signatures and marks."""
    plain = structs.replace(
        measure, voices=other.voices, others=(), marks=(), signs=(), barline="", line_break=False
    )
    alone = Context(context.strings, context.before, metre_before=measure.metre)
    return Small(other.purpose, build(plain, alone, small_style(style), metrics))


def _widened(
    springs: tuple[tuple[float, float], ...], columns: tuple[Column, ...], other: MeasureBox
) -> tuple[tuple[float, float], ...]:
    """Springs with rods long enough for a small measure above whose common moments stand at the
    same places."""
    made = list(springs)
    for mine, theirs in segments(columns, other.columns):
        need = SMALL * sum(rod for _, rod in other.springs[theirs])
        lacking = need - sum(rod for _, rod in made[mine])
        if lacking > 0:
            length, rod = made[mine.stop - 1]
            made[mine.stop - 1] = (length, rod + lacking)
    return tuple(made)


def segments(mine: tuple[Column, ...], theirs: tuple[Column, ...]) -> list[tuple[slice, slice]]:
    """The columns of two versions of a measure from each common moment up to the next."""
    at = {column.onset: index for index, column in enumerate(theirs)}
    common = [(i, at[c.onset]) for i, c in enumerate(mine) if c.onset in at]
    ends = [*common[1:], (len(mine), len(theirs))]
    return [(slice(a, c), slice(b, d)) for (a, b), (c, d) in zip(common, ends, strict=True)]


def changes(
    measure: Measure, context: Context, style: PageStyle, metrics: Metrics
) -> header.Signature:
    """The change of key or time a measure begins with; keys are for the staff alone."""
    key_before = context.key_before if style.staff else None
    return header.change(metrics, key_before, measure.key, context.metre_before, measure.metre)


def warnings(
    measure: Measure, context: Context, style: PageStyle, metrics: Metrics
) -> header.Signature:
    """The signs at a system's end that warn of a change after it."""
    next_key = context.next_key if style.staff else None
    return header.courtesy(metrics, measure.key, next_key, context.next_metre)


def _held(measure: Measure, context: Context) -> frozenset[int]:
    """Ids of notes that continue a tie."""
    found: set[int] = set()
    for voice, events in enumerate(measure.voices):
        tied = {pitch for number, pitch in context.tied_in if number == voice}
        for event in events:
            if event.grace is not None:
                continue
            found.update(n.id for n in event.notes if n.pitch in tied)
            tied = {n.pitch for n in event.notes if n.tied}
    return frozenset(found)


def _columns(
    laid: tuple[Cluster, ...],
    key: Key,
    shown: dict[int, accidentals.Shown],
    held: frozenset[int],
    style: PageStyle,
    metrics: Metrics,
) -> tuple[Column, ...]:
    by_onset: dict[int, list[Cluster]] = {}
    for cluster in laid:
        by_onset.setdefault(cluster.onset, []).append(cluster)
    if not by_onset:
        return (Column(0, (), ()),)
    spans = [
        (c.onset, c.onset + c.event.ticks, c.voice)
        for c in laid
        if c.event.ticks and not c.event.hidden
    ]
    return tuple(
        column.build(
            onset, by_onset[onset], key, shown, held, style, metrics,
            len({voice for start, end, voice in spans if start <= onset < end}),
        )
        for onset in sorted(by_onset)
    )  # fmt: skip


def _springs(
    measure: Measure, laid: tuple[Cluster, ...], columns: tuple[Column, ...], style: PageStyle
) -> tuple[tuple[float, float], ...]:
    end = max(measure.length_ticks, columns[-1].onset + 1)
    spans = [(c.onset, c.onset + c.event.ticks, c.event.ticks) for c in laid if c.event.ticks]
    springs: list[tuple[float, float]] = []
    for index, here in enumerate(columns):
        last = index + 1 == len(columns)
        following = end if last else columns[index + 1].onset
        gap = following - here.onset
        shortest = min((t for a, b, t in spans if a <= here.onset < b), default=gap)
        length = ideal(shortest, gap) * style.density
        rod = max(here.right + TRAIL, 1.6) if last else separation(here, columns[index + 1])
        between = 0.0
        for before in range(index - 1, max(index - REACH, -1), -1):  # over narrow columns
            between += springs[before][1]
            reach = columns[before].right + TRAIL
            if not last:
                reach = clearance(columns[before], columns[index + 1])
            rod = max(rod, reach - between)
        springs.append((length, rod))
    return tuple(springs)
