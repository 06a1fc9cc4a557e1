"""The lines of a journal: what they say, how they are checked, how they are played back.

A journal is text. Each line is ``number check payload``: a number that counts from 0, a check of
16 hexadecimal digits over the payload and every line before it, and one JSON object. Line 0 holds
the whole lesson as it was when the journal began, every further line one change. A line counts
only when its line feed is there and its check is right, and nothing after a bad line counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import blake2b
from typing import Any

import msgspec
from msgspec import Struct, structs

from core.edit.change import Change
from core.formats.lesson_json import encode, from_text, to_text
from core.model import Arrangement, BadInput, Ending, Lesson, Measure, Section, walk

FORMAT = "footstool.journal"
VERSION = 1

_LESSON_TYPES = {field.name: field.type for field in structs.fields(Lesson)}
_ARRANGEMENT_TYPES = {field.name: field.type for field in structs.fields(Arrangement)}


class Start(Struct, frozen=True):
    """Line 0: the lesson before the first change."""

    format: str
    version: int
    lesson: Lesson


class Frame(Struct, frozen=True, omit_defaults=True):
    """A section without its music: what `core.model.Section` says, measures by id."""

    id: int
    measures: tuple[int, ...]
    letter: str = ""
    title: str = ""
    times: int = 1
    endings: tuple[Ending, ...] = ()


class Record(Struct, frozen=True, omit_defaults=True):
    """One change: the measures that are new or different, the fields that differ.

    `frames` are all sections, where the sections or the order of their measures changed.
    `fields` are values by name: ``title``, ``arrangement.spans``.
    """

    label: str
    next_id: int
    measures: tuple[Measure, ...] = ()
    frames: tuple[Frame, ...] | None = None
    fields: dict[str, msgspec.Raw] = {}


def record(change: Change, lesson: Lesson) -> Record:
    """What a change did, given the lesson after it."""
    wanted = {*change.replaced, *change.inserted}
    rows = tuple(m for m in walk.measures(lesson.arrangement) if m.id in wanted)
    structural = bool(change.inserted or change.removed or "sections" in change.fields)
    frames = tuple(_frame(section) for section in lesson.arrangement.sections)
    return Record(
        change.label,
        lesson.next_id,
        rows,
        frames if structural else None,
        {name: msgspec.Raw(encode(_value(lesson, name))) for name in _plain(change.fields)},
    )


def _plain(fields: tuple[str, ...]) -> list[str]:
    return [name for name in fields if name != "sections"]


def _value(lesson: Lesson, name: str) -> object:
    owner, _, field = name.rpartition(".")
    return getattr(lesson.arrangement if owner else lesson, field)


def _frame(section: Section) -> Frame:
    ids = tuple(measure.id for measure in section.measures)
    return Frame(section.id, ids, section.letter, section.title, section.times, section.endings)


def play(entry: Record, lesson: Lesson) -> Lesson:
    """The lesson after one recorded change; raises BadInput where the record does not fit it."""
    before = lesson.arrangement
    changed = {measure.id: measure for measure in entry.measures}
    try:
        if entry.frames is None:
            sections = tuple(_amended(section, changed) for section in before.sections)
        else:
            known = {m.id: m for m in walk.measures(before)} | changed
            sections = tuple(_section(frame, known) for frame in entry.frames)
        values = {name: _decoded(name, raw) for name, raw in entry.fields.items()}
    except (KeyError, ValueError, msgspec.DecodeError) as error:
        raise BadInput("A change in the journal does not fit the lesson before it.") from error
    inner = {name.split(".")[1]: value for name, value in values.items() if "." in name}
    outer = {name: value for name, value in values.items() if "." not in name}
    arrangement = structs.replace(before, **{**inner, "sections": sections})
    return structs.replace(
        lesson, **{**outer, "arrangement": arrangement, "next_id": entry.next_id}
    )


def _amended(section: Section, changed: dict[int, Measure]) -> Section:
    if changed.keys().isdisjoint(measure.id for measure in section.measures):
        return section
    measures = tuple(changed.get(measure.id, measure) for measure in section.measures)
    return structs.replace(section, measures=measures)


def _section(frame: Frame, known: dict[int, Measure]) -> Section:
    measures = tuple(known[number] for number in frame.measures)
    return Section(frame.id, measures, frame.letter, frame.title, frame.times, frame.endings)


def _decoded(name: str, raw: msgspec.Raw) -> Any:
    owner, _, field = name.rpartition(".")
    types = _ARRANGEMENT_TYPES if owner == "arrangement" else _LESSON_TYPES if not owner else {}
    return msgspec.json.decode(raw, type=types[field], dec_hook=from_text)


class Chain:
    """Numbers and checks the lines of one journal, for writing and for reading alike."""

    def __init__(self) -> None:
        self.number = 0
        self.check = b""

    def line(self, value: Struct) -> bytes:
        """The next line, with its line feed."""
        payload = msgspec.json.encode(value, enc_hook=to_text)
        head = self._advance(payload)
        return head + payload + b"\n"

    def payload(self, line: bytes) -> bytes | None:
        """What the next line (without line feed) says; None when it is not the next line."""
        parts = line.split(b" ", 2)
        if len(parts) != 3:
            return None
        return parts[2] if line.startswith(self._advance(parts[2])) else None

    def _advance(self, payload: bytes) -> bytes:
        seed = b"%d %b %b" % (self.number, self.check, payload)
        self.check = blake2b(seed, digest_size=8).hexdigest().encode()
        head = b"%d %b " % (self.number, self.check)
        self.number += 1
        return head


def replay(data: bytes) -> list[Lesson]:
    """Every state a journal tells of, the beginning first; empty when not even that is there.

    Never raises: a torn or damaged tail is where the journal ends.
    """
    return list(_states(data))


def _states(data: bytes) -> Iterator[Lesson]:
    chain = Chain()
    lesson: Lesson | None = None
    for line in data.split(b"\n")[:-1]:
        payload = chain.payload(line)
        if payload is None:
            return
        try:
            lesson = _begin(payload) if lesson is None else play(_entry(payload), lesson)
        except (BadInput, msgspec.DecodeError, ValueError, RecursionError):
            return
        yield lesson


def _begin(payload: bytes) -> Lesson:
    start = msgspec.json.decode(payload, type=Start, dec_hook=from_text)
    if start.format != FORMAT or start.version > VERSION:
        raise BadInput("The journal was written by a newer Footstool.")
    return start.lesson


def _entry(payload: bytes) -> Record:
    return msgspec.json.decode(payload, type=Record, dec_hook=from_text)
