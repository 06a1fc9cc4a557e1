"""The search on lessons: pins, levels, windows, what cannot be played, other ways, reasons."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.hand.fingering import (
    Terms,
    Workshop,
    by_feature,
    prices,
    solve,
    suggested,
)
from core.hand.levels import LEVELS, hand_from_text
from core.hand.other_ways import conflicts, facts, other_ways, twins_alike, why_not
from core.hand.passage import Spot
from core.hand.writing import with_suggestions
from core.insight.left_hand import check
from core.model import (
    BadInput,
    Barre,
    Finger,
    Label,
    Length,
    LevelContract,
    Origin,
    Pitch,
    Place,
    PositionMark,
    Span,
    walk,
)
from tests import build

NECK = LevelContract(level=3, highest_fret=12, highest_position=9, most_notes=6, barre=True)


def solved(*measures: str, terms: Terms | None = None):
    found = solve(build.lesson(measures).arrangement, terms)
    assert found is not None
    return found


def fingers(*measures: str, terms: Terms | None = None) -> list[str]:
    """String, fret and finger of every stroke, as ``s2f1!1``; ``-`` where there is none."""
    return [
        "-" if s is None else f"s{s.string}f{s.fret}!{s.finger}"
        for s in solved(*measures, terms=terms).spots
    ]


def test_a_scale_in_first_position() -> None:
    assert fingers("E3:quarter D3:quarter C4:quarter E2:quarter") == [
        "s4f2!2", "s4f0!0", "s2f1!1", "s6f0!0",
    ]  # fmt: skip


def test_pins_are_kept() -> None:
    lesson = build.lesson(["C4s3f5:quarter D4!4:quarter"])
    found = suggested(solve(lesson.arrangement))
    first, second = (n for m in walk.measures(lesson.arrangement) for _, n in walk.notes(m))
    assert first.id not in found.places
    assert second.id not in found.fingers
    assert found.places[second.id].origin is Origin.SUGGESTED
    assert fingers("C4s3f5:quarter D4!4:quarter")[1].endswith("!4")


def test_a_position_mark_is_a_pin() -> None:
    lesson = build.lesson(["E4:quarter F4:quarter"])
    measure = lesson.arrangement.sections[0].measures[0]
    marked = structs.replace(measure, marks=(PositionMark(5, Length(0)),))
    section = structs.replace(lesson.arrangement.sections[0], measures=(marked,))
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    found = solve(arrangement, Terms(NECK))
    assert found.lattice.states(0).position[found.way[0]] == 5


def test_a_written_barre_is_a_pin_even_at_level_one() -> None:
    lesson = build.lesson(["F4+C4+A3:half"])
    event = lesson.arrangement.sections[0].measures[0].voices[0][0].id
    span = Span(lesson.next_id, "barre", event, event, barre=Barre(1, 2))
    found = solve(structs.replace(lesson.arrangement, spans=(span,)))
    assert found.spots[:2] == (Spot(1, 1, 1), Spot(2, 1, 1))


def test_the_level_is_a_filter() -> None:
    assert fingers("C5:quarter") == ["-"]
    three = Terms(structs.replace(LEVELS[1], fingers=3))
    assert not any(f.endswith("!4") for f in fingers("G4:quarter Ab4:quarter", terms=three))
    four = "F4+C4+A3+F3:half"
    two = structs.replace(NECK, barre=True, most_notes=3)
    assert fingers(four, terms=Terms(two)).count("-") == 1
    assert "-" not in fingers(four, terms=Terms(structs.replace(two, most_notes=4)))
    full_barre = "F4+C4+A3+F3+C3+F2:half"
    assert "-" in fingers(full_barre)
    assert "-" not in fingers(full_barre, terms=Terms(LEVELS[3]))


def test_string_one_goes_to_fret_seven_from_an_open_string_a_rest_or_a_guide_finger() -> None:
    """Rule L25 of the house's list of remarks, level 1."""
    for music in (
        "B4:quarter", "E4:quarter B4:quarter", "D4:quarter r:quarter B4:quarter",
        "G4:quarter B4:quarter", "E4:quarter Bb4:quarter B4:quarter A4:quarter",
    ):  # fmt: skip
        found = solved(music)
        spot = next(s for s, stroke in zip(found.spots, found.task.strokes, strict=True)
                    if stroke.midi == 71)  # fmt: skip
        assert spot is not None
        assert (spot.string, spot.fret) == (1, 7)
        fingered = with_suggestions(build.lesson([music]), suggested(found))
        assert [r for r in check(fingered.arrangement) if r.grade == "E"] == []
    row = fingers("G4:quarter B4:quarter")
    assert row[0][-1] == row[1][-1]
    assert fingers("D4:quarter B4:quarter")[1] == "-"


