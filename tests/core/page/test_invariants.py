"""What every layout must hold, over generated lessons. Numbers are those of engraving.md."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.display.items import Fill, Glyph, Line, Role, Text
from core.model import Lesson, Measure, walk
from core.page import breaking
from core.page.cluster import CENTRE
from core.page.engrave import Cache, engrave
from core.page.fingered import Kept
from core.page.layout import Layout, rect_of
from core.page.measure_box import MeasureBox
from core.page.staff import diatonic_at, position, tab_y
from core.page.style import PageStyle
from tests.core.page.kit import NAMES, metrics
from tests.strategies import lessons

FEW = settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],  # shrinking whole lessons takes minutes
)
STEM = metrics().defaults["stemThickness"]
STYLES = st.sampled_from(
    [PageStyle(), PageStyle(staff_mm=10), PageStyle(flow="line"), PageStyle(staves="staff")]
)


def laid_out(lesson: Lesson, style: PageStyle) -> tuple[Layout, dict[int, MeasureBox]]:
    cache = Cache()
    return engrave(lesson, style, metrics(), cache), cache.boxes


def written(lesson: Lesson) -> list[Measure]:
    return list(walk.measures(lesson.arrangement))


def heads(layout: Layout) -> dict[int, tuple[int, Glyph]]:
    """Note id -> system, notehead."""
    return {
        item.source: (number, item)
        for number, system in enumerate(layout.systems)
        for item in system.body.items
        if isinstance(item, Glyph) and item.source and NAMES[item.code].startswith("notehead")
    }


@FEW
@given(lessons(), STYLES)
def test_heads_stand_at_their_pitch_and_figures_sound_it(lesson: Lesson, style: PageStyle) -> None:
    """Invariant 8; and every note that is not hidden has a head (11). Under a capo the staff shows
    what is fingered: so many semitones lower than it sounds."""
    layout, _ = laid_out(lesson, style)
    drawn = heads(layout)
    instrument = lesson.arrangement.instrument
    shown = {n.id: n.pitch for m in written(Kept().lesson(lesson)) for _, n in walk.notes(m)}
    for measure in written(lesson):
        for located, note in walk.notes(measure):
            if located.event.hidden:
                continue
            assert shown[note.id].midi + instrument.capo == note.pitch.midi
            assert diatonic_at(drawn[note.id][1].y) == shown[note.id].diatonic
            if note.place is not None and note.harmonic is None:
                assert instrument.midi_at(note.place.value) == note.pitch.midi


@FEW
@given(lessons(), STYLES)
def test_leger_lines_follow_from_the_pitch(lesson: Lesson, style: PageStyle) -> None:
    """Invariant 7: lines at every even position from the staff to the head, and no others."""
    _, boxes = laid_out(lesson, style)
    for box in boxes.values():
        for column in box.columns:
            lines = {round(2 * (2 - i.y0)) for i in column.items
                     if isinstance(i, Line) and i.role is Role.STAFF and i.y0 == i.y1}  # fmt: skip
            wanted: set[int] = set()
            for cluster in box.clusters:
                if cluster.onset == column.onset:
                    for head in cluster.heads:
                        at = position(head.note.pitch)
                        wanted |= {p for p in range(6, at + 1) if p % 2 == 0}
                        wanted |= {p for p in range(at, -5) if p % 2 == 0}
            assert lines == wanted


@FEW
@given(lessons(), st.sampled_from([PageStyle(), PageStyle(staves="tab"), PageStyle(flow="line")]))
def test_tab_figures_stand_in_their_column_on_their_line(lesson: Lesson, style: PageStyle) -> None:
    """Invariant 2: within .05 of the column's head centre, one figure for an onset and string."""
    layout, boxes = laid_out(lesson, style)
    for system in layout.systems:
        figures = {i.source: i for i in system.body.items
                   if isinstance(i, Text) and i.face.value.startswith(("sans", "serif italic"))
                   and i.anchor == 0.5 and i.size > 1.4 and i.source}  # fmt: skip
        for placed in system.body.measures:
            box = boxes[placed.measure]
            columns = dict(placed.columns)
            seen: Counter[tuple[int, int]] = Counter()
            for cluster in box.clusters:
                if cluster.beside:
                    continue
                for head in cluster.heads:
                    figure = figures.get(head.note.id)
                    if figure is None or head.note.place is None or head.note.id in box.held:
                        continue
                    if not figure.text.strip("‹›").isdigit():
                        continue
                    string = head.note.place.value.string
                    seen[cluster.onset, string] += 1
                    assert abs(figure.x - columns[cluster.onset] - CENTRE) < 0.05
                    middle = figure.y - 0.65 * figure.size / 2
                    assert abs(middle - system.body.tab_top - tab_y(string)) < 0.02
            assert all(count == 1 for count in seen.values())


