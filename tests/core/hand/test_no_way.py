"""A mark that asks for more than the hand can do ends the search, in a sentence."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.hand.fingering import Terms, solve, solve_task
from core.hand.levels import LEVELS
from core.hand.other_ways import other_ways
from core.hand.search import NoWay
from core.model import PositionMark, walk
from tests import build


def marked(fret: int):
    lesson = build.lesson(["A4:half C5:half"])
    (measure,) = walk.measures(lesson.arrangement)
    measure = structs.replace(measure, marks=(PositionMark(fret),))
    (section,) = lesson.arrangement.sections
    return structs.replace(
        lesson.arrangement, sections=(structs.replace(section, measures=(measure,)),)
    )


def test_other_ways_leave_out_what_a_position_numeral_forbids():
    solved = solve(marked(5), Terms(LEVELS[3]))
    assert solved is not None
    assert "stay in first position" not in {way.name for way in other_ways(solved)}


def test_a_hand_without_that_position_is_told():
    solved = solve(marked(5), Terms(LEVELS[3]))
    assert solved is not None
    reach = structs.replace(solved.reach, highest_position=1)
    with pytest.raises(NoWay, match="position numeral"):
        solve_task(solved.task, solved.terms, reach)
