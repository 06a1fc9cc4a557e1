"""Repeats, endings and letters of a file made into sections, the unit of repetition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from core.formats.imported import Ledger
from core.formats.musicxml_build import Ids
from core.formats.musicxml_raw import RawMeasure
from core.model import Ending, Measure, Section
from core.model.validate import MOST_TIMES


@dataclass(slots=True)
class _Ending:
    """An ending by measure indexes."""

    first: int
    last: int
    passes: tuple[int, ...]
    closed: bool = True


@dataclass(slots=True)
class _Stretch:
    """Measures that will be a section: first and last index, how often, endings."""

    first: int
    last: int
    times: int = 1
    endings: list[_Ending] = field(default_factory=list)
    said: dict[str, object] = field(default_factory=dict)


def sections(
    raws: Sequence[RawMeasure],
    measures: Sequence[Measure],
    letters: dict[int, str],
    ids: Ids,
    ledger: Ledger,
) -> tuple[Section, ...]:
    """The sections; `letters` are rehearsal marks by measure index.

    Letters that found no section start are left in `letters` (the caller keeps them as text).
    """
    endings = _endings(raws, ledger)
    if any("section" in raw.ours for raw in raws):
        stretches = _own_stretches(raws, endings)
    else:
        repeated = _repeated(raws, endings, ledger)
        stretches = list(_between(repeated, letters, len(raws)))
    return tuple(_section(stretch, measures, letters, ids, raws) for stretch in stretches)


def _section(
    stretch: _Stretch,
    measures: Sequence[Measure],
    letters: dict[int, str],
    ids: Ids,
    raws: Sequence[RawMeasure],
) -> Section:
    times = max(1, min(stretch.times, MOST_TIMES))
    said = stretch.said
    rows = []
    for ending in stretch.endings:
        passes = tuple(p for p in ending.passes if p <= times)
        if passes:
            first, last = measures[ending.first].id, measures[ending.last].id
            rows.append(Ending(passes, first, last, ending.closed))
    letter = letters.pop(stretch.first, "")
    if "letter" in said:
        letter = str(said["letter"])
    number = ids.take()
    return Section(
        number,
        tuple(measures[stretch.first : stretch.last + 1]),
        letter,
        str(said.get("title", "")),
        times,
        tuple(rows),
    )


def _endings(raws: Sequence[RawMeasure], ledger: Ledger) -> list[_Ending]:
    found: list[_Ending] = []
    opened: _Ending | None = None
    for index, raw in enumerate(raws):
        for bar in sorted(raw.bars, key=lambda bar: bar.location != "left"):
            if bar.ending == "start":
                if opened is not None:
                    opened.last = max(opened.first, index - 1)
                    found.append(opened)
                opened = _Ending(index, index, bar.passes or (1,))
            elif bar.ending in ("stop", "discontinue"):
                if opened is None:
                    ledger.mend("Endings that stop without a start are left out", raw.number)
                    continue
                opened.last, opened.closed = index, bar.ending == "stop"
                found.append(opened)
                opened = None
    if opened is not None:
        opened.closed = False
        ledger.mend("An ending without its end is one measure long", raws[opened.first].number)
        found.append(opened)
    return found


def _forward(raw: RawMeasure) -> bool:
    return any(bar.repeat == "forward" for bar in raw.bars)


def _backward(raw: RawMeasure) -> int:
    """How often the music before the measure's end is played: 0 without a repeat."""
    return next((max(2, bar.times) for bar in raw.bars if bar.repeat == "backward"), 0)


def _own_stretches(raws: Sequence[RawMeasure], endings: Sequence[_Ending]) -> list[_Stretch]:
    """A file of this program names its sections itself."""
    starts = sorted({0, *(index for index, raw in enumerate(raws) if "section" in raw.ours)})
    rows = []
    for first, after in zip(starts, [*starts[1:], len(raws)], strict=True):
        said = raws[first].ours.get("section")
        stretch = _Stretch(first, after - 1, said=said if isinstance(said, dict) else {})
        stretch.endings = [e for e in endings if first <= e.first and e.last < after]
        times = stretch.said.get("times")
        if isinstance(times, int):
            stretch.times = times
        else:
            repeats = [_backward(raw) for raw in raws[first:after]]
            passes = [p for ending in stretch.endings for p in ending.passes]
            stretch.times = max([1, *repeats, *passes])
        rows.append(stretch)
    return rows


def _repeated(
    raws: Sequence[RawMeasure], endings: Sequence[_Ending], ledger: Ledger
) -> list[_Stretch]:
    """The stretches between repeat signs, each with its endings."""
    by_first = {ending.first: ending for ending in endings}
    rows: list[_Stretch] = []
    start, signed = 0, False
    current: _Stretch | None = None
    index = 0
    while index < len(raws):
        raw = raws[index]
        if _forward(raw):
            if current is not None:
                rows.append(current)
                current = None
            if signed:
                ledger.mend("Repeats inside repeats are read one after another", raw.number)
            start, signed = index, True
        ending = by_first.get(index)
        last = index
        if ending is not None:
            current = current or _Stretch(start, index)
            current.endings.append(ending)
            last = ending.last
        times = max((_backward(raws[i]) for i in range(index, last + 1)), default=0)
        if times or ending is not None:
            current = current or _Stretch(start, last)
            current.last = last
            current.times = max(current.times, times, *(ending.passes if ending else (1,)))
            if last + 1 not in by_first or not _follows(current, by_first[last + 1]):
                rows.append(current)
                current, start, signed = None, last + 1, False
        index = last + 1
    if current is not None:
        rows.append(current)
    if signed and start < len(raws):
        ledger.mend("A repeat without an end is played once", raws[start].number)
    return rows


def _follows(stretch: _Stretch, ending: _Ending) -> bool:
    """Whether an ending is a further one of the stretch, not the first of a new one."""
    used = {p for other in stretch.endings for p in other.passes}
    return bool(used) and not used & set(ending.passes) and min(ending.passes) > 1


def _between(repeated: Sequence[_Stretch], letters: dict[int, str], count: int) -> list[_Stretch]:
    """The repeated stretches and, between them, the others cut at their letters."""
    rows: list[_Stretch] = []
    position = 0
    for stretch in [*repeated, _Stretch(count, count)]:
        cuts = [i for i in sorted(letters) if position < i < stretch.first]
        starts = [position, *cuts] if position < stretch.first else []
        for first, after in zip(starts, [*cuts, stretch.first], strict=False):
            rows.append(_Stretch(first, after - 1))
        if stretch.first < count:
            rows.append(stretch)
        position = stretch.last + 1
    return rows
