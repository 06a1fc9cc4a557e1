"""Each way of showing a page does what it says, and nothing else."""

from __future__ import annotations

from itertools import pairwise

import pytest
from msgspec import structs

from app.raster import Raster
from core.display.items import Face, Fill, Glyph, Item, Line, Role, Text
from core.model import ChordMark, Finger, Fingering, Lesson, Settings, Span, walk
from core.page import frames
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.strip import strip
from core.page.style import A4, LARGE_PRINT, LETTER, PageStyle, for_pages
from tests import build
from tests.core.page.cases import AM, CASES, changed, noted
from tests.core.page.kit import NAMES, glyphs, items, metrics
from tests.core.page.styles import left_handed
from tests.core.page.test_invariants import demo

SMALL_SIGNS = ("fingering", "guitarString")


def laid(lesson: Lesson, **style: object) -> Layout:
    return engrave(lesson, structs.replace(PageStyle(), **style), metrics())


def sizes(layout: Layout, prefix: str) -> set[float]:
    return {round(glyph.size, 3) for _, glyph in glyphs(layout, prefix)}


def lines(layout: Layout) -> list[Line]:
    return [item for _, item in items(layout) if isinstance(item, Line)]


# ------------------------------------------------- sizes that do not hang together (low vision)


def test_line_weight_thickens_lines_and_nothing_else() -> None:
    thin, thick = (laid(CASES["signs"](), line_weight=weight) for weight in (1.0, 2.0))
    for role in (Role.STAFF, Role.INK):
        one, two = ({i.width for i in lines(page) if i.role is role} for page in (thin, thick))
        assert {round(2 * width, 6) for width in one} == {round(width, 6) for width in two}
    assert glyphs(thin, "") == glyphs(thick, "")


def test_sign_size_enlarges_small_signs_and_nothing_else() -> None:
    one, two = (laid(CASES["signs"](), sign_size=size) for size in (1.0, 1.5))
    for prefix in SMALL_SIGNS:
        assert sorted(sizes(two, prefix)) == pytest.approx(
            sorted(1.5 * s for s in sizes(one, prefix))
        )
    for prefix in ("notehead", "rest", "flag", "dynamic", "timeSig"):
        assert sizes(one, prefix) == sizes(two, prefix)
    assert {line.width for line in lines(one)} == {line.width for line in lines(two)}


def test_staff_size_changes_millimetres_and_no_proportions() -> None:
    small, large = (laid(CASES["signs"](), staff_mm=mm) for mm in (6.0, 12.0))
    assert large.space_mm == 2 * small.space_mm
    for prefix in (*SMALL_SIGNS, "notehead", "dynamic"):
        assert sizes(small, prefix) == sizes(large, prefix)


def test_density_widens_the_notes() -> None:
    close, wide = (laid(CASES["seconds"](), flow="line", density=by) for by in (0.8, 1.6))
    assert wide.systems[0].body.width > 1.2 * close.systems[0].body.width


def test_large_print_is_larger_in_everything_and_lies_across() -> None:
    """UKAAF G009 (2013, excerpts read): other proportions, not a photocopy; a phrase a line. The
    sizes are our own choice: none are published."""
    assert LARGE_PRINT.width_mm > LARGE_PRINT.height_mm
    assert LARGE_PRINT.staff_mm >= 1.5 * A4.staff_mm
    assert LARGE_PRINT.sign_size > 1 < LARGE_PRINT.line_weight
    layout = engrave(demo(), LARGE_PRINT, metrics())
    assert all(sheet.width > sheet.height for sheet in layout.sheets)
    per_page = [sum(s.page == page for s in layout.systems) for page in range(len(layout.sheets))]
    assert min(per_page[1:]) >= 2  # no page but the one with the title is left half empty


# ------------------------------------------------- lines and pages


@pytest.mark.parametrize("style", [A4, LETTER, LARGE_PRINT])
def test_sheets_are_as_large_as_the_paper(style: PageStyle) -> None:
    for sheet in engrave(demo(), style, metrics()).sheets:
        assert sheet.width * style.space_mm == pytest.approx(style.width_mm)
        assert sheet.height * style.space_mm == pytest.approx(style.height_mm)


@pytest.mark.parametrize("phrases", [1, 2])
def test_lines_end_with_phrases(phrases: int) -> None:
    """As many phrases on a line as are asked for; a section ends its line too."""
    lesson = build.lesson(["E4s1f0:quarter " * 4] * 8, ["C4s2f1:half " * 2] * 6)
    order = list(walk.measures(lesson.arrangement))
    spans = tuple(
        Span(900 + n, "phrase", order[n].voices[0][0].id, order[n + 1].voices[0][-1].id)
        for n in range(0, 14, 2)
    )
    arrangement = structs.replace(lesson.arrangement, spans=spans)
    lesson = structs.replace(lesson, arrangement=arrangement, next_id=1000)
    layout = laid(lesson, phrases_per_line=phrases)
    assert [len(row) for row in layout.breaks] == {1: [2] * 7, 2: [4, 4, 4, 2]}[phrases]