@FEW
@given(lessons(), STYLES)
def test_columns_grow_and_share_one_force(lesson: Lesson, style: PageStyle) -> None:
    """Invariants 3 and 4: x grows with the onset, rods hold, unblocked gaps share one force."""
    layout, boxes = laid_out(lesson, style)
    for system in layout.systems:
        for placed in system.body.measures:
            box = boxes[placed.measure]
            xs = [x for _, x in placed.columns]
            assert [onset for onset, _ in placed.columns] == sorted(box.column_of)
            if not system.body.force:
                continue  # one measure that no line can hold
            for (a, b), (ideal, rod) in zip(pairwise(xs), box.springs, strict=False):
                assert b - a >= rod - 1e-9
                assert b - a == pytest.approx(max(rod, system.body.force * ideal), abs=1e-6)


@FEW
@given(lessons())
def test_systems_end_at_the_margin_and_stay_on_the_page(lesson: Lesson) -> None:
    """Invariants 5 and 10: full lines end at the system's width; nothing leaves the paper."""
    style = PageStyle()
    layout, _ = laid_out(lesson, style)
    for number, system in enumerate(layout.systems):
        final = number + 1 == len(layout.systems)
        alone = len(system.body.measures) == 1
        last = system.body.measures[-1]
        if not final:
            assert last.right == pytest.approx(system.body.width, abs=1e-6)
            assert system.body.force > 0 or alone
        sheet = layout.sheets[system.page]
        for item in system.body.items:
            left, _, right, _ = rect_of(item, metrics())
            assert left + system.x >= -0.01
            assert right + system.x <= sheet.width + 0.01
    for a, b in combinations(layout.systems, 2):
        if a.page == b.page:
            upper, lower = sorted((a, b), key=lambda s: s.y)
            assert upper.y + upper.body.bottom <= lower.y + lower.body.top + 1e-9


@FEW
@given(lessons(), STYLES)
def test_stems_are_long_enough_and_end_on_their_beams(lesson: Lesson, style: PageStyle) -> None:
    """Invariant 6: at least 2.5 from the nearest head; a beamed stem ends on its beam."""
    layout, boxes = laid_out(lesson, style)
    for system in layout.systems:
        stems: dict[int, Line] = {}
        beams: list[Fill] = []
        for item in system.body.items:
            if isinstance(item, Line) and item.x0 == item.x1 and item.width == STEM:
                stems[item.source] = item
            elif isinstance(item, Fill) and item.role in (Role.INK, Role.HOLLOW):
                beams.append(item)
        for placed in system.body.measures:
            for cluster in boxes[placed.measure].clusters:
                if not cluster.stemmed or cluster.beside:
                    continue
                stem = stems[cluster.event.id]
                nearest = cluster.heads[-1 if cluster.up else 0].y
                assert abs(stem.y1 - nearest) >= 2.5 - 1e-9
                assert (stem.y1 < nearest) == cluster.up
                if cluster.group >= 0:
                    assert any(_touches(beam, stem) for beam in beams)


def _touches(beam: Fill, stem: Line) -> bool:
    (x0, y0), (x1, y1) = beam.points[:2]
    if not x0 - 1e-6 <= stem.x1 <= x1 + 1e-6:
        return False
    return abs(y0 + (y1 - y0) * (stem.x1 - x0) / (x1 - x0) - stem.y1) < 1e-3


