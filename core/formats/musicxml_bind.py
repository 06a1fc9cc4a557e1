"""Finding the events that directions mean, and splitting measures where a repeat stands inside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from core.formats.musicxml_raw import EndPoint, RawEvent, RawMeasure, RawPart
from core.formats.musicxml_values import Ticks
from core.model import Articulation, Dynamic, EventMark

DAMP = "\0damp"


def bind(part: RawPart) -> int:
    """Give each dynamic and each end of a line its event; the number of dynamics without any."""
    lost = 0
    for dynamic in part.dynamics:
        event = dynamic.event or _next_event(part, dynamic.measure, dynamic.tick, dynamic.staff)
        if event is None:
            lost += 1
            continue
        mark: EventMark = Articulation("damp") if dynamic.text == DAMP else Dynamic(dynamic.text)
        if mark not in event.marks:
            event.marks.append(mark)
    for end in part.ends:
        if end.event is None:
            find = _next_event if end.starts else _event_before
            end.event = find(part, end.measure, end.tick, 0)
    return lost


def _of_staff(events: Iterable[RawEvent], staff: int) -> list[RawEvent]:
    rows = [event for event in events if event.grace is None]
    same = [event for event in rows if event.staff == staff]
    return same or rows


def _next_event(part: RawPart, measure: int, tick: Ticks, staff: int) -> RawEvent | None:
    """The first event at or after a moment of a measure; the last one where none follows."""
    rows = _of_staff(part.measures[measure].events, staff)
    later = [event for event in rows if event.onset >= tick]
    if later:
        return min(later, key=lambda event: event.onset)
    return max(rows, key=lambda event: event.onset, default=None)


def _event_before(part: RawPart, measure: int, tick: Ticks, staff: int) -> RawEvent | None:
    """The last event that begins before a moment, in this measure or the one before."""
    for index in range(measure, max(-1, measure - 3), -1):
        rows = _of_staff(part.measures[index].events, staff)
        if index == measure:
            rows = [event for event in rows if event.onset < tick]
        if rows:
            return max(rows, key=lambda event: event.onset)
    return None


def inner_bars(part: RawPart) -> dict[int, Ticks]:
    """Measures with a repeat or an ending inside: index -> where (the first one)."""
    found: dict[int, Ticks] = {}
    for measure in part.measures:
        for bar in measure.bars:
            inside = 0 < bar.tick < measure.length
            if bar.location == "middle" and inside and (bar.repeat or bar.ending):
                found.setdefault(measure.index, bar.tick)
    return found


def can_split(part: RawPart, index: int, tick: Ticks) -> bool:
    """Whether no event of the measure sounds across the moment."""
    if index >= len(part.measures):
        return True
    return not any(
        event.onset < tick < event.onset + event.ticks - part.measures[index].rounded
        for event in part.measures[index].events
    )


def split(part: RawPart, index: int, tick: Ticks) -> None:
    """Make two measures of one; the second half is not counted."""
    whole = part.measures[index]
    first = replace(
        whole,
        events=[event for event in whole.events if event.onset < tick],
        length=tick,
        bars=[bar for bar in whole.bars if _early(bar.location, bar.tick, tick, bar.repeat)],
        marks=[mark for mark in whole.marks if mark[1] < tick],
        split=True,
    )
    second = replace(
        whole,
        number=f"{whole.number}b",
        implicit=True,
        events=[event for event in whole.events if event.onset >= tick],
        length=whole.length - tick,
        bars=[b for b in whole.bars if not _early(b.location, b.tick, tick, b.repeat)],
        marks=[(kind, at - tick, value) for kind, at, value in whole.marks if at >= tick],
        new_system=False,
        ours={},
        split=True,
    )
    for event in second.events:
        event.onset -= tick
    for bar in first.bars:
        bar.location = "right" if bar.location == "middle" else bar.location
    for bar in second.bars:
        bar.location = "left" if bar.location == "middle" else bar.location
    part.measures[index : index + 1] = [first, second]
    for place, measure in enumerate(part.measures[index:], start=index):
        measure.index = place


def _early(location: str, at: Ticks, tick: Ticks, repeat: str) -> bool:
    if location == "middle":
        return at < tick or (at == tick and repeat != "forward")
    return location == "left"


def unsplit(measure: RawMeasure) -> None:
    """A repeat inside a measure that cannot be split moves to its end (or its start)."""
    for bar in measure.bars:
        if bar.location == "middle":
            bar.location = "left" if bar.repeat == "forward" else "right"


def paired(ends: Iterable[EndPoint]) -> tuple[list[tuple[EndPoint, EndPoint]], list[EndPoint]]:
    """Starts with their stops, in the order of the file, and the ends without a mate.

    A stop may stand before its start where voices are written one after another.
    """
    opened: dict[tuple[str, str], EndPoint] = {}
    early: dict[tuple[str, str], EndPoint] = {}
    pairs: list[tuple[EndPoint, EndPoint]] = []
    alone: list[EndPoint] = []
    for end in ends:
        name = (_family(end), end.number)
        if end.starts:
            stop = early.pop(name, None)
            if stop is not None and stop.measure == end.measure and _later(stop, end):
                pairs.append((end, stop))
                continue
            alone += [other for other in (stop, opened.get(name)) if other is not None]
            opened[name] = end
        elif name in opened:
            pairs.append((opened.pop(name), end))
        else:
            if name in early:
                alone.append(early[name])
            early[name] = end
    return pairs, [*alone, *opened.values(), *early.values()]


def _family(end: EndPoint) -> str:
    if end.number.startswith("ours "):
        return "ours"
    return "words" if end.number.startswith(("dashes", "bracket")) else end.kind


def _later(stop: EndPoint, start: EndPoint) -> bool:
    if stop.event is None or start.event is None:
        return False
    return stop.event.onset >= start.event.onset