def test_a_finger_that_must_hold_cannot_play() -> None:
    """Common practice, no source."""
    found = solved("r:quarter C4:quarter D4:quarter E3:quarter | F3:whole")
    bass = next(s for s, t in zip(found.spots, found.task.passage.tones, strict=True) if t.last > 1)
    others = [s for s in found.spots if s is not bass and s.finger]
    assert all(s.finger != bass.finger or s.fret == bass.fret for s in others)


def test_a_repeated_shape_keeps_its_fingers() -> None:
    """Common practice, no source."""
    row = fingers("C4+E3:quarter C4+E3:quarter C4+E3:quarter C4+E3:quarter")
    assert row[:2] * 4 == row


def test_a_repeated_shape_changes_where_what_follows_needs_others() -> None:
    """Common practice, no source. 1 and 2 are pinned for the first; C over the second needs 1."""
    plain = fingers("A3!2+E3!1:half A3+E3:half")
    assert plain[2:] == ["s3f2!2", "s4f2!1"]
    row = fingers("A3!2+E3!1:half A3+E3:half | r:half. C4:quarter")
    assert row[:2] == plain[:2]
    assert row[2:] == ["s3f2!3", "s4f2!2", "s2f1!1"]


def test_the_same_notes_with_fewer_fingers_leave_one_free() -> None:
    """Common practice, no source. Two notes at one fret: where three more have to press while they
    ring, finger 1 takes both; without a barre it cannot be played."""
    music = "F4+C4:whole | r:quarter A3:half. | F3:whole | C3:whole"
    used = dict(part.split("!") for part in fingers(music, terms=Terms(NECK)))
    assert used["s1f1"] == used["s2f1"] == "1"
    assert {used["s3f2"], used["s4f3"], used["s5f3"]} == {"2", "3", "4"}
    found = suggested(solved(music, terms=Terms(structs.replace(NECK, barre=False))))
    assert found.unplaced or found.released


def test_what_clashes_is_named_and_the_cheapest_early_release_offered() -> None:
    music = "r:half F2:quarter r:quarter | A4:whole"
    found = solved(music)
    (conflict,) = conflicts(found)
    strokes = found.task.strokes
    assert [strokes[i].midi for i in conflict.holds] == [69]
    assert [strokes[i].midi for i in conflict.strokes] == [41]
    (release,) = suggested(found).released
    assert (release.quarters, release.written) == (2.0, 4.0)


def test_prices_and_reasons() -> None:
    found = solved("C4:quarter D4:quarter E3:quarter C3:quarter", terms=Terms(NECK))
    note = found.task.strokes[1].sounds[0].first.id
    rows = prices(found, note)
    assert rows[0].more == 0
    assert rows[0].spot == found.spots[1]
    for row in rows[1:4]:
        told = why_not(found, note, [row.spot])
        assert told.more == pytest.approx(row.more, abs=1e-6)
        assert told.playable
        assert sum(cost for _, cost in told.by_feature) == pytest.approx(told.more, abs=1e-6)
        assert "more" in told.words()
    assert sum(by_feature(found).values()) == pytest.approx(found.cost)


def test_other_ways_keep_what_they_promise() -> None:
    found = solved(
        "F4+C4+A3+F3:half G4+C4+E3:half", "A4:quarter B4:quarter C5:half", terms=Terms(NECK)
    )
    others = {way.name: way for way in other_ways(found)}
    assert others
    for way in others.values():
        assert way.more >= -1e-6
        assert way.facts.words()
    if "no fourth finger" in others:
        assert all(s.finger != 4 for s in others["no fourth finger"].solved.spots)
    if "without barre" in others:
        assert others["without barre"].facts.barres == 0
    if "fewest moves" in others:
        assert others["fewest moves"].facts.moves <= facts(found).moves