@FEW
@given(lessons(), STYLES)
def test_every_placed_thing_is_found_again(lesson: Lesson, style: PageStyle) -> None:
    """Invariant 11: measures, moments and notes hit back."""
    layout, boxes = laid_out(lesson, style)
    drawn = heads(layout)
    for measure in written(lesson):
        for column in boxes[measure.id].columns:
            page, box = layout.caret_box(measure.id, column.onset, "staff")
            hit = layout.hit(page, box.left + 0.35 + CENTRE, (box.top + box.bottom) / 2)
            assert hit is not None
            assert (hit.measure, hit.onset, hit.on) == (measure.id, column.onset, "staff")
    for source in drawn:
        found = layout.where(source)
        assert found is not None


@FEW
@given(lessons(), st.data())
def test_incremental_is_cold(lesson: Lesson, data: st.DataObject) -> None:
    """Invariant 12: after an edit, a layout with the cache equals one without."""
    style = PageStyle()
    cache = Cache()
    engrave(lesson, style, metrics(), cache)
    changed = _edited(lesson, data)
    warm = engrave(changed, style, metrics(), cache)
    cold = engrave(changed, style, metrics())
    assert warm.sheets == cold.sheets
    again = engrave(changed, style, metrics(), cache, warm)
    assert again.sheets == cold.sheets
    assert all(a.block is b.block for a, b in zip(again.systems, warm.systems, strict=True))


def _edited(lesson: Lesson, data: st.DataObject) -> Lesson:
    """The lesson with one event gone."""
    arrangement = lesson.arrangement
    at = data.draw(st.integers(0, len(arrangement.sections) - 1))
    section = arrangement.sections[at]
    place = data.draw(st.integers(0, len(section.measures) - 1))
    measure = section.measures[place]
    row = measure.voices[0][:-1]
    measure = structs.replace(measure, voices=(row, *measure.voices[1:]))
    measures = (*section.measures[:place], measure, *section.measures[place + 1 :])
    sections = list(arrangement.sections)
    sections[at] = structs.replace(section, measures=measures)
    kept = structs.replace(arrangement, sections=tuple(sections), spans=())
    return structs.replace(lesson, arrangement=kept)


part = st.builds(
    breaking.Part,
    head=st.floats(4, 9),
    lead_first=st.floats(0.5, 2),
    lead=st.floats(0.5, 2),
    tail=st.floats(0.1, 1),
    tail_last=st.floats(0.1, 3),
    natural=st.floats(10, 40),
    least=st.floats(5, 10),
    must_end=st.booleans(),
    ends_section=st.booleans(),
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(part, min_size=1, max_size=9), st.floats(30, 110))
def test_lines_are_broken_at_the_least_cost(parts: list[breaking.Part], width: float) -> None:
    """Invariant 13, against every way to break (up to 9 measures)."""
    sums = breaking.Sums(parts)

    def price(breaks: list[int]) -> float:
        edges = [0, *breaks]
        for first, last in pairwise(edges):
            if any(p.must_end for p in parts[first : last - 1]):
                return float("inf")
        return sum(breaking.cost(sums, a, b, width) for a, b in pairwise(edges))

    count = len(parts)
    ways = [
        [*chosen, count] for size in range(count) for chosen in combinations(range(1, count), size)
    ]
    found = breaking.break_lines(parts, width)
    assert price(found) == pytest.approx(min(map(price, ways)), abs=1e-9)


@FEW
@given(lessons())
def test_the_same_lesson_gives_the_same_sheets(lesson: Lesson) -> None:
    """Invariant 12: deterministic, block keys included."""
    one = engrave(lesson, PageStyle(), metrics())
    two = engrave(lesson, PageStyle(), metrics())
    assert one.sheets == two.sheets
    keys = [system.block.key for system in one.systems]
    assert keys == [system.block.key for system in two.systems]
