"""DEVELOPERS.md names every field of the lesson file and of a line of the journal."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from msgspec import Struct

from core.model import Label, Lesson
from core.store.records import Record, Start

TEXT = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8")


def _section(title: str) -> str:
    found = re.search(rf"^## {title}\n(.*?)(?=^## |\Z)", TEXT, re.DOTALL | re.MULTILINE)
    assert found is not None, f"DEVELOPERS.md has no section {title}"
    return found[1]


def _types(hint: object) -> Iterator[type]:
    if isinstance(hint, type) and issubclass(hint, Struct):
        yield hint
    for inner in get_args(hint):
        yield from _types(inner)


def _reached(start: type) -> set[type]:
    found: set[type] = set()
    waiting = [start]
    while waiting:
        kind = waiting.pop()
        if kind not in found and kind is not Label:
            found.add(kind)
            for hint in get_type_hints(kind).values():
                waiting.extend(_types(hint))
    return found


STRUCTS = sorted(_reached(Lesson), key=lambda kind: kind.__name__)


def test_the_whole_model_is_looked_at() -> None:
    assert {"Lesson", "Waiver", "ShapeBarre", "Fermata", "Harmonic", "SourcePart"} <= {
        kind.__name__ for kind in STRUCTS
    }


@pytest.mark.parametrize("kind", STRUCTS, ids=lambda kind: kind.__name__)
def test_each_field_of_the_lesson_file_is_documented(kind: type[Struct]) -> None:
    told = _section("The lesson file")
    assert [name for name in kind.__struct_fields__ if f"`{name}`" not in told] == []


@pytest.mark.parametrize("kind", [Start, Record], ids=lambda kind: kind.__name__)
def test_each_field_of_a_journal_line_is_documented(kind: type[Struct]) -> None:
    told = _section("The journal")
    assert [name for name in kind.__struct_fields__ if f"`{name}`" not in told] == []
