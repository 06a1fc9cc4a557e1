"""What a system is told about itself beyond its measure boxes: numbers, letters, spans, endings."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from core.model import Lesson, Span, Tempo, walk
from core.page.facts import Facts, Spot
from core.page.measure_box import MeasureBox
from core.page.style import PageStyle


class Letter(Struct, frozen=True, gc=False):
    """A section that begins in a system: its letter and title over the measure at `place`."""

    place: int
    letter: str
    title: str
    source: int


class Volta(Struct, frozen=True, gc=False):
    """An ending, or the part of it in this system: measures first to last by place."""

    first: int
    last: int
    passes: tuple[int, ...]
    begins: bool
    ends: bool
    closed: bool


class SpanPart(Struct, frozen=True, gc=False):
    """A span that touches the system; whether it begins and ends here."""

    span: Span
    begins: bool
    ends: bool


class Setting(Struct, frozen=True, gc=False):
    """Everything a system depends on that is not in its measures.

    `width` is 0 in one long line. There, a system is a piece of the line: only the first `opens`
    with clefs, and all have their tab at `tab_top` or lower.
    """

    width: float
    justified: bool
    opens: bool
    metre_shown: bool
    octave: bool
    numbers: tuple[int, ...]
    tempo: Tempo | None = None
    letters: tuple[Letter, ...] = ()
    voltas: tuple[Volta, ...] = ()
    times: tuple[tuple[int, int], ...] = ()
    spans: tuple[SpanPart, ...] = ()
    talk: float = 0.0
    left_handed: bool = False
    tab_top: float = 0.0
    final: bool = False

    @property
    def courtesy(self) -> bool:
        """Whether a change after the system's end is warned of."""
        return self.width > 0 and not self.final


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
    spans = span_places(arrangement.spans, known)
    made: list[Setting] = []
    first = 0
    paged = style.flow == "pages"
    for last in breaks:
        final = last == len(boxes)
        row = slice(first, last)
        made.append(
            Setting(
                width=width if paged else 0.0,
                justified=paged and not final,
                opens=paged or first == 0,
                final=final,
                metre_shown=metre_shown(boxes, first),
                octave=arrangement.clef_shows_octave,
                numbers=tuple(numbers[box.measure.id] for box in boxes[row]),
                tempo=arrangement.tempo if first == 0 else None,
                letters=_letters(where[row]),
                voltas=_voltas(boxes[row], where[row]),
                times=_times(where[row]),
                spans=_parts(spans, first, last),
                talk=talk,
                left_handed=arrangement.instrument.hand == "left",
            )
        )
        first = last
    return made


def metre_shown(boxes: Sequence[MeasureBox], index: int) -> bool:
    """Whether a line that begins with this measure shows its metre."""
    return index == 0 or boxes[index].metre_shown


def span_places(spans: Sequence[Span], known: Sequence[Facts]) -> list[tuple[Span, int, int]]:
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


def _parts(spans: Sequence[tuple[Span, int, int]], first: int, last: int) -> tuple[SpanPart, ...]:
    """The spans that touch measures first to last - 1."""
    return tuple(
        SpanPart(span, first <= a, b < last) for span, a, b in spans if a < last and b >= first
    )


def _letters(where: Sequence[Spot]) -> tuple[Letter, ...]:
    return tuple(
        Letter(place, spot.section.letter, spot.section.title, spot.section.id)
        for place, spot in enumerate(where)
        if spot.first and (spot.section.letter or spot.section.title)
    )


def _voltas(boxes: Sequence[MeasureBox], where: Sequence[Spot]) -> tuple[Volta, ...]:
    """The endings that touch the measures of a system."""
    found: list[Volta] = []
    places = {box.measure.id: place for place, box in enumerate(boxes)}
    seen: set[int] = set()
    for spot in where:
        section = spot.section
        if section.id in seen or not section.endings:
            continue
        seen.add(section.id)
        order = [measure.id for measure in section.measures]
        for ending in section.endings:
            if ending.first not in order or ending.last not in order:
                continue
            members = order[order.index(ending.first) : order.index(ending.last) + 1]
            here = [places[i] for i in members if i in places]
            if here:
                begins, ends = members[0] in places, members[-1] in places
                found.append(Volta(here[0], here[-1], ending.passes, begins, ends, ending.closed))
    return tuple(found)


def _times(where: Sequence[Spot]) -> tuple[tuple[int, int], ...]:
    """(place, times) of measures after which a section without endings is played oftener
    than twice."""
    return tuple(
        (place, spot.section.times)
        for place, spot in enumerate(where)
        if spot.last and spot.section.times > 2 and not spot.section.endings
    )
