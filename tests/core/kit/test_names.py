"""File names that every system accepts and that stay the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from core.kit.names import section_name, section_slugs, slug
from tests import build


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Rowing Home at Lantern Time", "rowing-home-at-lantern-time"),
        ("  Été: «l'air» no. 2 ", "ete-lair-no-2"),
        ("../../etc/passwd", "etc-passwd"),
        ("CON", "con-"),
        ("拍", "lesson"),
        ("", "lesson"),
        ("x" * 300, "x" * 60),
    ],
)
def test_a_title_becomes_a_plain_name(title: str, name: str) -> None:
    assert slug(title, "lesson") == name


@given(st.text(max_size=80))
def test_no_title_makes_an_unsafe_name(title: str) -> None:
    name = slug(title, "lesson")
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert 0 < len(name) <= 61
    assert not name.startswith("-")


def test_sections_are_told_apart() -> None:
    lesson = build.lesson(["C4:whole"], ["C4:whole"], ["C4:whole"], ["C4:whole"])
    letters = ["A", "B", "A", ""]
    sections = tuple(
        structs.replace(section, letter=letter)
        for section, letter in zip(lesson.arrangement.sections, letters, strict=True)
    )
    found = section_slugs(structs.replace(lesson.arrangement, sections=sections))
    assert list(found.values()) == ["section-a", "section-b", "section-a-2", "section-4"]


def test_what_people_call_a_section() -> None:
    assert section_name("A", "Verse", 1) == "Section A (Verse)"
    assert section_name("", "", 3) == "Section 3"