def test_equal_measures_are_fingered_alike() -> None:
    bar = "G4:quarter D4:quarter B3:quarter C4:quarter"
    lesson = build.lesson([bar, "A4:quarter C3:quarter F3:half", bar])
    workshop = Workshop()
    found = solve(lesson.arrangement, Terms(), workshop)
    alike = twins_alike(found, lesson.arrangement, workshop, most_more=100.0)
    assert alike.spots[:4] == alike.spots[-4:]
    assert alike.cost >= found.cost - 1e-9


def test_a_window_meets_its_neighbours() -> None:
    lesson = build.lesson(["C4:quarter D4:quarter E4:half", "F4:half C3:half", "G3:half D4:half"])
    whole = with_suggestions(lesson, suggested(solve(lesson.arrangement)))
    middle = lesson.arrangement.sections[0].measures[1]
    found = suggested(solve(whole.arrangement, Terms(window=frozenset({middle.id}))))
    assert set(found.places) == {n.id for _, n in walk.notes(middle)}
    again = with_suggestions(whole, found)
    assert again.arrangement == whole.arrangement


@pytest.mark.parametrize("keep", ["places", "fingers", "all"])
def test_what_is_kept_stays(keep: str) -> None:
    place, finger = Label(Place(3, 5), Origin.SUGGESTED), Label(Finger.LITTLE, Origin.SUGGESTED)
    lesson = build.lesson(["C4:quarter D4:quarter"])
    measure = lesson.arrangement.sections[0].measures[0]
    first = measure.voices[0][0]
    note = structs.replace(first.notes[0], place=place, finger=finger)
    voice = (structs.replace(first, notes=(note,)), *measure.voices[0][1:])
    changed = structs.replace(measure, voices=(voice,))
    section = structs.replace(lesson.arrangement.sections[0], measures=(changed,))
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    spot = solve(arrangement, Terms(keep=keep)).spots[0]
    if keep in ("places", "all"):
        assert (spot.string, spot.fret) == (3, 5)
    if keep in ("fingers", "all"):
        assert spot.finger == 4


def test_a_hand_is_six_spans() -> None:
    assert hand_from_text("60,85,110,46,73,48").spans_mm["14"] == 110
    for text in ("60", "a,b,c,d,e,f", "60,85,110,46,73,4800", ""):
        with pytest.raises(BadInput, match="six spans"):
            hand_from_text(text)


notes = st.lists(
    st.tuples(
        st.lists(st.integers(40, 72), min_size=1, max_size=3, unique=True),
        st.sampled_from(["eighth", "quarter", "half"]),
    ),
    min_size=1, max_size=6,
)  # fmt: skip


def text(row) -> str:
    return " ".join(
        f"{'+'.join(str(Pitch.from_midi(midi)) for midi in midis)}:{value}" for midis, value in row
    )


def no_rule_broken(melody, bass, contract: LevelContract) -> None:
    lesson = build.lesson([f"{text(melody)} | {text(bass)}"])
    found = suggested(solve(lesson.arrangement, Terms(contract)))
    fingered = with_suggestions(lesson, found)
    named = {r.note for r in found.released} | set(found.unplaced)
    errors = [r for r in check(fingered.arrangement, contract) if r.grade == "E"]
    assert all(r.rule == "L20" or named.intersection(r.notes) for r in errors), errors


contracts = st.sampled_from([LEVELS[1], LEVELS[2], LEVELS[3], structs.replace(LEVELS[2], level=1)])


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(notes, notes, contracts)
def test_no_physical_rule_is_ever_broken(melody, bass, contract) -> None:
    """Whatever the music: what is suggested and not let go has no error of the red pen, but that a
    barre is wide for the level or long (L20: how tiring it is, not whether it can be held)."""
    no_rule_broken(melody, bass, contract)


@pytest.mark.long
@settings(max_examples=1500, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(notes, notes, contracts)
def test_no_physical_rule_is_broken_in_much_music(melody, bass, contract) -> None:
    no_rule_broken(melody, bass, contract)
