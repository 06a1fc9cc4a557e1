"""Plain-text tab: our own lines read back, other people's lines read, bad text refused.

The layout of the lines (string names, dashes, bar strokes) is common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.edit import Paste, Selection
from core.formats import plain_tab
from core.model import BadInput, Instrument, Key, Lesson, Metre, Pitch, walk
from tests import build
from tests.core.edit.kit import do, told

GUITAR = Instrument()
FOUR = Metre([4], 4)
C = Key(0)


def whole(lesson: Lesson) -> Selection:
    row = list(walk.measures(lesson.arrangement))
    return Selection(row[0].id, 0, row[-1].id, row[-1].length_ticks)


def pasted(text: str, metre: str = "4/4") -> Lesson:
    target = build.lesson([""], metre=metre)
    measure = next(walk.measures(target.arrangement))
    clip = plain_tab.read(text, GUITAR, measure.metre, measure.key).clip
    return do(Paste(measure.id, 0, clip), target)


def test_what_is_written() -> None:
    lesson = build.lesson(["E4s1f0:quarter F4s1f1:quarter G4s1f3:half | C3s5f3:whole"])
    assert plain_tab.write(lesson, whole(lesson)).splitlines() == [
        "e|-0--1--3-----|",
        "B|-------------|",
        "G|-------------|",
        "D|-------------|",
        "A|-3-----------|",
        "E|-------------|",
    ]


@pytest.mark.parametrize(
    ("metre", "music"),
    [
        ("4/4", "s1f0:quarter s1f1:eighth s1f3:eighth s1f0:half"),
        ("6/8", "s2f1:quarter s2f0:eighth s2f1:quarter s2f0:eighth"),
        ("3/4", "s1f12:half."),
        ("3/4", "r:quarter s3f2:half"),
        ("4/4", "s1f0:quarter. s1f12:eighth s2f10:16th s2f1:16th s1f0:eighth s1f0:quarter"),
    ],
)
def test_our_own_lines_read_back(metre: str, music: str) -> None:
    words = []
    for word in music.split():
        place, value = word.split(":")
        if place != "r":
            string, fret = map(int, place[1:].split("f"))
            midi = GUITAR.strings[string - 1].midi + fret
            place = f"{Pitch.from_midi(midi, C)}s{string}f{fret}"
        words.append(f"{place}:{value}")
    lesson = build.lesson([" ".join(words)], metre=metre)
    text = plain_tab.write(lesson, whole(lesson))
    assert plain_tab.read(text, GUITAR, lesson.arrangement.sections[0].measures[0].metre, C).timed
    assert told(pasted(text, metre)) == music.strip()


def test_spacing_that_tells_nothing_gives_even_values() -> None:
    lines = ["e|-0--1---3-|", *("BGDAE"[i] + "|----------|" for i in range(5))]
    read = plain_tab.read("\n".join(lines), GUITAR, FOUR, C)
    assert not read.timed
    assert [str(p.event.value) for p in read.clip.pieces][:2] == ["quarter", "quarter"]


def test_signs_between_figures_words_around_and_several_blocks() -> None:
    block = "e|-0-h-2---|\n" + "\n".join(f"{n}|---------|" for n in "BGDAE")
    text = f"Old tune, verse\n\n{block}\n\nchorus:\n{block}\n"
    assert [p.event.notes != () for p in plain_tab.read(text, GUITAR, FOUR, C).clip.pieces]
    assert len(told(pasted(text)).split()) >= 2


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no tab"),
        ("hello\nworld", "no tab"),
        ("e|-1-|\nB|-1-|\nG|-1-|\nD|-1-|", "4 lines"),
        ("\n".join(f"{n}|-99-|" for n in "eBGDAE"), "fret 99"),
        ("\n".join(f"{n}|----|" for n in "eBGDAE"), "no tab"),
        ("x" * 200_001, "too long"),
    ],
)
def test_what_is_no_tab_is_refused(text: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        plain_tab.read(text, GUITAR, FOUR, C)


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="eBGDAE|-0123456789hpx:* \n", max_size=400))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        clip = plain_tab.read(text, GUITAR, FOUR, C).clip
    except BadInput:
        return
    assert all(piece.event.ticks > 0 for piece in clip.pieces)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text(alphabet="|-0123456789hp:*", min_size=1, max_size=60), min_size=6, max_size=6)
)
def test_any_six_lines_are_read_or_refused(lines: list[str]) -> None:
    try:
        clip = plain_tab.read("\n".join("|" + line for line in lines), GUITAR, FOUR, C).clip
    except BadInput:
        return
    target = build.lesson([""])
    do(Paste(next(walk.measures(target.arrangement)).id, 0, clip), target)
