"""When two lessons say the same music: the canonical form of what MusicXML can carry.

Ids are counted anew, what stands in no order is sorted, what is not the music's (brief, waivers,
sources, settings but the staves shown) is left out, and a label is firm or suggested.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from core.formats.lesson_json import to_text
from core.model import Event, Instrument, Label, Lesson, Measure, Note, Section, Span, walk
from core.model.form import NOTE_SPANS

Plain = dict[str, Any]


def same_meaning(first: Lesson, second: Lesson) -> bool:
    """Whether two lessons are the same music with the same signs, whatever their ids."""
    return canonical(first) == canonical(second)


def canonical(lesson: Lesson) -> Plain:
    """The music of a lesson as plain values, equal for equal meaning."""
    arrangement = lesson.arrangement
    order = {m.id: index for index, m in enumerate(walk.measures(arrangement))}
    names = dict(_names(lesson))
    spans = (_span(span, names) for span in arrangement.spans)
    return {
        "title": lesson.title,
        "card": _plain(lesson.source),
        "staves": lesson.settings.staves,
        "instrument": _instrument(arrangement.instrument),
        "key": str(arrangement.key),
        "tempo": _plain(arrangement.tempo),
        "octave shown": arrangement.clef_shows_octave or lesson.settings.staves == "tab",
        "sections": [_section(section, order) for section in arrangement.sections],
        "spans": sorted((span for span in spans if span is not None), key=repr),
    }


def _plain(value: object) -> Any:
    return msgspec.to_builtins(value, enc_hook=to_text)


def _instrument(instrument: Instrument) -> Plain:
    plain = {name: getattr(instrument, name) for name in instrument.__struct_fields__}
    return {**plain, "strings": [str(pitch) for pitch in instrument.strings]}


def _section(section: Section, order: dict[int, int]) -> Plain:
    return {
        "letter": section.letter,
        "title": section.title,
        "times": section.times,
        "endings": [
            (ending.passes, order[ending.first], order[ending.last], ending.closed)
            for ending in section.endings
        ],
        "measures": [_measure(measure, order) for measure in section.measures],
    }


def _measure(measure: Measure, order: dict[int, int]) -> Plain:
    rows = [[_event(event) for event in row] for row in measure.voices]
    while rows and not rows[-1]:
        rows.pop()
    return {
        "metre": str(measure.metre),
        "key": str(measure.key),
        "voices": rows,
        "marks": sorted((_mark(mark) for mark in measure.marks), key=repr),
        "signs": sorted((_plain(sign) for sign in measure.signs), key=repr),
        "length": None if measure.own_length is None else str(measure.own_length),
        "counted": measure.counted,
        "barline": measure.barline,
        "line break": measure.line_break,
        "others": [
            (other.purpose, [[_event(event) for event in row] for row in other.voices])
            for other in measure.others
        ],
        "like": None if measure.same_as is None else order[measure.same_as],
    }


def _mark(mark: object) -> Plain:
    plain: Plain = _plain(mark)
    plain.setdefault("at", "0")
    shape = plain.get("shape")
    if shape and not any(shape.get("fingers", ())):
        shape.pop("fingers", None)
    return plain


def _event(event: Event) -> Plain:
    marks = {repr(_plain(mark)): _plain(mark) for mark in event.marks}
    plain: Plain = _plain(event)
    plain.pop("id")
    plain["notes"] = [_note(note) for note in event.notes]
    plain["marks"] = [marks[name] for name in sorted(marks)]
    if event.notes:
        plain.pop("rest_line", None)
    return plain


def _note(note: Note) -> Plain:
    plain: Plain = _plain(note)
    plain.pop("id")
    for name in ("place", "finger", "plucking"):
        label = getattr(note, name)
        if isinstance(label, Label):
            plain[name] = (str(label.value), label.firm)
    return plain


def _names(lesson: Lesson) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Id -> where it stands: measure, voice, event, note."""
    for index, measure in enumerate(walk.measures(lesson.arrangement)):
        yield measure.id, (index,)
        for located in walk.events(measure):
            place = (index, located.voice, located.index)
            yield located.event.id, place
            for number, note in enumerate(located.event.notes):
                yield note.id, (*place, number)


def _span(span: Span, names: dict[int, tuple[int, ...]]) -> Plain | None:
    """A span by places; the first note of an event stands for the event."""
    start, end = names.get(span.start), names.get(span.end)
    if start is None or end is None:
        return None
    if span.kind not in NOTE_SPANS:
        start = start[:3] if start[3:] == (0,) else start
        end = end[:3] if end[3:] == (0,) else end
    plain: Plain = _plain(span)
    plain.pop("id")
    return {**plain, "start": start, "end": end}
