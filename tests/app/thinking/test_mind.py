"""What the worker answers, without a process."""

from __future__ import annotations

import pytest
from msgspec import structs

from app.thinking.mind import LITTLE, Mind, excerpt, freed
from app.thinking.questions import Fingers, OtherWays, Prices, WhyNot
from core.edit import InsertMeasures, SetBrief, SetFinger, SetTitle, Suggest, apply
from core.edit.change import difference
from core.hand.fingering import Terms, solve, suggested
from core.hand.levels import LEVELS
from core.model import BadInput, Brief, Finger, Instrument, Origin, walk
from core.store.records import record
from tests import build

TUNE = (
    [
        "C4:quarter E4:quarter G4:quarter E4:quarter | C3:half G2:half",
        "A3:quarter F4:eighth E4:eighth C4:half | F3:half A2:half",
        "B3:quarter D4:quarter G4:half | G2:whole",
        "D4:quarter F4:quarter A3:quarter D4:quarter | D3:whole",
    ],
    [
        "G4:eighth F4:eighth E4:eighth D4:eighth B3:half | G2:half B2:half",
        "C4:half~ C4:half | C3:whole",
        "E4:half C4:half | A2:whole",
    ],
)


def mind(lesson) -> Mind:
    made = Mind()
    made.learn(lesson)
    return made


def quiet(_words: str) -> None:
    pass


def measures(lesson):
    return list(walk.measures(lesson.arrangement))


def first_note(measure):
    return next(note for _, note in walk.notes(measure))


def test_the_whole_piece_is_what_the_search_says():
    lesson = build.lesson(*TUNE)
    found = mind(lesson).answer(Fingers(), quiet)
    solved = solve(lesson.arrangement, Terms(lesson.brief.level))
    assert solved is not None
    expected = suggested(solved)
    assert (found.places, found.fingers) == (expected.places, expected.fingers)
    assert found.clashes == ()


def test_a_window_answers_only_for_itself_and_as_in_the_whole_piece():
    """Looking at a few measures beyond the window is enough: the search sees one."""
    lesson = build.lesson(*TUNE)
    lesson = lesson_with(lesson, mind(lesson).answer(Fingers(), quiet))
    window = frozenset(m.id for m in measures(lesson)[2:4])
    found = mind(lesson).answer(Fingers(window), quiet)
    solved = solve(lesson.arrangement, Terms(lesson.brief.level, window=window))
    assert solved is not None
    assert found.fingers == suggested(solved).fingers
    inside = {n.id for m in measures(lesson) if m.id in window for _, n in walk.notes(m)}
    assert set(found.fingers) == inside


def lesson_with(lesson, found):
    return Suggest(found.places, found.fingers, found.solver).amend(lesson)


def test_it_learns_what_changed():
    lesson = build.lesson(*TUNE)
    thinking = mind(lesson)
    changed = lesson
    for command in (
        SetFinger(measures(lesson)[0].id, first_note(measures(lesson)[0]).id, Finger.LITTLE),
        InsertMeasures(measures(lesson)[1].id),
        SetTitle("Another"),
    ):
        changed = apply(command, changed).lesson
    thinking.learn(record(difference(lesson, changed, ""), changed))
    asked = Fingers(frozenset(m.id for m in measures(changed)[:2]))
    assert thinking.answer(asked, quiet) == mind(changed).answer(asked, quiet)
    fingers = thinking.answer(asked, quiet).fingers
    assert first_note(measures(changed)[0]).id not in fingers, "what is pinned is not suggested"


def test_prices_begin_with_the_easiest_and_know_what_is_there_now():
    lesson = build.lesson(*TUNE)
    thinking = mind(lesson)
    lesson = lesson_with(lesson, thinking.answer(Fingers(), quiet))
    measure = measures(lesson)[1]
    note = first_note(measure)
    rows = mind(lesson).answer(Prices(measure.id, note.id), quiet).rows
    assert rows[0].more == 0
    assert [row.more for row in rows] == sorted(row.more for row in rows)
    now = next(row for row in rows if row.now)
    assert (now.spot.string, now.spot.fret) == (note.place.value.string, note.place.value.fret)
    assert str(now.spot.finger) == note.finger.value.value


def test_a_pinned_note_is_priced_as_if_it_were_free():
    lesson = build.lesson(*TUNE)
    measure = measures(lesson)[1]
    note = first_note(measure)
    free = mind(lesson).answer(Prices(measure.id, note.id), quiet).rows
    pinned = apply(SetFinger(measure.id, note.id, Finger.LITTLE), lesson).lesson
    rows = mind(pinned).answer(Prices(measure.id, note.id), quiet).rows
    assert [(r.spot, r.more) for r in rows] == [(r.spot, r.more) for r in free]


def test_freeing_a_note_frees_what_is_tied_to_it():
    lesson = build.lesson(["C4s2f1!1:half~ C4s2f1!1:half | C3:whole"])
    first = first_note(measures(lesson)[0])
    opened = freed(lesson.arrangement, first.id)
    chain = [n for m in walk.measures(opened) for _, n in walk.notes(m) if n.pitch.midi == 60]
    assert [n.finger.origin for n in chain] == [Origin.SUGGESTED, Origin.SUGGESTED]


def test_why_not_names_the_difference():
    lesson = build.lesson(*TUNE)
    measure = measures(lesson)[1]
    note = first_note(measure)
    thinking = mind(lesson)
    rows = thinking.answer(Prices(measure.id, note.id), quiet).rows
    best = thinking.answer(WhyNot(measure.id, note.id, rows[0].spot.finger), quiet)
    assert "is as easy as any here" in best.words
    dear = next(r for r in rows if r.more > 0.5 and not r.cut)
    told = thinking.answer(
        WhyNot(measure.id, note.id, dear.spot.finger, dear.spot.string, dear.spot.fret), quiet
    )
    assert f"It costs {dear.more:.1f} more" in told.words