def test_a_strip_is_one_line_of_a_few_measures_on_no_ground() -> None:
    row = demo().arrangement.sections[1].measures
    layout = strip(demo(), row[0].id, row[3].id, PageStyle(), metrics())
    assert [m for line in layout.breaks for m in line] == [m.id for m in row[:4]]
    (sheet,) = layout.sheets
    assert len({system.y for system in layout.systems}) == 1
    assert len(glyphs(layout, "gClef8vb")) == 1
    plain, clear = (Raster().png(sheet, 4, transparent=see) for see in (False, True))
    assert (plain[25], clear[25]) == (2, 6)  # PNG (ISO/IEC 15948): 2 is colour, 6 colour and alpha


# ------------------------------------------------- what is shown


def test_a_staff_alone_has_no_tab() -> None:
    layout = laid(demo(), staves="staff")
    assert not [i for _, i in items(layout) if isinstance(i, Text) and i.role is Role.FIGURE]
    assert not glyphs(layout, "6stringTabClef")
    long = {i.y0 for i in lines(layout) if i.role is Role.STAFF and i.x0 == 0 and i.x1 > 30}
    assert long == {0.0, 1.0, 2.0, 3.0, 4.0}


def test_a_tab_alone_has_true_rhythm() -> None:
    """As on a staff: hollow heads with stems are halves, alone wholes; flags, beams, rests."""
    text = (
        "E4s1f0:half. E4s1f0:quarter | A2s5f0:whole",
        "E4s1f0:eighth E4s1f0:quarter E4s1f0:16th E4s1f0:16th r:half | A2s5f0:half r:quarter "
        "A2s5f0:quarter",
    )
    layout = laid(build.lesson(text), staves="tab", flow="line")
    assert len(glyphs(layout, "noteheadHalf")) == 2
    assert len(glyphs(layout, "noteheadWhole")) == 1
    assert len(glyphs(layout, "augmentationDot")) == 1
    assert len(glyphs(layout, "flag8th")) == 1
    assert [NAMES[g.code] for _, g in glyphs(layout, "rest")] == ["restHalf", "restQuarter"]
    beams = [i for _, i in items(layout) if isinstance(i, Fill) and i.role is Role.INK]
    assert len(beams) == 2
    stems = [i for i in lines(layout) if i.x0 == i.x1 and i.role is Role.INK]
    assert len(stems) == 8
    assert not glyphs(layout, "gClef")


def test_a_rest_for_a_measure_stands_in_its_middle_on_a_tab_alone() -> None:
    layout = laid(build.lesson(["r:whole", "E4s1f0:whole"]), staves="tab", flow="line")
    ((_, rest),) = glyphs(layout, "restWhole")
    body = layout.systems[0].body
    middle = (body.measures[0].columns[0][1] + body.measures[0].right) / 2
    assert rest.x == pytest.approx(middle, abs=1.5)


def test_a_held_note_is_told_on_a_tab_alone() -> None:
    text = "E4s1f0:half~ E4s1f0:half"
    figures = {
        staves: [i.text for _, i in items(laid(build.lesson([text]), staves=staves))
                 if isinstance(i, Text) and i.role is Role.FIGURE]
        for staves in ("tab", "staff and tab")
    }  # fmt: skip
    assert figures == {"tab": ["0", "(0)"], "staff and tab": ["0"]}


@pytest.mark.parametrize(
    ("metre", "bar", "strengths"),
    [
        ("4/4", "E4s1f0:whole", [3, 2, 2, 2]),
        ("6/8", "E4s1f0:half.", [3, 1, 1, 2, 1, 1]),
        ("3/4", "E4s1f0:half.", [3, 2, 2]),
        ("2+3/8", "E4s1f0:quarter E4s1f0:quarter.", [3, 1, 2, 1, 1]),
    ],
)
def test_beat_dots(metre: str, bar: str, strengths: list[int]) -> None:
    """Three sizes between staff and tab: the first beat, other felt beats, the units between."""
    layout = laid(build.lesson([bar], metre=metre), beat_dots=True, flow="line")
    dots = sorted((g for _, g in glyphs(layout, "augmentationDot") if g.role is Role.PENCIL),
                  key=lambda glyph: glyph.x)  # fmt: skip
    rank = {size: n for n, size in enumerate((0.8, 1.4, 2.0), start=1)}
    assert [rank[dot.size] for dot in dots] == strengths
    tab_top = layout.systems[0].body.tab_top
    assert all(4 < dot.y < tab_top for dot in dots)
    assert all(b.x > a.x for a, b in pairwise(dots))
    assert not [g for _, g in glyphs(laid(build.lesson([bar], metre=metre)), "augmentationDot")
                if g.role is Role.PENCIL]  # fmt: skip


