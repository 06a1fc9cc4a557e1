"""Other versions of a measure, small above it."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from msgspec import structs

from core.display.items import Curve, Glyph, Text
from core.model import Barre, Lesson, Measure, Span, walk
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.measure_box import SMALL
from core.page.staff import diatonic_at
from core.page.style import PageStyle
from tests.core.page.cases import CASES, events_of
from tests.core.page.kit import NAMES, metrics
from tests.strategies import lessons


def heads(layout: Layout) -> dict[int, Glyph]:
    return {
        item.source: item
        for system in layout.systems
        for item in system.body.items
        if isinstance(item, Glyph) and NAMES[item.code].startswith("notehead") and item.source
    }


def middle(head: Glyph) -> float:
    return head.x + metrics().advances[NAMES[head.code]] * head.size / 2


def versions(lesson: Lesson) -> list[tuple[Measure, Measure]]:
    """Every measure with each of its versions, as a measure."""
    return [
        (measure, structs.replace(measure, voices=other.voices, others=()))
        for measure in walk.measures(lesson.arrangement)
        for other in measure.others
    ]


def test_versions_stand_small_over_their_measures_with_a_label() -> None:
    lesson = CASES["other_versions"]()
    layout = engrave(lesson, PageStyle(), metrics())
    found = heads(layout)
    body = layout.systems[0].body
    edges = {m.measure: (m.left, m.right) for m in body.measures}
    for measure, version in versions(lesson):
        main = {at.onset: found[n.id] for at, n in walk.notes(measure)}
        tops = min(found[n.id].y for _, n in walk.notes(measure))
        for at, note in walk.notes(version):
            head = found[note.id]
            assert head.size == pytest.approx(SMALL)
            assert edges[measure.id][0] < head.x < edges[measure.id][1]
            assert head.y < tops - 4
            if at.onset in main:
                assert middle(head) == pytest.approx(middle(main[at.onset]), abs=0.01)
    words = {i.text for i in body.items if isinstance(i, Text)}
    assert {"easier", "harder", "2nd time"} <= words


def test_heads_of_a_version_invert_to_their_pitches_and_hit_back() -> None:
    lesson = CASES["other_versions"]()
    layout = engrave(lesson, PageStyle(), metrics())
    found = heads(layout)
    system = layout.systems[0]
    _, version = versions(lesson)[0]
    notes = [n for _, n in walk.notes(version)]
    # The top line of the small staff: the first note, a written C5, stands in the third space.
    top = found[notes[0].id].y - SMALL * 1.5
    for note in notes:
        assert diatonic_at((found[note.id].y - top) / SMALL) == note.pitch.diatonic
        head = found[note.id]
        hit = layout.hit(system.page, system.x + head.x + 0.3, system.y + head.y)
        assert hit is not None
        assert hit.source == note.id
        assert hit.measure == versions(lesson)[0][0].id


@settings(
    max_examples=25, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.too_slow], phases=[Phase.explicit, Phase.generate],
)  # fmt: skip
@given(lessons())
def test_every_note_of_a_version_is_drawn_in_order(lesson: Lesson) -> None:
    layout = engrave(lesson, PageStyle(width_mm=900), metrics())
    found = heads(layout)
    for _, version in versions(lesson):
        for at in walk.events(version):
            shown = [n.id for n in at.event.notes if not at.event.hidden]
            assert all(number in found for number in shown)
        rows = [at for at in walk.events(version)
                if at.event.notes and at.event.grace is None and not at.event.hidden]  # fmt: skip
        for a, b in itertools.pairwise(rows):
            if a.voice == b.voice and a.onset < b.onset:
                assert found[a.event.notes[0].id].x < found[b.event.notes[0].id].x


def test_a_slur_of_a_version_stands_in_it_and_one_that_leaves_it_nowhere() -> None:
    lesson = CASES["other_versions"]()
    _, version = versions(lesson)[1]
    inside = [event.id for event in version.voices[0]]
    first = events_of(lesson)[0].id
    spans = (
        Span(900, "slur", inside[0], inside[3]),
        Span(901, "slur", first, inside[1]),
        Span(902, "barre", inside[0], inside[4], barre=Barre(3, 3)),
    )
    arrangement = structs.replace(lesson.arrangement, spans=spans)
    layout = engrave(structs.replace(lesson, arrangement=arrangement), PageStyle(), metrics())
    found = heads(layout)
    drawn = {i.source: i for i in layout.systems[0].body.items if i.source in (900, 901, 902)}
    assert set(drawn) == {900, 902}
    slur = drawn[900]
    assert isinstance(slur, Curve)
    ends = [found[e.notes[0].id].x for e in version.voices[0][:4]]
    assert ends[0] < slur.start[0] < slur.end[0] < ends[-1] + 1
    assert slur.start[1] < found[version.voices[0][0].notes[0].id].y + 1
