"""The piece in played order, in seconds: what the form strip draws. No Qt here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from core.model import Arrangement, Measure, Section, TempoMark, walk
from core.model.roadmap import Occurrence


class Cell(Struct, frozen=True):
    """One playing of a measure: when, for how long (seconds), how busy it is."""

    index: int
    measure: int
    start: float
    seconds: float
    notes_per_second: float


class Stretch(Struct, frozen=True):
    """Consecutive measures of one section and one time through it."""

    section: int
    title: str
    cells: tuple[Cell, ...]

    @property
    def start(self) -> float:
        return self.cells[0].start

    @property
    def end(self) -> float:
        return self.cells[-1].start + self.cells[-1].seconds


def notes_struck(measure: Measure) -> int:
    """How many notes the measure asks the hands to strike, grace notes included."""
    return sum(1 for _ in walk.notes(measure))


def cells(arrangement: Arrangement, played: Sequence[Occurrence]) -> Iterator[Cell]:
    """Every played measure at the goal tempo; metronome marks count from their measure on.

    A metronome mark inside a measure counts from the next one; words and pauses are left out,
    so the seconds are those of strict time.
    """
    rate = arrangement.tempo.ticks_per_second
    start = 0.0
    for occurrence in played:
        marks = list(_rates(occurrence.measure))
        rate = next((r for at, r in reversed(marks) if at == 0), rate)
        seconds = occurrence.measure.length_ticks / rate
        busy = notes_struck(occurrence.measure) / seconds
        yield Cell(occurrence.index, occurrence.measure.id, start, seconds, busy)
        start += seconds
        rate = marks[-1][1] if marks else rate


def _rates(measure: Measure) -> Iterator[tuple[int, float]]:
    """The metronome marks of a measure: onset and ticks a second."""
    for mark in measure.marks:
        if isinstance(mark, TempoMark) and mark.beat is not None and mark.per_minute is not None:
            yield mark.at.ticks, mark.beat.ticks * mark.per_minute / 60


def section_title(section: Section, index: int) -> str:
    """``A verse``, ``A``, ``verse``, or ``section 2`` for one without a name."""
    return " ".join(t for t in (section.letter, section.title) if t) or f"section {index + 1}"


def stretches(arrangement: Arrangement, played: Sequence[Occurrence]) -> tuple[Stretch, ...]:
    """The blocks of the form strip."""
    rows: list[tuple[tuple[int, int, bool], list[Cell]]] = []
    for occurrence, cell in zip(played, cells(arrangement, played), strict=True):
        key = (occurrence.section, occurrence.time, occurrence.returned)
        if not rows or rows[-1][0] != key:
            rows.append((key, []))
        rows[-1][1].append(cell)
    return tuple(Stretch(key[0], _title(arrangement, key), tuple(row)) for key, row in rows)


TIMES = ("", "first time", "second time", "third time", "fourth time")


def _title(arrangement: Arrangement, key: tuple[int, int, bool]) -> str:
    index, time, returned = key
    section = arrangement.sections[index]
    title = section_title(section, index)
    if returned:
        return f"{title}, again"
    if section.times > 1:
        return f"{title}, {TIMES[time] if time < len(TIMES) else f'{time}th time'}"
    return title


def duration_words(seconds: float) -> str:
    """``48 s``, ``1 min 12 s``, ``1 h 2 min``."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def tempo_words(arrangement: Arrangement, percent: int = 100) -> str:
    """``60 dotted quarters a minute``."""
    beat = arrangement.tempo.beat
    dots = {0: "", 1: "dotted ", 2: "double-dotted "}.get(beat.dots, "")
    name = {"16th": "sixteenth", "32nd": "thirty-second"}.get(beat.base.value, beat.base.value)
    return f"{arrangement.tempo.per_minute * percent / 100:.4g} {dots}{name}s a minute"