def test_why_not_says_where_it_cannot_be():
    lesson = build.lesson(["F4s1f1!1+C4s2f1:whole"])
    measure = measures(lesson)[0]
    note = next(n for _, n in walk.notes(measure) if n.pitch.midi == 60)
    told = mind(lesson).answer(WhyNot(measure.id, note.id, 1), quiet).words
    # Level 1 has no barre: one finger cannot press two strings.
    assert told == "Not finger 1: F4 with finger 1 and C4 with finger 1 cannot be had together."


def test_other_ways_differ_and_have_words():
    lesson = build.lesson(*TUNE)
    here = frozenset({measures(lesson)[1].id})
    rows = mind(lesson).answer(OtherWays(here), quiet).rows
    assert rows[0].name == "the easiest"
    assert len(rows) > 1
    fingerings = [(tuple(r.fingering.places.items()), tuple(r.fingering.fingers.items()))
                  for r in rows]  # fmt: skip
    assert len(set(fingerings)) == len(rows)
    assert all(row.words for row in rows)


def test_a_way_tells_which_notes_it_cuts():
    lesson = build.lesson(["A4:whole | r:half F2:half"])
    (way, *_) = mind(lesson).answer(OtherWays(frozenset({measures(lesson)[0].id})), quiet).rows
    assert way.words.endswith("A4 cut after 2 beats")


def test_what_cannot_be_played_is_told_with_the_cheapest_way_out():
    lesson = build.lesson(["A4:whole | r:half F2:half"])
    found = mind(lesson).answer(Fingers(), quiet)
    (clash,) = found.clashes
    assert clash.words == "A4 held and F2 cannot be had together."
    assert clash.way_out == "Cheapest: let A4 go after 2 beats of its 4 beats."
    notes = {str(n.pitch): n.id for _, n in walk.notes(measures(lesson)[0])}
    assert set(clash.notes) == set(notes.values())


def test_under_a_capo_notes_are_called_as_the_staff_shows_them():
    lesson = build.lesson(["B4:whole | r:half G2:half"], instrument=Instrument(capo=2))
    (clash,) = mind(lesson).answer(Fingers(), quiet).clashes
    assert clash.words == "A4 held and F2 cannot be had together."
    sounding = structs.replace(lesson, settings=structs.replace(lesson.settings, sounding=True))
    (clash,) = mind(sounding).answer(Fingers(), quiet).clashes
    assert clash.words == "B4 held and G2 cannot be had together."


def test_a_note_beyond_the_level_is_told_as_that():
    lesson = build.lesson(["C5:whole"])
    (clash,) = mind(lesson).answer(Fingers(), quiet).clashes
    assert clash.words == "C5 has no place up to fret 5."
    higher = apply(SetBrief(Brief(level=LEVELS[3])), lesson).lesson
    assert mind(higher).answer(Fingers(), quiet).clashes == ()


def test_an_excerpt_keeps_order_and_neighbours():
    lesson = build.lesson(*TUNE)
    order = [m.id for m in measures(lesson)]
    part = excerpt(lesson.arrangement, {order[3]}, 2)
    assert [m.id for m in walk.measures(part)] == order[1:6]
    assert [s.letter for s in part.sections] == ["A", "B"]


def test_a_question_about_a_measure_that_is_gone_is_refused():
    with pytest.raises(BadInput, match="no longer there"):
        mind(build.lesson(*TUNE)).answer(Prices(10_000, 1), quiet)


def test_what_stands_beside_an_edit_stays_where_that_costs_little():
    lesson = build.lesson(*TUNE)
    lesson = lesson_with(lesson, mind(lesson).answer(Fingers(), quiet))
    edited, beside = (measures(lesson)[n].id for n in (1, 0))
    ways = mind(lesson).answer(OtherWays(frozenset({beside})), quiet).rows
    near = next(way for way in ways if 0 < way.more < LITTLE)
    far = next(way for way in ways if way.more > 2 * LITTLE)
    window = frozenset({edited, beside})
    for way, stays in ((near, True), (far, False)):
        chosen = lesson_with(lesson, way.fingering)
        asked = Fingers(window, calm=frozenset({beside}))
        after = lesson_with(chosen, mind(chosen).answer(asked, quiet))
        same = measures(after)[0] is measures(chosen)[0]
        assert same is stays, way.name


def test_barres_are_suggested_and_written_as_marks():
    """F major over six strings has one fingering only: a barre (handbook shape, and the hand)."""
    lesson = build.lesson(["F2+C3+F3+A3+C4+F4:whole"])
    lesson = apply(SetBrief(Brief(level=LEVELS[3])), lesson).lesson
    found = mind(lesson).answer(Fingers(), quiet)
    (barre,) = found.barres
    assert (barre.fret, barre.thin, barre.thick) == (1, 1, 6)
    suggestion = Suggest(found.places, found.fingers, found.solver, tuple(measures(lesson)),
                         barres=found.barres)  # fmt: skip
    written = suggestion.amend(lesson)
    (span,) = written.arrangement.spans
    assert span.suggested
    assert suggestion.amend(lesson).arrangement.spans == written.arrangement.spans
    gone = Suggest({}, {}, found.solver, tuple(measures(written)), barres=()).amend(written)
    assert gone.arrangement.spans == ()
    kept = Suggest({}, {}, found.solver, tuple(measures(written))).amend(written)
    assert kept is written
