"""Lines of a file (slurs, hairpins, brackets with words) as spans of ours."""

from __future__ import annotations

from collections.abc import Sequence

from core.formats.imported import Ledger
from core.formats.musicxml_bind import paired
from core.formats.musicxml_build import Ids
from core.formats.musicxml_names import BARRE, from_numeral
from core.formats.musicxml_raw import EndPoint, RawEvent, RawMeasure, RawNote
from core.model import Barre, Measure, Span
from core.model.form import NOTE_SPANS, SPAN_WORDS

LINE_NAMES = {
    "slur": ("slur", "slurs"),
    "wedge": ("hairpin", "hairpins"),
    "words": ("line with words", "lines with words"),
}


def spans(
    ends: Sequence[EndPoint],
    raws: Sequence[RawMeasure],
    measures: Sequence[Measure],
    ids: Ids,
    ledger: Ledger,
) -> tuple[Span, ...]:
    """Every line with both its ends in the arrangement; the others are counted in the ledger."""
    pairs, alone = paired(ends)
    for end in alone:
        if end.kind == "tuplet":
            continue
        name = SPAN_WORDS.get(end.kind, "line")
        one, many = LINE_NAMES.get(end.kind, (name, name + "s"))
        ledger.drop(f"{one} without both ends", f"{many} without both ends", _number(raws, end))
    made: list[Span] = []
    for start, stop in pairs:
        span = _span(start, stop, measures, ids, ledger, raws)
        if span is not None and not (_from_tablature(start) and _known(made, span)):
            made.append(span)
    return tuple(made)


def _number(raws: Sequence[RawMeasure], end: EndPoint) -> str:
    return raws[end.measure].number if end.measure < len(raws) else ""


def _from_tablature(start: EndPoint) -> bool:
    """Staff and tablature often both show the same line."""
    return start.event is not None and start.event.event_id == 0


def _known(made: Sequence[Span], span: Span) -> bool:
    ends = (span.kind, span.start, span.end)
    return any((other.kind, other.start, other.end) == ends for other in made)


def _span(
    start: EndPoint,
    stop: EndPoint,
    measures: Sequence[Measure],
    ids: Ids,
    ledger: Ledger,
    raws: Sequence[RawMeasure],
) -> Span | None:
    kind = _kind(start)
    if kind == "":
        return None
    if kind not in SPAN_WORDS:
        ledger.drop("line with words", "lines with words", _number(raws, start))
        return None
    first = _id(start, kind, measures, at_end=False)
    last = _id(stop, kind, measures, at_end=True)
    if not first or not last:
        word = SPAN_WORDS[kind]
        ledger.drop(word, word + "s", _number(raws, start))
        return None
    barre = _barre(start) if kind == "barre" else None
    if kind == "barre" and barre is None:
        ledger.drop("barre without a fret", "barres without a fret", _number(raws, start))
        return None
    text = str(start.ours.get("text", "")) if start.ours else _text(kind, start)
    optional = start.ours.get("optional") is True if start.ours else start.optional
    hidden = start.ours.get("hidden") is True if start.ours else start.hidden
    suggested = bool(start.ours) and start.ours.get("suggested") is True
    return Span(ids.take(), kind, first, last, text, barre, optional, hidden, suggested)  # type: ignore[arg-type]


def _kind(start: EndPoint) -> str:
    said = start.ours.get("kind")
    if isinstance(said, str):
        return said
    if start.kind == "wedge":
        return start.text
    if start.kind == "tuplet" and not start.hidden:
        return ""
    return start.kind


def _text(kind: str, start: EndPoint) -> str:
    return start.text if kind == "tempo" else ""


def _id(end: EndPoint, kind: str, measures: Sequence[Measure], *, at_end: bool) -> int:
    if kind == "talk":
        return measures[end.measure].id if end.measure < len(measures) else 0
    event = end.event
    return 0 if event is None else _event_id(end, event, kind, at_end=at_end)


def _event_id(end: EndPoint, event: RawEvent, kind: str, *, at_end: bool) -> int:
    note = _noted(end)
    if kind in NOTE_SPANS or end.ours.get("note") is not None:
        if note is None and kind in NOTE_SPANS and event.notes:
            note = event.notes[0]
        if note is not None:
            return (note.partner or note).note_id
        return 0 if kind in NOTE_SPANS else event.event_id
    if event.event_id == 0:  # on the tablature: the event of the staff
        partners = [other.partner for other in event.notes if other.partner is not None]
        return partners[0].event_id if partners else 0
    if note is not None and len(event.notes) > 1 and note is not event.notes[0]:
        return note.note_id
    return event.last_id if at_end else event.event_id


def _noted(end: EndPoint) -> RawNote | None:
    index = end.ours.get("note")
    if end.event is not None and isinstance(index, int) and end.note is None:
        return end.event.notes[index] if 0 <= index < len(end.event.notes) else None
    return end.note


def _barre(start: EndPoint) -> Barre | None:
    said = start.ours.get("barre")
    if isinstance(said, dict):
        fret, strings, lowest = said.get("fret"), said.get("strings"), said.get("lowest")
        if isinstance(fret, int) and isinstance(strings, int):
            return Barre(fret, strings, lowest if isinstance(lowest, int) else None)
        return None
    found = BARRE.search(start.text)
    fret = from_numeral(found["fret"]) if found else None
    return None if found is None or not fret else Barre(fret, 3 if found["half"] else 6)
