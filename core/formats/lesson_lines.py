"""Where a field of a lesson file stands, for people: the line of the file and the measure.

Decoders of JSON keep no lines; they are found again by counting the fields of one name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from core.model import walk

Path = tuple[str | int, ...]
"""Steps from the whole file to a value: names of fields and numbers in rows, from 0."""

MEASURE_STEPS = 5
"""The steps to a measure: arrangement, sections, 0, measures, 0."""


def place(data: bytes, path: Path) -> str:
    """``line 14 (title)``, ``line 14 (measure 2)``: where the value at a path stands; may be empty.

    The path leads to a value that is wrong, or to an object that lacks something.
    """
    try:
        raw = msgspec.json.decode(data)
    except (msgspec.DecodeError, RecursionError):  # further on it is damaged even more
        return ""
    field = _nearest_field(raw, path)
    line = lines(data, raw, [field]).get(field) if field else None
    number = numbers(raw).get(path[:MEASURE_STEPS])
    inside = walk.called(number) if number is not None else ".".join(map(str, path))
    if line is None:
        return inside
    return f"line {line} ({inside})" if inside else f"line {line}"


def _nearest_field(raw: Any, path: Path) -> Path:
    """The path of a field on the line where the value at `path` begins; may be empty."""
    value = raw
    for step in path:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            break
    while isinstance(value, list) and value:
        path, value = (*path, 0), value[0]
    if isinstance(value, dict) and value:
        return (*path, next(iter(value)))
    while path and not isinstance(path[-1], str):
        path = path[:-1]
    return path


def numbers(raw: Any) -> dict[Path, int]:
    """Path of a measure of the arrangement -> its printed number, counted as the model does."""
    table: dict[Path, int] = {}
    number = 0
    for section, row in enumerate(_rows(_field(raw, "arrangement"), "sections")):
        for index, measure in enumerate(_rows(row, "measures")):
            number += _field(measure, "counted") is not False
            table["arrangement", "sections", section, "measures", index] = number
    return table


def _field(raw: Any, name: str) -> Any:
    """The field of an object; None where it is no object: the file may be damaged."""
    return raw.get(name) if isinstance(raw, dict) else None


def _rows(raw: Any, name: str) -> list[Any]:
    found = _field(raw, name)
    return found if isinstance(found, list) else []


def lines(data: bytes, raw: Any, wanted: Iterable[Path]) -> dict[Path, int]:
    """Path -> line for the wanted fields: the n-th of a name in the file is the n-th in `raw`.

    A field is left out where the file writes its name in another way than plainly, or twice.
    """
    paths: dict[str, list[Path]] = {str(path[-1]): [] for path in wanted}
    for path in _every_field(raw):
        if path[-1] in paths:
            paths[str(path[-1])].append(path)
    table: dict[Path, int] = {}
    for name, row in paths.items():
        quoted = re.escape(msgspec.json.encode(name))
        places = [found.start() for found in re.finditer(quoted + rb"\s*:", data)]
        if len(places) == len(row):
            table |= {
                path: data.count(b"\n", 0, place) + 1
                for path, place in zip(row, places, strict=True)
            }
    return table


def _every_field(raw: Any) -> Iterator[Path]:
    """The path of every field, in the order of the file; unknown ones may be nested deeply."""
    rest: list[tuple[Path, Any]] = [((), raw)]
    while rest:
        path, value = rest.pop()
        if path and isinstance(path[-1], str):
            yield path
        inside: list[tuple[str | int, Any]] = []
        if isinstance(value, dict):
            inside = [*value.items()]
        elif isinstance(value, list):
            inside = [*enumerate(value)]
        rest += [((*path, name), item) for name, item in reversed(inside)]
