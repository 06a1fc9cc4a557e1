"""The lesson file: readable JSON with a version, validated on the way in.

One measure stands on one line, so that a diff shows which measures changed.
"""

from __future__ import annotations

import json
import re
from typing import Any

import msgspec

from core.formats import lesson_lines
from core.model.errors import BadInput
from core.model.lesson import LESSON_VERSION, Lesson
from core.model.measure import Measure
from core.model.text import TextValue
from core.model.validate import problems

FORMAT = "footstool.lesson"
MOST_BYTES = 64 * 1024 * 1024
WHITE = b" \t\r\n"
MEND = "take an earlier copy of the file, or mend that place in a text editor"


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
    """What is read first: other programs' JSON has neither."""

    format: str = ""
    version: int = 0


def read(data: bytes, name: str = "The lesson") -> Lesson:
    """Read and validate a lesson file; `name` begins the sentence of a BadInput."""
    if len(data) > MOST_BYTES:
        raise BadInput(f"{name} is larger than a lesson can be (64 MiB).")
    text = data.strip(WHITE)
    if not text:
        raise BadInput(f"{name} is empty.")
    if text[:1] != b"{":
        raise BadInput(f"{name} is not a Footstool lesson; it holds something else.")
    try:
        head = msgspec.json.decode(data, type=_Head)
        if head.format != FORMAT:
            raise BadInput(f"{name} is not a Footstool lesson.")
        if head.version < 1:
            raise BadInput(f"{name} does not say which file version it is.")
        if head.version > LESSON_VERSION:
            raise BadInput(
                f"{name} was written by a newer Footstool (file version {head.version}, "
                f"this program reads up to {LESSON_VERSION}); update Footstool to open it."
            )
        lesson = _DECODER.decode(data)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise BadInput(f"{name} cannot be opened: {_where(data, error)}.") from error
    found = problems(lesson)
    if found:
        more = f" (and {len(found) - 1} more faults)" if len(found) > 1 else ""
        what = _lower(found[0].sentence).rstrip(".")
        raise BadInput(f"{name} cannot be opened: {what}{more}; {MEND}.")
    return lesson


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


_BYTE = re.compile(r" ?\(byte (\d+)\)")
_PATH = re.compile(r" - at `\$([^`]*)`")
_STEP = re.compile(r"\[(\d+)\]|\.?([^.\[\]]+)")


def _where(data: bytes, error: Exception) -> str:
    """What is wrong and at which line and measure, for people; the reader's own words last."""
    text = str(error).rstrip(".")
    if isinstance(error, RecursionError):
        return "it is nested too deeply to be a lesson"
    if "truncated" in text:
        return f"the file is cut off at line {data.count(10) + 1}; take an earlier copy of it"
    if found := _BYTE.search(text):
        line = data.count(10, 0, int(found[1])) + 1
        return f"line {line} is damaged; {MEND} ({_BYTE.sub('', text)})"
    found = _PATH.search(text)
    path = _steps(found[1]) if found else ()
    place = lesson_lines.place(data, path) or "the file"
    return f"{place} is damaged; {MEND} ({_PATH.sub('', text)})"


def _steps(path: str) -> lesson_lines.Path:
    """``.sections[0].measures`` as steps: names and numbers."""
    return tuple(
        int(found[1]) if found[1] is not None else found[2] for found in _STEP.finditer(path)
    )
