"""How each span of an arrangement is written: in the notations of notes, or as directions.

Lines with both ends on notes that the standard knows (slur, slide, hammer-on, pull-off, vibrato)
stand in the notations; others are directions with a hairpin, dashes or a bracket. What the
element cannot say is added beside it in an element of ours (see `musicxml_names`).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from core.model import Arrangement, Measure, Span, walk

NOTE_BORNE = {
    "slur": "slur", "phrase": "slur", "slide": "slide", "hammer-on": "hammer-on",
    "pull-off": "pull-off", "vibrato": "wavy-line",
}  # fmt: skip
PLAIN_KIND = {
    "slur": "slur", "slide": "slide", "hammer-on": "hammer-on", "pull-off": "pull-off",
    "wavy-line": "vibrato",
}  # fmt: skip
HIGHEST_NUMBER = 16  # number-level of MusicXML 4.0


@dataclass(slots=True, frozen=True)
class LineEnd:
    """One end of a span at an event: `note` is the index of the note meant, if one is."""

    span: Span
    starts: bool
    number: int
    note: int | None = None

    @property
    def tag(self) -> str:
        """The element in the notations."""
        return NOTE_BORNE[self.span.kind]

    def content(self) -> dict[str, object]:
        """What an element of ours must say of the line; empty where the standard says it."""
        span = self.span
        said: dict[str, object] = {}
        if PLAIN_KIND[self.tag] != span.kind or span.text or (span.optional and self.tag != "slur"):
            said = {"of": self.tag, "kind": span.kind}
            if span.text:
                said["text"] = span.text
            if span.optional:
                said["optional"] = True
        return said if self.starts else {}


@dataclass(slots=True)
class Lines:
    """Where the ends of spans are written: by event id, and by measure id for talk."""

    notations: dict[int, list[LineEnd]] = field(default_factory=lambda: defaultdict(list))
    before: dict[int, list[LineEnd]] = field(default_factory=lambda: defaultdict(list))
    after: dict[int, list[LineEnd]] = field(default_factory=lambda: defaultdict(list))
    measures: dict[int, list[LineEnd]] = field(default_factory=lambda: defaultdict(list))


@dataclass(slots=True, frozen=True)
class _Spot:
    place: int
    event: int
    note: int | None


def lines(arrangement: Arrangement) -> Lines:
    """The ends of every span between events of the written voices (or between measures)."""
    spots = _spots(arrangement)
    order = {m.id: index for index, m in enumerate(walk.measures(arrangement))}
    found = Lines()
    borne: dict[str, list[tuple[int, int, Span, _Spot, _Spot]]] = defaultdict(list)
    for index, span in enumerate(arrangement.spans, start=1):
        if span.kind == "talk":
            if span.start in order and span.end in order:
                found.measures[span.start].append(LineEnd(span, True, index))
                found.measures[span.end].append(LineEnd(span, False, index))
            continue
        start, end = spots.get(span.start), spots.get(span.end)
        if start is None or end is None:
            continue
        if span.kind in NOTE_BORNE and not span.hidden:
            low, high = sorted((start.place, end.place))
            borne[NOTE_BORNE[span.kind]].append((low, high, span, start, end))
        else:
            _directed(found, span, index, start, end)
    for rows in borne.values():
        _number(found, rows, len(arrangement.spans))
    return found


def _spots(arrangement: Arrangement) -> dict[int, _Spot]:
    spots: dict[int, _Spot] = {}
    place = 0
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            place += 1
            spots[located.event.id] = _Spot(place, located.event.id, None)
            for index, note in enumerate(located.event.notes):
                spots[note.id] = _Spot(place, located.event.id, index)
    return spots


def _directed(found: Lines, span: Span, number: int, start: _Spot, end: _Spot) -> None:
    found.before[start.event].append(LineEnd(span, True, number, start.note))
    found.after[end.event].append(LineEnd(span, False, number, end.note))


def _number(found: Lines, rows: list[tuple[int, int, Span, _Spot, _Spot]], directed: int) -> None:
    """Numbers from 1 to 16, free again when a line has ended; the lines beyond are directions."""
    ends: dict[int, int] = {}
    for low, high, span, start, end in sorted(rows, key=lambda row: (row[0], row[1], row[2].id)):
        free = (n for n in range(1, HIGHEST_NUMBER + 1) if ends.get(n, -1) < low)
        number = next(free, None)
        if number is None:
            directed += 1
            _directed(found, span, directed, start, end)
            continue
        ends[number] = high
        found.notations[start.event].append(LineEnd(span, True, number, start.note))
        found.notations[end.event].append(LineEnd(span, False, number, end.note))


def measure_order(arrangement: Arrangement) -> dict[int, int]:
    """Measure id -> place from 0."""
    return {m.id: index for index, m in enumerate(_measures(arrangement))}


def _measures(arrangement: Arrangement) -> list[Measure]:
    return list(walk.measures(arrangement))
