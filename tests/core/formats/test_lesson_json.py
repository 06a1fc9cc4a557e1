"""The lesson file: identity, a measure a line, the kept first version, one sentence for errors."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from msgspec import Struct

from core.formats import lesson_json
from core.formats.lesson_json import decode_measure, encode
from core.model import BadInput, Lesson, walk
from core.model.text import TextValue
from core.model.validate import problems
from tests import build, everything, strategies

GOLDEN = Path(__file__).parent / "goldens" / "everything-version-1.footstool"

MEANING = GOLDEN.with_suffix(".json")


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons())
def test_load_after_save_is_identity(lesson: Lesson) -> None:
    data = lesson_json.write(lesson)
    again = lesson_json.read(data)
    assert again == lesson
    assert again.next_id == lesson.next_id
    assert lesson_json.write(again) == data


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.lessons())
def test_each_measure_stands_on_a_line_of_its_own(lesson: Lesson) -> None:
    lines = [line.strip().rstrip(b",") for line in lesson_json.write(lesson).splitlines()]
    for measure in walk.measures(lesson.arrangement):
        found = [line for line in lines if line.startswith(b'{"id": %d, "metre"' % measure.id)]
        assert len(found) == 1
        assert decode_measure(found[0]) == measure


def test_a_change_changes_one_line() -> None:
    one = build.lesson(["C4:whole", "D4:whole", "E4:whole"])
    other = build.lesson(["C4:whole", "F4:whole", "E4:whole"])
    rows = zip(
        lesson_json.write(one).splitlines(), lesson_json.write(other).splitlines(), strict=True
    )
    assert sum(a != b for a, b in rows) == 1


def spelled_out(value: object) -> object:
    """A model value as plain JSON with every field, defaults too."""
    if isinstance(value, TextValue):
        return str(value)
    if isinstance(value, Struct):
        return {name: spelled_out(getattr(value, name)) for name in value.__struct_fields__}
    if isinstance(value, tuple | list):
        return [spelled_out(item) for item in value]
    if isinstance(value, dict):
        return {str(key): spelled_out(item) for key, item in value.items()}
    return value


def holds(actual: object, kept: object) -> bool:
    """Whether everything that was kept is still there; fields may have been added."""
    if isinstance(kept, dict):
        return isinstance(actual, dict) and all(
            name in actual and holds(actual[name], item) for name, item in kept.items()
        )
    if isinstance(kept, list):
        return (
            isinstance(actual, list) and len(actual) == len(kept) and all(map(holds, actual, kept))
        )
    return actual == kept


def test_version_1_opens_for_ever() -> None:
    """Both goldens were written once by version 1 and are never written again.

    The second has every field, so that a default that changed would show.
    """
    lesson = lesson_json.read(GOLDEN.read_bytes())
    assert holds(spelled_out(lesson), json.loads(MEANING.read_text("utf-8")))


def test_everything_survives_the_file() -> None:
    lesson = everything.lesson()
    assert lesson_json.read(lesson_json.write(lesson)) == lesson


def test_everything_is_sound() -> None:
    assert problems(everything.lesson()) == []


def test_what_is_usual_is_not_written() -> None:
    text = lesson_json.write(build.lesson(["C4:whole"])).decode()
    assert "null" not in text
    assert "false" not in text
    assert json.loads(text)["format"] == "footstool.lesson"


def test_a_measure_travels_alone() -> None:
    for measure in walk.measures(everything.lesson().arrangement):
        assert decode_measure(encode(measure)) == measure


HEAD = b'{"format": "footstool.lesson", "version": 1, '
SOUND = lesson_json.write(build.lesson(["C4s2f1:quarter", "D4:whole"]))

BAD = [
    (b"", "is empty"),
    (b" \n", "is empty"),
    (b"{", "cut off at line 1"),
    (b"\xff\xfe\x00", "is not a Footstool lesson"),
    (b"[1]", "is not a Footstool lesson"),
    (b"null", "is not a Footstool lesson"),
    (b"{}", "is not a Footstool lesson"),
    (b'{"format": "other"}', "is not a Footstool lesson"),
    (b'{"format": "footstool.lesson"}', "does not say which file version"),
    (b'{"format": "footstool.lesson", "version": 2}', "newer Footstool"),
    (b'{"format": "footstool.lesson", "version": "1"}', "version"),
    (HEAD + b'"title": 3}', "line 1 (title) is damaged; take an earlier copy"),
    (HEAD + b'"title": "x"}', "missing required field `arrangement`"),
    (HEAD + b'"title": NaN}', "line 1 is damaged; take an earlier copy"),
    (SOUND[: len(SOUND) // 2], "cut off at line"),
    (SOUND.replace(b'"quarter"', b'"crotchet"', 1), "line 11 (measure 1) is damaged"),
    (SOUND.replace(b'"s2f1"', b'"s2f2"'), "string 2, fret 2 does not sound C4"),
    (SOUND.replace(b'"D4"', b'"D44"'), "line 12 (measure 2) is damaged"),
    (SOUND.replace(b'"next_id": ', b'"next_id": -'), "in section A the id 1 is outside 1 to"),
    (
        SOUND.replace(b'"id": 3', b'"id": 2'),
        "the id 2 is used 2 times, in measure 1; take",
    ),
    (HEAD + b'"junk": ' + b"[" * 200_000, "nested too deeply"),
]


@pytest.mark.parametrize(("data", "told"), BAD, ids=range(len(BAD)))
def test_what_cannot_be_read_is_one_sentence(data: bytes, told: str) -> None:
    with pytest.raises(BadInput) as caught:
        lesson_json.read(data, "x.footstool")
    sentence = str(caught.value)
    assert sentence.startswith("x.footstool ")
    assert told in sentence
    assert "\n" not in sentence


def test_a_huge_file_is_not_even_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lesson_json, "MOST_BYTES", 100)
    with pytest.raises(BadInput, match="larger than a lesson can be"):
        lesson_json.read(SOUND)


def test_a_measure_that_cannot_be_read() -> None:
    with pytest.raises(BadInput, match="measure cannot be read"):
        decode_measure(b'{"id": 1}')


PLACED = [
    (b'"D4"', b"4", "measure 2"),
    (b'"metre": "4/4"', b'"metre": "4/"', "measure 1"),
    (b'"half"', b"{}", "measure 2"),
    (b'"title": "Two', b'"title": 2, "x": "Two', "title"),
]


@pytest.mark.parametrize(("good", "bad", "inside"), PLACED)
def test_the_line_of_the_damage_is_named(good: bytes, bad: bytes, inside: str) -> None:
    sound = lesson_json.write(build.lesson(["E4:whole"], ["D4:half F4:half"], title="Two Gates"))
    damaged = sound.replace(good, bad, 1)
    line = sound[: sound.index(good)].count(b"\n") + 1
    with pytest.raises(BadInput) as caught:
        lesson_json.read(damaged, "x.footstool")
    assert f"line {line} ({inside}) is damaged" in str(caught.value)


def test_the_holders_of_an_id_are_named() -> None:
    sound = lesson_json.write(build.lesson(["E4:whole"], ["D4:whole"]))
    number = json.loads(sound)["arrangement"]["sections"][1]["measures"][0]["voices"][0][0]["id"]
    twice = sound.replace(b'"id": 3,', b'"id": %d,' % number, 1)
    with pytest.raises(BadInput, match=f"the id {number} is used 2 times, in measure 1 and measur"):
        lesson_json.read(twice, "x.footstool")
