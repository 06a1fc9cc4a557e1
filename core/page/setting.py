"""What a system is told about itself beyond its measure boxes: numbers, letters, spans, endings."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from core.model import Lesson, Span, Tempo, walk
from core.page.facts import Facts, Spot
from core.page.measure_box import MeasureBox
from core.page.style import PageStyle


class Letter(Struct, frozen=True):
    """A section that begins in a system: its letter and title over the measure at `place`."""

    place: int
    letter: str
    title: str
    source: int


class Volta(Struct, frozen=True):
    """An ending, or the part of it in this system: measures first to last by place."""

    first: int
    last: int
    passes: tuple[int, ...]
    begins: bool
    ends: bool
    closed: bool


class SpanPart(Struct, frozen=True):
    """A span that touches the system; whether it begins and ends here."""

    span: Span
    begins: bool
    ends: bool


class Setting(Struct, frozen=True):
    """Everything a system depends on that is not in its measures."""

    width: float
    justified: bool
    metre_shown: bool
    octave: bool
    courtesy: bool
    number: int
    tempo: Tempo | None = None
    letters: tuple[Letter, ...] = ()
    voltas: tuple[Volta, ...] = ()
    times: tuple[tuple[int, int], ...] = ()
    spans: tuple[SpanPart, ...] = ()
    talk: float = 0.0


def settings_of(
    lesson: Lesson,
    boxes: Sequence[MeasureBox],
    known: Sequence[Facts],
    where: Sequence[Spot],
    breaks: Sequence[int],
    style: PageStyle,
    width: float,
    talk: float,
) -> list[Setting]:
    """One setting for each system."""
    arrangement = lesson.arrangement
    numbers = walk.numbers(arrangement)
    spans = _spans(arrangement.spans, known)
    made: list[Setting] = []
    first = 0
    for last in breaks:
        final = last == len(boxes)
        shown = first == 0 or boxes[first - 1].measure.metre != boxes[first].measure.metre
        made.append(
            Setting(
                width if style.flow == "pages" else 0.0,
                style.flow == "pages" and not final,
                shown,
                arrangement.clef_shows_octave,
                not final,
                numbers[boxes[first].measure.id],
                arrangement.tempo if first == 0 else None,
                _letters(where, first, last),
                _voltas(boxes, where, first, last),
                _times(boxes, where, first, last),
                tuple(
                    SpanPart(span, first <= a, b < last)
                    for span, a, b in spans if a < last and b >= first
                ),
                talk,
            )
        )  # fmt: skip
        first = last
    return made


def _spans(spans: Sequence[Span], known: Sequence[Facts]) -> list[tuple[Span, int, int]]:
    """Every visible span with the index of the measure it begins and ends in."""
    shown = [span for span in spans if not span.hidden]
    wanted = {span.start for span in shown} | {span.end for span in shown}
    at: dict[int, int] = {}
    for index, facts in enumerate(known):
        for found in wanted & facts.ids:
            at[found] = index
    return [
        (span, at[span.start], at[span.end])
        for span in shown
        if span.start in at and span.end in at and at[span.start] <= at[span.end]
    ]


def _letters(where: Sequence[Spot], first: int, last: int) -> tuple[Letter, ...]:
    return tuple(
        Letter(index - first, spot.section.letter, spot.section.title, spot.section.id)
        for index, spot in enumerate(where[first:last], start=first)
        if spot.first and (spot.section.letter or spot.section.title)
    )


def _voltas(
    boxes: Sequence[MeasureBox], where: Sequence[Spot], first: int, last: int
) -> tuple[Volta, ...]:
    """The endings that touch measures first to last - 1."""
    found: list[Volta] = []
    ids = {box.measure.id: i for i, box in enumerate(boxes[first:last])}
    seen: set[int] = set()
    for spot in where[first:last]:
        section = spot.section
        if section.id in seen or not section.endings:
            continue
        seen.add(section.id)
        order = [measure.id for measure in section.measures]
        for ending in section.endings:
            if ending.first not in order or ending.last not in order:
                continue
            members = order[order.index(ending.first) : order.index(ending.last) + 1]
            here = [ids[i] for i in members if i in ids]
            if here:
                begins, ends = members[0] in ids, members[-1] in ids
                found.append(Volta(here[0], here[-1], ending.passes, begins, ends, ending.closed))
    return tuple(found)


def _times(
    boxes: Sequence[MeasureBox], where: Sequence[Spot], first: int, last: int
) -> tuple[tuple[int, int], ...]:
    """(place, times) of measures after which a section without endings is repeated oftener
    than once."""
    return tuple(
        (index - first, where[index].section.times)
        for index in range(first, last)
        if where[index].last and where[index].section.times > 2 and not where[index].section.endings
    )
