"""How hard events are struck: written signs win over the weight of the beat."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.model import Articulation, Dynamic, Lesson, Metre, Span
from core.sound.dynamics import LEVELS, metre_weight, velocities
from core.sound.ring import loudness
from tests import build


def struck(lesson: Lesson) -> list[int]:
    table = velocities(lesson.arrangement)
    return [
        table[event.id]
        for section in lesson.arrangement.sections
        for measure in section.measures
        for event in measure.voices[0]
    ]


def with_marks(lesson: Lesson, **marks) -> Lesson:
    """Marks on events of the first voice, ``e0=(Dynamic("p"),)``; ids kept."""
    number = 0
    sections = []
    for section in lesson.arrangement.sections:
        measures = []
        for measure in section.measures:
            row = []
            for event in measure.voices[0]:
                row.append(structs.replace(event, marks=marks.get(f"e{number}", ())))
                number += 1
            measures.append(structs.replace(measure, voices=(tuple(row),)))
        sections.append(structs.replace(section, measures=tuple(measures)))
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=tuple(sections))
    )


FLAT = build.lesson(["E4:quarter E4:quarter E4:quarter E4:quarter"] * 2)


@pytest.mark.parametrize(
    ("metre", "unit", "order"),
    [("4/4", 4, [0, 2, 1, 2]), ("3/4", 4, [0, 1, 1]), ("2/4", 4, [0, 1]),
     ("6/8", 8, [0, 2, 2, 1, 2, 2])],
)  # fmt: skip
def test_weights_rank_the_beats_as_the_metrical_grid_does(metre, unit, order):
    """Dots of the grid (Lerdahl & Jackendoff 1983: strong beats two or three apart): 4/4 beats
    4 2 3 2 in dots, 3/4 3 2 2, 6/8 eighths 3 1 1 2 1 1."""
    found = Metre.parse(metre)
    step = found.ticks // found.beats
    weights = [metre_weight(found, n * step) for n in range(found.beats)]
    levels = sorted(set(weights), reverse=True)
    assert [levels.index(w) for w in weights] == order


def test_a_dynamic_holds_and_signs_add():
    usual = struck(FLAT)
    quiet = struck(with_marks(FLAT, e4=(Dynamic("p"),)))
    assert quiet[:4] == usual[:4]
    assert [u - q for u, q in zip(usual[4:], quiet[4:], strict=True)] == [
        LEVELS["mf"] - LEVELS["p"]
    ] * 4
    accented = struck(with_marks(FLAT, e1=(Articulation("accent"),)))
    assert accented[1] > usual[1]
    assert accented[2:] == usual[2:]
    sudden = struck(with_marks(FLAT, e1=(Dynamic("sf"),)))
    assert sudden[1] > usual[1]
    assert sudden[2:] == usual[2:]
    fp = struck(with_marks(FLAT, e1=(Dynamic("fp"),)))
    assert fp[1] > usual[1]
    assert usual[2] > fp[2]


def test_a_hairpin_rises_step_by_step_to_its_dynamic():
    lesson = with_marks(FLAT, e0=(Dynamic("p"),), e7=(Dynamic("f"),))
    events = [e.id for m in lesson.arrangement.sections[0].measures for e in m.voices[0]]
    spanned = structs.replace(
        lesson,
        arrangement=structs.replace(
            lesson.arrangement, spans=(Span(70, "crescendo", events[0], events[7]),)
        ),
    )
    plain, risen = struck(lesson), struck(spanned)
    gains = [r - p for r, p in zip(risen, plain, strict=True)]
    assert gains[0] == 0
    assert gains[:7] == sorted(gains[:7])
    assert gains[6] > 25
    assert gains[7] == 0


def test_loudness_is_the_square_of_the_velocity():
    """40 log10(v / 127) dB (concave curve of the DLS specification, from memory)."""
    assert loudness(127) == 1
    assert loudness(64) == pytest.approx(0.254, abs=0.001)
