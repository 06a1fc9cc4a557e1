"""Suggested barres as marks: written, renewed, and never in the way of the teacher's own."""

from __future__ import annotations

from msgspec import structs

from core.edit import ChangeSpan, PinMeasure, apply
from core.hand.barres import Hold, LaidBarre, laid
from core.hand.fingering import Suggested, Terms, solve, suggested
from core.hand.levels import LEVELS
from core.hand.passage import Spot
from core.hand.writing import with_barres, with_suggestions
from core.insight.left_hand import check
from core.model import Barre, Lesson, Span, walk
from tests import build

F = "F4+C4+A3+F3+C3+F2:half E4+C4+G3+E3+C3:half"


def fingered(lesson: Lesson, level: int = 3, window: frozenset[int] | None = None) -> Lesson:
    solved = solve(lesson.arrangement, Terms(LEVELS[level], window=window))
    assert solved is not None
    return with_suggestions(lesson, suggested(solved))


def test_a_barre_is_written_and_the_red_pen_is_content() -> None:
    lesson = fingered(build.lesson([F]))
    (span,) = lesson.arrangement.spans
    event = lesson.arrangement.sections[0].measures[0].voices[0][0].id
    assert (span.kind, span.start, span.end, span.suggested) == ("barre", event, event, True)
    assert span.barre == Barre(1, 6)
    assert span.id < lesson.next_id
    assert [r for r in check(lesson.arrangement, LEVELS[3]) if r.grade == "E"] == []


def test_the_next_suggestion_renews_it() -> None:
    lesson = fingered(build.lesson([F]))
    again = fingered(lesson)
    assert again is lesson
    measure = lesson.arrangement.sections[0].measures[0]
    gone = structs.replace(measure, voices=((measure.voices[0][1],),))
    section = structs.replace(lesson.arrangement.sections[0], measures=(gone,))
    changed = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
    )
    assert fingered(changed).arrangement.spans == ()
    assert fingered(lesson, level=1).arrangement.spans == ()


def test_the_teachers_own_is_left_alone_and_not_written_twice() -> None:
    lesson = build.lesson([F])
    event = lesson.arrangement.sections[0].measures[0].voices[0][0].id
    own = Span(lesson.next_id, "barre", event, event, barre=Barre(1))
    arrangement = structs.replace(lesson.arrangement, spans=(own,))
    lesson = structs.replace(lesson, arrangement=arrangement, next_id=own.id + 1)
    assert fingered(lesson).arrangement.spans == (own,)
    assert fingered(lesson, level=1).arrangement.spans == (own,)


def test_a_window_renews_its_own_measures_only() -> None:
    rest = "E4:whole"
    lesson = fingered(build.lesson([F, rest, F]))
    first, last = lesson.arrangement.spans
    measures = [m.id for m in walk.measures(lesson.arrangement)]
    found = Suggested({}, {}, (), (), (), frozenset(measures[2:]))
    assert with_barres(lesson, found).arrangement.spans == (first,)
    assert fingered(lesson, window=frozenset(measures[2:])).arrangement.spans == (first, last)
    # a level without barres keeps the one outside the window
    inside = fingered(lesson, 1, frozenset(measures[1:2]))
    assert inside.arrangement.spans == (first, last)


def test_what_the_teacher_touches_or_pins_is_hers() -> None:
    lesson = fingered(build.lesson([F]))
    (span,) = lesson.arrangement.spans
    changed = apply(ChangeSpan(structs.replace(span, optional=True)), lesson).lesson
    assert [s.suggested for s in changed.arrangement.spans] == [False]
    measure = lesson.arrangement.sections[0].measures[0].id
    pinned = apply(PinMeasure(measure), lesson).lesson
    assert pinned.arrangement.spans == (structs.replace(span, suggested=False),)
    assert fingered(pinned).arrangement.spans == pinned.arrangement.spans


def hold(barre: tuple[int, int, int] | None, *spots: Spot, event: int = 0) -> Hold:
    return Hold(barre, spots, event, True)


def test_a_barre_that_grows_is_one_mark_unless_something_sounds_under_it() -> None:
    two, three = (1, 1, 2), (1, 1, 3)
    spots = Spot(1, 1, 1), Spot(2, 1, 1)
    row = [hold(two, *spots, event=1), hold(three, *spots, Spot(3, 1, 1), event=2)]
    assert list(laid(row)) == [LaidBarre(1, 2, 1, 1, 3)]
    row[0] = hold(two, *spots, Spot(3, 0, 0), event=1)
    assert list(laid(row)) == [LaidBarre(1, 1, 1, 1, 2), LaidBarre(2, 2, 1, 1, 3)]
    apart = [hold(two, event=1), hold(None, event=2), hold(two, event=3)]
    assert list(laid(apart)) == [LaidBarre(1, 1, 1, 1, 2), LaidBarre(3, 3, 1, 1, 2)]
    assert list(laid([hold((2, 3, 5), event=7), hold(two, event=8)])) == [
        LaidBarre(7, 7, 2, 3, 5),
        LaidBarre(8, 8, 1, 1, 2),
    ]
    assert LaidBarre(7, 7, 2, 3, 5).mark() == Barre(2, 3, lowest=5)
