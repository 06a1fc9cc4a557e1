"""The validator names what is wrong, and where."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from msgspec import structs

from core.model import (
    Barre,
    Ending,
    Fermata,
    Key,
    Length,
    Lesson,
    Measure,
    Metre,
    OtherVersion,
    Section,
    Source,
    Span,
    TempoMark,
    Value,
    Waiver,
)
from core.model.validate import problems
from tests import build


def sound() -> Lesson:
    return build.lesson(
        ["E4s1f0:quarter G4s1f3:quarter C4:half | A2s5f0:whole", "r:whole"], ["C3s5f3:whole"]
    )


def with_measure(lesson: Lesson, **changes: object) -> Lesson:
    section = lesson.arrangement.sections[0]
    row = (structs.replace(section.measures[0], **changes), *section.measures[1:])
    return with_section(lesson, measures=row)


def with_section(lesson: Lesson, **changes: object) -> Lesson:
    first, *others = lesson.arrangement.sections
    sections = (structs.replace(first, **changes), *others)
    return with_arrangement(lesson, sections=sections)


def with_arrangement(lesson: Lesson, **changes: object) -> Lesson:
    return structs.replace(lesson, arrangement=structs.replace(lesson.arrangement, **changes))


def with_note(lesson: Lesson, **changes: object) -> Lesson:
    measure = lesson.arrangement.sections[0].measures[0]
    event = measure.voices[0][0]
    event = structs.replace(event, notes=(structs.replace(event.notes[0], **changes),))
    rows = ((event, *measure.voices[0][1:]), measure.voices[1])
    return with_measure(lesson, voices=rows)


def with_span(lesson: Lesson, kind: str, start: int, end: int, **more: object) -> Lesson:
    span = Span(lesson.next_id, kind, start, end, **more)
    lesson = with_arrangement(lesson, spans=(span,))
    return structs.replace(lesson, next_id=lesson.next_id + 1)


def test_a_sound_lesson() -> None:
    assert problems(sound()) == []


A = sound().arrangement.sections[0].measures
EVENT, NOTE = A[0].voices[0][0].id, A[0].voices[0][0].notes[0].id
LATER = A[1].voices[0][0].id

WRONG: list[tuple[str, Callable[[Lesson], Lesson], str]] = [
    ("wrong fret", lambda x: with_note(x, pitch=build.note("F4", 1).pitch),
     "In measure 1 string 1, fret 0 does not sound F4."),
    ("no such string", lambda x: with_note(x, place=build.note("E2s7f0", 1).place),
     "In measure 1 a note is on string 7, which is not there."),
    ("wide bend", lambda x: with_note(x, bend=float("inf")), "wider than an octave"),
    ("id twice", lambda x: with_note(x, id=EVENT), "is used 2 times"),
    ("id too high", lambda x: structs.replace(x, next_id=5), "is outside 1 to 4"),
    ("no section", lambda x: with_arrangement(x, sections=()), "has no section"),
    ("no measure", lambda x: with_section(x, measures=()), "Section A has no measure."),
    ("never played", lambda x: with_section(x, times=0), "is played 0 times"),
    ("played too often", lambda x: with_section(x, times=100), "is played 100 times"),
    ("ending elsewhere", lambda x: with_section(x, endings=(Ending((1,), 999, 999),)),
     "measures are elsewhere"),
    ("ending backwards", lambda x: with_section(x, endings=(Ending((1,), A[1].id, A[0].id),)),
     "ends before it begins"),
    ("ending never played", lambda x: with_section(x, endings=(Ending((2,), A[0].id, A[0].id),)),
     "for a time it is never played"),
    ("five voices", lambda x: with_measure(x, voices=((),) * 5), "there are 5 voices"),
    ("no voice", lambda x: with_measure(x, voices=()), "there are 0 voices"),
    ("no length", lambda x: with_measure(x, own_length=Length(0)), "Measure 1 has no length."),
    ("too long", lambda x: with_measure(x, own_length=Length.parse("65")), "longer than 64"),
    ("late mark", lambda x: with_measure(x, marks=(TempoMark(Length.parse("2"), "rit."),)),
     "stands after its end"),
    ("odd tempo", lambda x: with_measure(
        x, marks=(TempoMark(beat=Value.parse("half"), per_minute=float("nan")),)),
     "outside 5 to 600"),
    ("like one that is gone", lambda x: with_measure(x, same_as=777), "is like one that is gone"),
    ("waiver for nothing", lambda x: structs.replace(x, waivers=(Waiver("L1", 777, "so"),)),
     "A waiver of L1"),
    ("span to nothing", lambda x: with_span(x, "slur", EVENT, 777), "that is not there"),
    ("span backwards", lambda x: with_span(x, "slur", LATER, EVENT), "ends before it begins"),
    ("hammer-on of events", lambda x: with_span(x, "hammer-on", EVENT, NOTE),
     "cannot reach from an event to a note"),
    ("talk of events", lambda x: with_span(x, "talk", EVENT, EVENT), "cannot reach"),
    ("barre without figures", lambda x: with_span(x, "barre", EVENT, EVENT), "a barre has none"),
    ("slur with barre", lambda x: with_span(x, "slur", EVENT, LATER, barre=Barre(1)),
     "figures of a barre"),
    ("no such part", lambda x: structs.replace(x, sources=(Source("duet", (), melody=0),)),
     "The source duet has no part 1."),
]  # fmt: skip


@pytest.mark.parametrize(("what", "spoil", "sentence"), WRONG, ids=[row[0] for row in WRONG])
def test_what_is_wrong(what: str, spoil: Callable[[Lesson], Lesson], sentence: str) -> None:
    found = [problem.sentence for problem in problems(spoil(sound()))]
    assert any(sentence in told for told in found), found


def test_other_versions_are_looked_at_too() -> None:
    wrong = build.event("F4s1f0:whole", iter(range(900, 910)))
    lesson = structs.replace(sound(), next_id=1000)
    lesson = with_measure(lesson, others=(OtherVersion("easier", ((wrong,),)),))
    assert [p.sentence for p in problems(lesson)] == [
        "In measure 1 string 1, fret 0 does not sound F4."
    ]


def test_a_fermata_holds_a_sensible_time() -> None:
    measure = sound().arrangement.sections[0].measures[0]
    event = structs.replace(measure.voices[0][0], marks=(Fermata(hold_percent=5),))
    voices = ((event, *measure.voices[0][1:]), measure.voices[1])
    assert "holds outside 100 to 1000" in problems(with_measure(sound(), voices=voices))[0].sentence


def test_a_road_map_without_end() -> None:
    rows = tuple(Measure(n, Metre.parse("4/4"), Key(0)) for n in range(1, 201))
    lesson = with_arrangement(
        sound(),
        sections=(
            Section(300, rows, times=99),
            Section(
                301,
                tuple(Measure(n, Metre.parse("4/4"), Key(0)) for n in range(400, 420)),
                times=99,
            ),
        ),
    )
    lesson = structs.replace(lesson, next_id=1000)
    assert [p.sentence for p in problems(lesson)] == [
        "The road map plays more than 20000 measures."
    ]
