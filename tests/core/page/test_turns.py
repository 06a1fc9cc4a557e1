"""Where a page may be turned. All of it is common practice, no source."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.model import Lesson, walk
from core.page.engrave import engrave
from core.page.style import PageStyle
from core.page.turns import free_hands, turn_cost
from tests import build
from tests.core.page.kit import metrics

BUSY = "F4s1f1:eighth " * 8


def cost(here: str, after: str = BUSY, held: bool = False, **more: bool) -> float:
    """The cost of a turn between two measures, at 60 quarters a minute."""
    lesson = build.lesson([here, after])
    one, two = walk.measures(lesson.arrangement)
    ticks = lesson.arrangement.tempo.ticks_per_second
    continued = frozenset(n.id for n in two.voices[0][0].notes) if held else frozenset[int]()
    how = {"ends_section": False, "repeated": False, **more}
    return turn_cost(free_hands(one, frozenset()), free_hands(two, continued), ticks, **how)


def test_the_tests_tempo_is_a_quarter_a_second() -> None:
    assert str(build.lesson([BUSY]).arrangement.tempo.beat) == "quarter"
    assert build.lesson([BUSY]).arrangement.tempo.per_minute == 60


def test_both_hands_busy() -> None:
    assert cost(BUSY) == 1.0


@pytest.mark.parametrize(
    "ending",
    [
        "F4s1f1:half r:half",  # both hands rest
        "F4s1f1:half G4s1f3:half",  # the plucking hand is free while the last note sounds
        "F4s1f1:half " + "E4s1f0:eighth " * 4,  # open strings: the fretting hand is free
        "F4s1f1:quarter r:half. | A2s5f0:whole",
    ],
)
def test_a_free_hand(ending: str) -> None:
    assert cost(ending) == 0.0


def test_a_rest_after_the_turn_counts_as_well() -> None:
    assert cost(BUSY, "r:half F4s1f1:half") == 0.0


def test_one_second_is_worth_something() -> None:
    assert 0.0 < cost("F4s1f1:half. G4s1f3:quarter") < 1.0


def test_another_voice_that_goes_on_keeps_the_hand() -> None:
    assert cost("F4s1f1:whole | " + "F2s6f1:eighth " * 8) == 1.0
    assert cost("F4s1f1:whole | " + "E2s6f0:eighth " * 8) == 1.0  # the first finger must stay


def test_a_tie_over_the_turn_is_no_new_stroke() -> None:
    tied = "F4s1f1:half. " + "F4s1f1:quarter"
    assert cost(tied, "F4s1f1:half G4s1f3:half", held=True) < cost(tied, "F4s1f1:half G4s1f3:half")


def test_ringing_strings_keep_the_fretting_hand() -> None:
    rings = build.lesson(["F4s1f1:half " + "E4s1f0:eighth " * 4, BUSY])
    one, two = walk.measures(rings.arrangement)
    first = one.voices[0][0]
    ringing = structs.replace(first, notes=(structs.replace(first.notes[0], let_ring=True),))
    one = structs.replace(one, voices=((ringing, *one.voices[0][1:]), *one.voices[1:]))
    free = [free_hands(m, frozenset()) for m in (one, two)]
    ticks = rings.arrangement.tempo.ticks_per_second
    assert turn_cost(*free, ticks, ends_section=False, repeated=False) == 1.0


def test_a_section_ends() -> None:
    assert cost(BUSY, ends_section=True) < cost(BUSY)


def test_inside_a_repeat_the_page_is_turned_back_again() -> None:
    free = "F4s1f1:half r:half"
    assert cost(free) < cost(free, repeated=True) < cost(BUSY, repeated=True) <= 1.0


def piece(free: int | None) -> Lesson:
    """A long busy piece with one measure that ends in a rest."""
    row = [BUSY] * 72
    if free is not None:
        row[free] = "F4s1f1:eighth " * 4 + "r:half"
    return build.lesson(row)


def test_the_page_ends_where_a_hand_is_free() -> None:
    """The last line but one of a page, where only there a hand is free, ends the page."""
    plain = engrave(piece(None), PageStyle(), metrics())
    last = [row for row, system in zip(plain.breaks, plain.systems, strict=True)
            if system.page == 0][-2]  # fmt: skip
    place = plain.made.score.order.place[last[-1]]
    turned = engrave(piece(place), PageStyle(), metrics())
    ends = [row for row, system in zip(turned.breaks, turned.systems, strict=True)
            if system.page == 0][-1]  # fmt: skip
    assert turned.made.score.order.place[ends[-1]] == place
    assert len(turned.sheets) == len(plain.sheets)
