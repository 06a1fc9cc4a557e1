"""The lesson file: readable JSON with a version, validated on the way in.

One measure stands on one line, so that a diff shows which measures changed.
"""

from __future__ import annotations

import json
from typing import Any

import msgspec

from core.model.errors import BadInput
from core.model.lesson import LESSON_VERSION, Lesson
from core.model.measure import Measure
from core.model.text import TextValue
from core.model.validate import problems

FORMAT = "footstool.lesson"
MOST_BYTES = 64 * 1024 * 1024


def to_text(value: object) -> object:
    """msgspec encoding hook: text values become their text."""
    if isinstance(value, TextValue):
        return str(value)
    raise NotImplementedError(f"{type(value).__name__} has no place in a lesson file")


def from_text(kind: type, value: Any) -> object:
    """msgspec decoding hook: the inverse of `to_text`."""
    if isinstance(kind, type) and issubclass(kind, TextValue):
        if not isinstance(value, str):
            raise ValueError(f"expected text, got {value!r}")
        return kind.parse(value)
    raise NotImplementedError(f"{kind} has no place in a lesson file")


_ENCODER = msgspec.json.Encoder(enc_hook=to_text)
_DECODER = msgspec.json.Decoder(Lesson, dec_hook=from_text)


def encode(value: object) -> bytes:
    """Any model value as one line of JSON."""
    return _ENCODER.encode(value)


def decode_measure(line: bytes) -> Measure:
    """One measure from its line; raises BadInput."""
    try:
        return msgspec.json.decode(line, type=Measure, dec_hook=from_text)
    except (msgspec.DecodeError, ValueError) as error:
        raise BadInput(f"A measure cannot be read: {error}.") from error


def write(lesson: Lesson) -> bytes:
    """The lesson file: UTF-8 JSON, one measure or span a line, ending in a line feed."""
    fields = msgspec.json.decode(encode(lesson))
    arrangement = fields.pop("arrangement")
    sections = arrangement.pop("sections")
    spans = arrangement.pop("spans", [])
    head = {"format": FORMAT, "version": LESSON_VERSION, **fields}
    lines = ["{"]
    lines += [f"{_dump(name)}: {_dump(value)}," for name, value in head.items()]
    lines += ['"arrangement": {']
    lines += [f" {_dump(name)}: {_dump(value)}," for name, value in arrangement.items()]
    if spans:
        lines += [' "spans": [', *_rows(spans, "  "), " ],"]
    lines += [' "sections": [']
    for index, section in enumerate(sections):
        measures = section.pop("measures")
        lines += ["  " + _dump(section)[:-1] + ', "measures": [']
        lines += _rows(measures, "   ")
        lines += ["  ]}" + ("," if index < len(sections) - 1 else "")]
    lines += [" ]", "}", "}", ""]
    return "\n".join(lines).encode()


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def _rows(values: list[object], indent: str) -> list[str]:
    rows = [indent + _dump(value) + "," for value in values]
    return [*rows[:-1], rows[-1][:-1]] if rows else []


class _Head(msgspec.Struct):
    format: str = ""
    version: int = 0


def read(data: bytes, name: str = "The lesson") -> Lesson:
    """Read and validate a lesson file; `name` begins the sentence of a BadInput."""
    if len(data) > MOST_BYTES:
        raise BadInput(f"{name} is larger than a lesson can be (64 MiB).")
    try:
        head = msgspec.json.decode(data, type=_Head)
        if head.format != FORMAT:
            raise BadInput(f"{name} is not a Footstool lesson.")
        if head.version > LESSON_VERSION:
            raise BadInput(
                f"{name} was written by a newer Footstool (file version {head.version}, "
                f"this program reads up to {LESSON_VERSION}); update Footstool to open it."
            )
        lesson = _DECODER.decode(data)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise BadInput(f"{name} cannot be read: {_where(data, error)}.") from error
    found = problems(lesson)
    if found:
        more = f" ({len(found) - 1} more)" if len(found) > 1 else ""
        raise BadInput(f"{name} is not sound: {found[0].sentence.rstrip('.')}{more}.")
    return lesson


def _where(data: bytes, error: Exception) -> str:
    """The error with the line of the file it happened on, where that can be told."""
    text = str(error)
    if "byte" in text:
        position = int("".join(c for c in text.rsplit("byte", 1)[1] if c.isdigit()) or 0)
        return f"line {data.count(10, 0, position) + 1}: {text}"
    if not data.rstrip().endswith(b"}"):
        return f"the file is cut off at line {data.count(10) + 1}: {text}"
    return text
