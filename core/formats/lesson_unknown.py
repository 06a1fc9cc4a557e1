"""Fields of a lesson file that this program does not know: they are passed over, but never unsaid.

A misspelt name (``"nootes"``) costs what stands under it, and a newer program's field is lost at
the next save; so a reader asks here and tells the user.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import msgspec
from msgspec import Struct, inspect

from core.formats import lesson_lines
from core.formats.lesson_lines import Path
from core.model import BadInput, walk
from core.model.lesson import Lesson

MOST_NAMED = 4
MOST_LETTERS = 40
_HEAD = ("format", "version")


class Unknown(Struct, frozen=True):
    """One unknown field: its name, the line of the file from 1, and the measure's number.

    `line` is None where the name is written with escapes; `measure` where it stands in none.
    """

    name: str
    line: int | None = None
    measure: int | None = None

    @property
    def words(self) -> str:
        where = [f"line {self.line}"] if self.line is not None else []
        where += [walk.called(self.measure)] if self.measure is not None else []
        short = self.name if len(self.name) <= MOST_LETTERS else self.name[:MOST_LETTERS] + "…"
        return f'"{short}"' + (f" ({', '.join(where)})" if where else "")


def sentences(data: bytes, name: str) -> tuple[str, ...]:
    """What to tell about a lesson file that `lesson_json.read` accepted; mostly nothing."""
    found = unknown(data)
    if not found:
        return ()
    rows = [field.words for field in found[:MOST_NAMED]]
    rows += [f"{len(found) - MOST_NAMED} more"] if len(found) > MOST_NAMED else []
    listed = ", ".join(rows[:-1]) + " and " + rows[-1] if len(rows) > 1 else rows[0]
    fields, them = ("a field", "it") if len(found) == 1 else (f"{len(found)} fields", "them")
    return (
        f"{name} has {fields} that this Footstool does not know: {listed}; what stands there was "
        f"passed over and would be lost at the next save (mend the file, or save under another "
        f"name to keep {them}).",
    )


def unknown(data: bytes) -> tuple[Unknown, ...]:
    """The unknown fields of a lesson file that can be read, in its order; raises BadInput."""
    try:
        raw = msgspec.json.decode(data)
    except RecursionError as error:
        raise BadInput("The lesson cannot be read: it is nested too deeply.") from error
    found = list(_walk(raw, lesson_shape(), ()))
    if not found:
        return ()
    numbers = lesson_lines.numbers(raw)
    lines = lesson_lines.lines(data, raw, found)
    return tuple(
        Unknown(str(path[-1]), lines.get(path), numbers.get(path[: lesson_lines.MEASURE_STEPS]))
        for path in found
    )


class _Shape(Struct, frozen=True):
    """What may stand in one place of the file: fields by name, or rows of one shape."""

    fields: dict[str, tuple[_Shape, ...]] = {}
    ordered: tuple[tuple[_Shape, ...], ...] = ()
    rows: tuple[_Shape, ...] = ()
    tag_field: str = ""
    tag: str = ""


@lru_cache(maxsize=1)
def lesson_shape() -> _Shape:
    """The shape of a lesson file, from the model itself."""
    (shape,) = _shapes(inspect.type_info(Lesson))
    return msgspec.structs.replace(shape, fields={**shape.fields, **dict.fromkeys(_HEAD, ())})


def _shapes(kind: inspect.Type) -> tuple[_Shape, ...]:
    """What a field of this type may hold that has fields of its own; empty for plain values."""
    match kind:
        case inspect.UnionType():
            return tuple(shape for one in kind.types for shape in _shapes(one))
        case inspect.VarTupleType() | inspect.ListType():
            rows = _shapes(kind.item_type)
            return (_Shape(rows=rows),) if rows else ()
        case inspect.StructType() if kind.array_like:
            ordered = tuple(_shapes(field.type) for field in kind.fields)
            return (_Shape(ordered=ordered),) if any(ordered) else ()
        case inspect.StructType():
            fields = {field.encode_name: _shapes(field.type) for field in kind.fields}
            if kind.tag_field is None:
                return (_Shape(fields),)
            fields[kind.tag_field] = ()
            return (_Shape(fields, tag_field=kind.tag_field, tag=str(kind.tag)),)
        case _:
            return ()


def _walk(raw: Any, shape: _Shape, path: Path) -> Iterator[Path]:
    """The paths of the unknown fields below a value of this shape."""
    if isinstance(raw, dict):
        for name, value in raw.items():
            deeper = shape.fields.get(name)
            if deeper is None:
                yield (*path, name)
            elif deeper:
                yield from _into(value, deeper, (*path, name))
    elif isinstance(raw, list):
        for index, value in enumerate(raw):
            deeper = shape.rows
            if index < len(shape.ordered):
                deeper = shape.ordered[index]
            if deeper:
                yield from _into(value, deeper, (*path, index))


def _into(value: Any, shapes: tuple[_Shape, ...], path: Path) -> Iterator[Path]:
    """Below a value that has one of these shapes: the tag says which."""
    for shape in shapes:
        if isinstance(value, dict) != bool(shape.fields):
            continue
        if not shape.tag_field or value.get(shape.tag_field) == shape.tag:
            yield from _walk(value, shape, path)
            return
