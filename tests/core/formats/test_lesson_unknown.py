"""Unknown fields of a lesson file: none in ours, each one found, told with its place."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from core.formats import lesson_json, lesson_unknown
from core.model import BadInput, Lesson
from tests import build, everything, strategies

GOLDEN = Path(__file__).parent / "goldens" / "everything-version-1.footstool"
CALM = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@CALM
@given(strategies.lessons())
def test_our_own_files_hold_nothing_unknown(lesson: Lesson) -> None:
    assert lesson_unknown.unknown(lesson_json.write(lesson)) == ()


def test_every_sign_is_known() -> None:
    assert lesson_unknown.unknown(lesson_json.write(everything.lesson())) == ()
    assert lesson_unknown.unknown(GOLDEN.read_bytes()) == ()


def objects(value: Any) -> Iterator[dict[str, Any]]:
    """Every JSON object in a value, but for the table of spans, whose names are finger pairs."""
    if isinstance(value, dict):
        if "14" not in value and "12" not in value:
            yield value
        for item in value.values():
            yield from objects(item)
    elif isinstance(value, list):
        for item in value:
            yield from objects(item)


@CALM
@given(strategies.lessons(), st.data())
def test_a_misspelt_name_anywhere_is_found_on_its_line(lesson: Lesson, data: st.DataObject) -> None:
    written = lesson_json.write(lesson)
    raw = json.loads(written)
    holder = data.draw(st.sampled_from([found for found in objects(raw) if found]))
    name = data.draw(st.sampled_from(sorted(holder)))
    holder["x" + name] = holder.pop(name)
    damaged = json.dumps(raw, indent=1, ensure_ascii=False).encode()
    try:
        lesson_json.read(damaged)
    except BadInput:
        assume(False)  # a field that must be there: refused, so nothing is lost silently
    (found,) = lesson_unknown.unknown(damaged)
    assert found.name == "x" + name
    assert found.line is not None
    assert f'"x{name}":'.encode() in damaged.splitlines()[found.line - 1]


def damaged() -> bytes:
    data = lesson_json.write(build.lesson(["E4:whole", "F4:whole"], title="Two Gates"))
    head, tail = data.rsplit(b'"notes"', 1)
    return head + b'"nootes"' + tail


def test_the_sentence_names_field_line_and_measure() -> None:
    (told,) = lesson_unknown.sentences(damaged(), "tune.footstool")
    line = damaged()[: damaged().index(b"nootes")].count(b"\n") + 1
    assert told.startswith(
        "tune.footstool has a field that this Footstool does not know: "
        f'"nootes" (line {line}, measure 2); '
    )
    assert "lost at the next save" in told
    assert told.count(".") == 2  # the file's name has one, the sentence another


def test_many_are_counted() -> None:
    many = b"".join(b'"x%d": 1, ' % number for number in range(9))
    data = lesson_json.write(build.lesson(["E4:whole"])).replace(b'"version"', many + b'"version"')
    (told,) = lesson_unknown.sentences(data, "t.footstool")
    assert 'has 9 fields that this Footstool does not know: "x0" (line 3), ' in told
    assert "and 5 more;" in told


def test_a_text_that_looks_like_a_field_is_none() -> None:
    lesson = build.lesson(["E4:whole"], title='a "nootes": in the title')
    assert lesson_unknown.unknown(lesson_json.write(lesson)) == ()


def test_an_unknown_field_may_be_deep() -> None:
    deep = b"[" * 400 + b"]" * 400
    data = lesson_json.write(build.lesson(["E4:whole"]))
    data = data.replace(b'"version"', b'"new": %b, "version"' % deep)
    assert [field.name for field in lesson_unknown.unknown(data)] == ["new"]


def test_nothing_is_told_of_a_sound_file() -> None:
    data = lesson_json.write(build.lesson(["E4:whole"]))
    assert lesson_unknown.sentences(data, "t.footstool") == ()


def test_nested_too_deeply_is_a_sentence() -> None:
    with pytest.raises(BadInput, match="nested too deeply"):
        lesson_unknown.unknown(b'{"a":' * 50_000)
