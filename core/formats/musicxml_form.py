"""From barlines, rehearsal marks and signs to sections: the repeat units of a lesson."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from core.formats.imported import Ledger
from core.formats.musicxml_raw import RawBar, RawEvent, RawMeasure, RawPart
from core.formats.musicxml_values import Ticks, several
from core.model.errors import BadInput

LONGEST_LETTER = 3


@dataclass(slots=True)
class RawEnding:
    """An ending by measure index, first and last."""

    passes: tuple[int, ...]
    first: int
    last: int
    closed: bool


@dataclass(slots=True)
class RawSection:
    """A section by measure index, first and last."""

    first: int
    last: int
    times: int = 1
    letter: str = ""
    title: str = ""
    endings: list[RawEnding] = field(default_factory=list)


@dataclass(slots=True)
class Bars:
    """What the barlines of all parts say about one measure."""

    forward: bool = False
    backward: int = 0
    begins: tuple[int, ...] = ()
    ends: str = ""
    style: str = ""
    left_style: str = ""
    rehearsal: str | None = None
    section: dict[str, object] | None = None


def bars_of(parts: Sequence[RawPart], index: int) -> Bars:
    """The barlines of one measure, taken together over the parts."""
    found = Bars()
    for part in parts:
        if index >= len(part.measures):
            continue
        measure = part.measures[index]
        for bar in measure.bars:
            _take(found, bar)
        for kind, _, content in measure.marks:
            if kind == "rehearsal" and found.rehearsal is None:
                found.rehearsal = str(content)
        section = measure.ours.get("section")
        if isinstance(section, dict):
            found.section = section
    return found


def _take(found: Bars, bar: RawBar) -> None:
    if bar.repeat == "forward":
        found.forward = True
    elif bar.repeat == "backward":
        found.backward = max(found.backward, bar.times)
    if bar.ending == "start":
        found.begins = bar.passes or (1,)
    elif bar.ending in ("stop", "discontinue"):
        found.ends = bar.ending
    if bar.location == "left":
        found.left_style = bar.style if bar.repeat != "forward" else ""
    elif bar.location == "right" and not (bar.repeat == "backward" and bar.style == "final"):
        found.style = bar.style or found.style


# ---------------------------------------------------------------- repeats inside a measure


def split_at_repeats(parts: Sequence[RawPart], file_name: str, ledger: Ledger) -> None:
    """Split every measure with a repeat inside it, in all parts; the second half is uncounted."""
    index = 0
    while index < max(len(part.measures) for part in parts):
        here = [part.measures[index] for part in parts if index < len(part.measures)]
        moments = [bar.tick for m in here for bar in m.bars if bar.repeat and _inside(m, bar)]
        if moments:
            tick = min(moments)
            ledger.mend("A repeat inside a measure splits it", here[0].number)
            for part in parts:
                _split(part, index, tick, file_name)
        index += 1


def _inside(measure: RawMeasure, bar: RawBar) -> bool:
    if bar.location == "middle":
        return 0 < bar.tick < measure.length
    return False


def _split(part: RawPart, index: int, tick: Ticks, file_name: str) -> None:
    if index >= len(part.measures):
        return
    whole = part.measures[index]
    second = RawMeasure(index + 1, whole.number, True, whole.metre, whole.key)
    second.length = max(0, whole.length - tick)
    second.rounded = whole.rounded
    events, whole.events = whole.events, []
    for event in events:
        if event.onset >= tick:
            event.onset -= tick
            second.events.append(event)
        elif event.onset + event.ticks > tick:
            first, rest = _cut(event, tick, whole.number, file_name)
            whole.events.append(first)
            second.events.append(rest)
        else:
            whole.events.append(event)
    whole.length = min(whole.length, tick)
    bars, whole.bars = whole.bars, []
    for bar in bars:
        _hand_out(whole, second, bar, tick)
    marks, whole.marks = whole.marks, []
    for kind, at, content in marks:
        target, moment = (second, at - tick) if at >= tick else (whole, at)
        target.marks.append((kind, moment, content))
    whole.ours["split"] = True
    _renumber(part, index, second, tick)


def _hand_out(whole: RawMeasure, second: RawMeasure, bar: RawBar, tick: Ticks) -> None:
    if bar.location == "middle" and bar.tick == tick:
        if bar.repeat == "forward" or bar.ending == "start":
            second.bars.append(replace(bar, location="left", tick=0))
        else:
            whole.bars.append(replace(bar, location="right"))
    elif bar.location == "left" or (bar.location == "middle" and bar.tick < tick):
        whole.bars.append(bar)
    else:
        second.bars.append(replace(bar, tick=max(0, bar.tick - tick)))


def _cut(event: RawEvent, tick: Ticks, number: str, name: str) -> tuple[RawEvent, RawEvent]:
    """An event a barline cuts: two, tied."""
    early, late = several(tick - event.onset), several(event.onset + event.ticks - tick)
    if early is None or late is None:
        raise BadInput(f"{name}, measure {number}: a repeat stands inside a tuplet.")
    rest = replace(event, onset=0, values=late, marks=[], notes=[replace(n) for n in event.notes])
    event.values = early
    for note in event.notes:
        note.tie = True
    return event, rest


def _renumber(part: RawPart, index: int, second: RawMeasure, tick: Ticks) -> None:
    part.measures.insert(index + 1, second)
    for later, measure in enumerate(part.measures[index + 1 :], index + 1):
        measure.index = later
        for event in measure.events:
            event.measure = later
    for end in (*part.ends, *part.dynamics):
        if end.measure > index:
            end.measure += 1
        elif end.measure == index and end.tick >= tick:
            end.measure, end.tick = index + 1, end.tick - tick


# ---------------------------------------------------------------- sections


def sections_of(rows: Sequence[Bars], numbers: Sequence[str], ledger: Ledger) -> list[RawSection]:
    """The sections of a piece from what its barlines say, measure by measure."""
    if any(row.section is not None for row in rows):
        blocks = _blocks_of_ours(rows)
    else:
        blocks = _blocks(rows)
    sections: list[RawSection] = []
    for block in blocks:
        sections += _lettered(block, rows)
    for section in sections:
        for index in range(section.first + 1, section.last + 1):
            if rows[index].rehearsal is not None:
                text = "Rehearsal marks inside a repeated section are kept as text"
                ledger.mend(text, numbers[index])
    return sections


def _blocks_of_ours(rows: Sequence[Bars]) -> list[RawSection]:
    starts = [i for i, row in enumerate(rows) if row.section is not None or i == 0]
    ends = [*(start - 1 for start in starts[1:]), len(rows) - 1]
    return [_block(rows, first, last) for first, last in zip(starts, ends, strict=True)]


def _blocks(rows: Sequence[Bars]) -> list[RawSection]:
    """Parts of the piece that repeat together, endings included."""
    blocks: list[RawSection] = []
    first, repeated = 0, False
    for index, row in enumerate(rows):
        if row.forward and index > first:
            blocks.append(_block(rows, first, index - 1))
            first, repeated = index, False
        repeated |= row.backward > 0
        more = index + 1 < len(rows) and bool(rows[index + 1].begins)
        closes = row.backward > 0 or (bool(row.ends) and repeated)
        if closes and not more and not _inside_ending(rows, first, index):
            blocks.append(_block(rows, first, index))
            first, repeated = index + 1, False
    if first < len(rows):
        blocks.append(_block(rows, first, len(rows) - 1))
    return blocks


def _inside_ending(rows: Sequence[Bars], first: int, index: int) -> bool:
    """Whether an ending that began is still open after a measure (its stop comes later)."""
    for at in range(index, first - 1, -1):
        if rows[at].ends:
            return False
        if rows[at].begins:
            return rows[index].backward == 0 and any(row.ends for row in rows[index + 1 :])
    return False


def _block(rows: Sequence[Bars], first: int, last: int) -> RawSection:
    section = RawSection(first, last)
    section.endings = _endings(rows, first, last)
    repeats = [rows[index].backward for index in range(first, last + 1)]
    passes = [number for ending in section.endings for number in ending.passes]
    section.times = min(99, max([1, *repeats, *passes]))
    return section


def _endings(rows: Sequence[Bars], first: int, last: int) -> list[RawEnding]:
    endings: list[RawEnding] = []
    opened: RawEnding | None = None
    for index in range(first, last + 1):
        row = rows[index]
        if row.begins:
            if opened is not None:
                opened.last = index - 1
            opened = RawEnding(row.begins, index, index, False)
            endings.append(opened)
        if opened is not None:
            opened.last = index
            if row.ends or row.backward:
                opened.closed = row.ends == "stop"
                opened = None
    return endings


def _lettered(block: RawSection, rows: Sequence[Bars]) -> list[RawSection]:
    """The block with its letter; a block played once is divided at its rehearsal marks."""
    starts = [block.first]
    if block.times == 1 and not block.endings and rows[block.first].section is None:
        inner = range(block.first + 1, block.last + 1)
        starts += [index for index in inner if rows[index].rehearsal is not None]
    ends = [*(start - 1 for start in starts[1:]), block.last]
    sections = []
    for first, last in zip(starts, ends, strict=True):
        section = replace(block, first=first, last=last)
        mark, ours = rows[first].rehearsal, rows[first].section
        if ours is not None:
            section.letter = str(ours.get("letter", ""))
            section.title = str(ours.get("title", ""))
        elif mark is not None and len(mark) <= LONGEST_LETTER:
            section.letter = mark
        elif mark is not None:
            section.title = mark
        sections.append(section)
    return sections
