"""From starts and stops to spans: slurs, slides, hairpins, barres and the other lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import get_args, get_type_hints

from core.formats.imported import Ledger
from core.formats.musicxml_lines import Line
from core.formats.musicxml_names import BARRE, from_numeral
from core.formats.musicxml_raw import EndPoint, RawEvent
from core.model import Barre, Span
from core.model.form import NOTE_SPANS

SPAN_KINDS = frozenset(get_args(get_type_hints(Span)["kind"]))
LONG_SLUR_EVENTS = 6
HALF_BARRE_STRINGS, FULL_BARRE_STRINGS = 3, 6


class SpanMaker:
    """Pairs the end points of one part and makes spans of those whose music is there."""

    def __init__(
        self, lines: Sequence[Line], measure_ids: Sequence[int], ids: Iterator[int], ledger: Ledger
    ) -> None:
        self.part = lines[0].part
        self.measure_ids = measure_ids
        self.ids = ids
        self.ledger = ledger
        self.row = [event for line in lines for row in line.events for event in row]
        self.row = [event for event in self.row if event.event_id]
        self.row.sort(key=lambda event: (event.measure, event.onset))
        self.order = {id(event): index for index, event in enumerate(self.row)}
        self.leftover: list[tuple[EndPoint, str]] = []
        self.exact: set[int] = set()

    def spans(self) -> list[Span]:
        """The spans of the part; what pairs with nothing is reported."""
        made = [span for start, stop in self._pairs() if (span := self._span(start, stop))]
        events = {note.note_id: event.event_id for event in self.row for note in event.notes}
        return _merged(made, events, self.exact)

    # ------------------------------------------------------------ pairing

    def _pairs(self) -> Iterator[tuple[EndPoint, EndPoint]]:
        opened: dict[str, EndPoint] = {}
        for end in self._ordered():
            key = _key(end)
            if end.starts:
                if key in opened:
                    self._lonely(opened[key])
                opened[key] = end
            elif key in opened:
                yield opened.pop(key), end
            elif end.kind != "words":
                self._lonely(end)
        for end in opened.values():
            self._lonely(end)

    def _ordered(self) -> list[EndPoint]:
        """By time, then as the file has them; on one event, stops before starts."""
        first: dict[int, int] = {}
        for index, end in enumerate(self.part.ends):
            first.setdefault(id(end.event) if end.event is not None else -index, index)
        rows = []
        for index, end in enumerate(self.part.ends):
            group = first[id(end.event) if end.event is not None else -index]
            bound = end.note is not None or end.kind == "tuplet"
            rows.append((end.measure, end.tick, group, bound and end.starts, index))
        rows.sort()
        return [self.part.ends[row[-1]] for row in rows]

    def _lonely(self, end: EndPoint) -> None:
        if end.kind == "tuplet" or self._known(end) is None:
            return
        kind = {"wedge": "hairpin", "words": "line"}.get(end.kind, end.kind)
        number = self.part.measures[end.measure].number
        self.ledger.drop(f"{kind} with one end only", f"{kind}s with one end only", number)

    def _known(self, end: EndPoint) -> RawEvent | None:
        if end.event is None:
            return self.row[0] if self.row else None
        return self._arranged(end)

    # ------------------------------------------------------------ binding to events

    def _arranged(self, end: EndPoint) -> RawEvent | None:
        """The event of an end point as it stands in the arrangement."""
        event = end.event
        if end.note is not None and end.note.partner is not None:
            event = end.note.partner_event
        if event is not None and event.event_id:
            return event
        return None

    def _bound(self, end: EndPoint) -> RawEvent | None:
        found = self._arranged(end)
        if found is not None or end.note is not None or end.kind == "tuplet":
            return found
        here = (end.measure, end.tick)
        if end.starts:
            return next((e for e in self.row if (e.measure, e.onset) >= here), None)
        before = [e for e in self.row if (e.measure, e.onset) < here]
        return before[-1] if before else None

    def _span(self, start: EndPoint, stop: EndPoint) -> Span | None:
        kind = self._kind(start, stop)
        if kind == "talk":
            return self._make(
                start, kind, self.measure_ids[start.measure], self.measure_ids[stop.measure]
            )
        first, last = self._bound(start), self._bound(stop)
        if kind not in SPAN_KINDS or first is None or last is None:
            return None
        if self.order[id(last)] < self.order[id(first)]:
            last = first
        if kind in NOTE_SPANS and not (first.notes and last.notes):
            return None
        return self._make(start, kind, _id(start, first, kind), _id(stop, last, kind))

    def _make(self, start: EndPoint, kind: str, first: int, last: int) -> Span | None:
        barre = _barre(start) if kind == "barre" else None
        if kind == "barre" and barre is None:
            return None
        content = start.ours
        text = str(content.get("text", "")) if content else _said(start, kind)
        optional = content.get("optional") is True if content else start.optional
        hidden = content.get("hidden") is True if content else start.hidden
        number = next(self.ids)
        if content:
            self.exact.add(number)
        return Span(number, kind, first, last, text, barre, optional, hidden)  # type: ignore[arg-type]

    def _kind(self, start: EndPoint, stop: EndPoint) -> str:
        said = start.ours.get("kind")
        if isinstance(said, str):
            return said if said in SPAN_KINDS else ""
        if start.kind == "wedge":
            return start.text
        if start.kind == "words":
            self.ledger.drop("line", "lines", self.part.measures[start.measure].number)
            self.leftover.append((start, start.text))
            return ""
        if start.kind == "slur" and not start.ours:
            return self._slur_kind(start, stop)
        return start.kind

    def _slur_kind(self, start: EndPoint, stop: EndPoint) -> str:
        """A slur over many notes or into another measure but one is a phrase's."""
        far = stop.measure - start.measure > 1
        between = [
            event
            for event in self.row[
                self.order.get(id(start.event), 0) : self.order.get(id(stop.event), 0)
            ]
            if start.event is not None and event.voice == start.event.voice
        ]
        return "phrase" if far or len(between) >= LONG_SLUR_EVENTS else "slur"


