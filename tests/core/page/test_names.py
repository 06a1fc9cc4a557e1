"""Note names: letters in heads, syllables in rows."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.display.items import Face, Glyph, Role, Text
from core.model import Key, Lesson, Pitch, Settings, walk
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.names import name_of
from core.page.style import A4, LARGE_PRINT, Names, PageStyle, for_settings
from tests import build
from tests.core.page.ink import collisions
from tests.core.page.kit import NAMES, items, metrics
from tests.strategies import lessons

TUNE = "A3s3f2:quarter G#3s3f1:quarter E4s1f0+C4s2f1:half | A2s5f0:half E2s6f0:half"


def rows(layout: Layout) -> list[Text]:
    """The names in rows: the only words of the sans face that are neither figures nor warnings."""
    return [
        item for _, item in items(layout)
        if isinstance(item, Text) and item.face is Face.SANS and item.role is Role.WORDS
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("key", "pitch", "fixed", "movable"),
    [
        ("C major", "C4", "do", "do"), ("C major", "B3", "si", "ti"),
        ("C major", "G3", "sol", "so"), ("A minor", "A3", "la", "la"),
        ("A minor", "G#3", "sol♯", "si"), ("G major", "F#4", "fa♯", "ti"),
        ("G major", "F4", "fa", "te"), ("F major", "Bb3", "si♭", "fa"),
        ("D dorian", "D4", "re", "re"), ("C major", "C#4", "do♯", "di"),
        ("C major", "Cb4", "do♭", "do♭"), ("E major", "D##4", "re𝄪", "ti♯"),
    ],
)  # fmt: skip
def test_names(key: str, pitch: str, fixed: str, movable: str) -> None:
    """Common practice, no source: Romance names; syllables with la as the minor keynote."""
    note, of = Pitch.parse(pitch), Key.parse(key)
    assert name_of(note, of, "fixed do") == fixed
    assert name_of(note, of, "movable do") == movable


def test_letters_stand_in_the_heads_and_accidentals_outside() -> None:
    layout = engrave(build.lesson([TUNE], key="A minor"), PageStyle(names="letters"), metrics())
    heads = [NAMES[i.code] for _, i in items(layout) if isinstance(i, Glyph) and i.source
             and NAMES[i.code].startswith("note")]  # fmt: skip
    assert sorted(heads) == sorted(
        ["noteABlack", "noteGBlack", "noteCHalf", "noteEHalf", "noteAHalf", "noteEHalf"]
    )
    backs = [i for _, i in items(layout) if isinstance(i, Glyph) and i.role is Role.BLANK]
    assert len(backs) == len(heads)  # no line crosses a letter
    assert any(
        isinstance(i, Glyph) and NAMES[i.code] == "accidentalSharp" for _, i in items(layout)
    )
    assert rows(layout) == []


@pytest.mark.parametrize("staves", ["staff and tab", "staff", "tab"])
def test_names_in_rows_stand_over_and_under(staves: str) -> None:
    style = PageStyle(names="fixed do", staves=staves)  # type: ignore[arg-type]
    layout = engrave(build.lesson([TUNE], key="A minor"), style, metrics())
    found = rows(layout)
    assert sorted(t.text for t in found) == sorted(["la", "sol♯", "mi", "do", "la", "mi"])
    upper = {t.text: t.y for t in found if t.y < 0}
    assert set(upper) == {"la", "sol♯", "mi", "do"}
    assert upper["la"] == upper["sol♯"] == upper["do"] > upper["mi"]  # stacked as the heads are
    assert all(layout.where(t.source) for t in found)


def test_letters_without_heads_stand_in_a_row() -> None:
    layout = engrave(build.lesson([TUNE]), PageStyle(names="letters", staves="tab"), metrics())
    assert "G♯" in [t.text for t in rows(layout)]


@pytest.mark.parametrize("paper", [A4, LARGE_PRINT])
def test_letters_are_tall_enough_to_read(paper: PageStyle) -> None:
    """Our own choice: the capital in a head at least 1.5 mm tall, as six-point type is."""
    style = for_settings(paper, Settings(names="letters"))
    capital = 0.62  # spaces, of the letters of open heads, measured in the font
    assert style.space_mm * capital >= 1.5
    plain = for_settings(paper, Settings(names="fixed do"))
    assert plain.staff_mm == paper.staff_mm
    assert for_settings(paper, Settings()) is paper


def test_a_tied_note_is_named_once() -> None:
    lesson = build.lesson(["E4s1f0:half~ E4s1f0:half", "E4s1f0:whole"])
    layout = engrave(lesson, PageStyle(names="movable do"), metrics())
    assert len(rows(layout)) == 2


@settings(
    max_examples=25, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.too_slow], phases=[Phase.explicit, Phase.generate],
)  # fmt: skip
@given(lessons(), st.sampled_from(["letters", "fixed do", "movable do"]))
def test_names_collide_with_nothing(lesson: Lesson, names: Names) -> None:
    """Invariants 1 and 11 for names; in rows as many names as struck notes that are shown."""
    layout = engrave(lesson, PageStyle(width_mm=900, names=names), metrics())
    assert [said for system in layout.systems for said in collisions(system.body)] == []
    if names != "letters":
        shown = {t.source for t in rows(layout)}
        notes = {n.id for m in walk.measures(lesson.arrangement) for at, n in walk.notes(m)
                 if not at.event.hidden and at.event.grace is None}  # fmt: skip
        assert shown <= notes


def test_settings_reach_the_strip_and_pages() -> None:
    lesson = build.lesson([TUNE])
    lesson = structs.replace(lesson, settings=Settings(names="fixed do"))
    assert rows(engrave(lesson, for_settings(A4, lesson.settings), metrics()))