def dots_of(row: list[Item]) -> list[tuple[float, float]]:
    kinds = ("fretboard",)
    return sorted(
        (round(i.x, 3), round(i.y, 3)) for i in row
        if isinstance(i, Glyph) and NAMES[i.code].startswith(kinds)
    )  # fmt: skip


def test_left_handed_shapes_are_mirrored() -> None:
    right, left = (frames.draw(metrics(), AM, 0.0, 0.0, left_handed=hand) for hand in (False, True))
    grid = sorted({i.x0 for i in right if isinstance(i, Line) and i.x0 == i.x1})
    centre = (grid[0] + grid[-1]) / 2
    boxes = metrics().boxes

    def middles(row: list[Item]) -> list[tuple[float, float]]:
        return sorted(
            (round(i.x + (boxes[NAMES[i.code]][0] + boxes[NAMES[i.code]][2]) / 2 * i.size, 3),
             round(i.y, 3))
            for i in row if isinstance(i, Glyph)
        )  # fmt: skip

    mirrored = sorted((round(2 * centre - x, 3), y) for x, y in middles(right))
    assert middles(left) == mirrored != middles(right)


def test_a_left_handed_player_gets_left_handed_shapes_and_the_same_tab() -> None:
    lesson = build.lesson(["A3s3f2:whole | A2s5f0:whole"])
    section = lesson.arrangement.sections[0]
    marked = structs.replace(section.measures[0], marks=(ChordMark(AM),))
    sections = (structs.replace(section, measures=(marked,)),)
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    lesson = structs.replace(lesson, arrangement=arrangement)
    right, left = laid(lesson), laid(left_handed(lesson))
    shapes = [[i for _, i in items(page) if isinstance(i, Glyph)] for page in (right, left)]
    assert dots_of(shapes[0]) != dots_of(shapes[1])
    figures = [[i for _, i in items(page) if isinstance(i, Text) and i.role is Role.FIGURE]
               for page in (right, left)]  # fmt: skip
    assert figures[0] == figures[1]


def test_a_small_note_is_small_on_staff_and_tab() -> None:
    lesson = changed(build.lesson(["E4s1f0:half C4s2f1:half"]), {1: noted(small=True)})
    layout = laid(lesson)
    assert [g.size for _, g in glyphs(layout, "noteheadHalf")] == [1.0, 0.75]
    figures = [i.size for _, i in items(layout) if isinstance(i, Text) and i.face is Face.SANS]
    assert figures[1] == pytest.approx(0.75 * figures[0])


def test_a_tab_alone_gives_no_reasons_for_what_it_does_not_show() -> None:
    other = Fingering(finger=Finger.RING, reason="frees the first finger")
    lesson = changed(build.lesson(["C4s2f1!1:whole"]), {0: noted(alternative=other)})
    measure = next(walk.measures(lesson.arrangement)).id
    talk = Span(900, "talk", measure, measure, "Softly")
    arrangement = structs.replace(lesson.arrangement, spans=(talk,))
    lesson = structs.replace(lesson, arrangement=arrangement, next_id=901)
    said = {
        staves: "frees" in " ".join(
            i.text for _, i in items(laid(lesson, staves=staves)) if isinstance(i, Text)
        )
        for staves in ("staff and tab", "tab")
    }  # fmt: skip
    assert said == {"staff and tab": True, "tab": False}


def test_the_settings_of_a_lesson_ask_for_pages():
    asked = for_pages(A4, Settings(staves="tab", paper="Letter", beat_dots=True, phrase_lines=True))
    assert (asked.width_mm, asked.height_mm) == (215.9, 279.4)  # ANSI Letter, from memory
    assert (asked.staves, asked.beat_dots, asked.phrases_per_line) == ("tab", True, 1)
    large = for_pages(A4, Settings(large_print=True))
    assert large.width_mm > large.height_mm
    assert large.staff_mm > A4.staff_mm
    assert large.line_weight > 1 < large.sign_size
    assert for_pages(A4, Settings()) == A4


def test_what_a_page_asks_for_by_itself_stays():
    """The strip of a video is a staff alone, whatever the lesson's pages show."""
    strip = PageStyle(staves="staff", width_mm=100.0)
    asked = for_pages(strip, Settings(staves="tab", paper="Letter"))
    assert (asked.staves, asked.width_mm) == ("staff", 100.0)