def _key(end: EndPoint) -> str:
    return end.number if not end.number.isdecimal() else f"{end.kind} {end.number}"


def _id(end: EndPoint, event: RawEvent, kind: str) -> int:
    note = end.note
    if note is not None and note.partner is not None:
        note = note.partner
    if kind in NOTE_SPANS:
        if note is None or not note.note_id:
            note = event.notes[0]
        return note.note_id
    if note is not None and note.note_id and event.notes and note is not event.notes[0]:
        return note.note_id
    return event.event_id if end.starts else event.last_id


def _said(start: EndPoint, kind: str) -> str:
    return start.text if kind in ("tempo", "crescendo", "diminuendo") and start.kind != "wedge" else ""


def _barre(start: EndPoint) -> Barre | None:
    content = start.ours.get("barre")
    if isinstance(content, dict):
        fret, strings, lowest = (content.get(key) for key in ("fret", "strings", "lowest"))
        if isinstance(fret, int) and isinstance(strings, int):
            return Barre(fret, strings, lowest if isinstance(lowest, int) else None)
        return None
    found = BARRE.search(start.text)
    fret = from_numeral(found["fret"]) if found else None
    if found is None or fret is None:
        return None
    return Barre(fret, HALF_BARRE_STRINGS if found["half"] else FULL_BARRE_STRINGS)


def _merged(spans: list[Span], event_of: dict[int, int], exact: set[int]) -> list[Span]:
    """Without spans said twice, and without slurs that only draw a hammer-on, pull-off or slide."""
    seen: set[tuple[object, ...]] = set()
    drawn: set[tuple[int, int]] = set()
    for span in spans:
        if span.kind in ("hammer-on", "pull-off", "slide"):
            drawn.add((event_of.get(span.start, 0), event_of.get(span.end, 0)))
    left = []
    for span in spans:
        first = event_of.get(span.start, span.start)
        last = event_of.get(span.end, span.end)
        key = (span.kind, first if span.kind not in NOTE_SPANS else span.start,
               last if span.kind not in NOTE_SPANS else span.end, span.text)  # fmt: skip
        plain = span.kind in ("slur", "phrase") and span.id not in exact
        if (key in seen and span.id not in exact) or (plain and (first, last) in drawn):
            continue
        seen.add(key)
        left.append(span)
    return left
