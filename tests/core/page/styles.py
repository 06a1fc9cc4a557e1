"""Every way a page is shown, by name: for the invariants, the tests of styles and the gallery."""

from __future__ import annotations

from msgspec import Struct, structs

from core.model import Lesson, walk
from core.page.engrave import Cache, engrave
from core.page.layout import Layout
from core.page.measure_box import MeasureBox
from core.page.strip import strip
from core.page.style import LARGE_PRINT, LETTER, PageStyle
from tests.core.page.kit import metrics

WIDE_MM = 700.0  # paper on which no measure is ever cramped

STYLES: dict[str, PageStyle] = {
    "a4": PageStyle(),
    "letter": LETTER,
    "landscape": PageStyle(width_mm=297.0, height_mm=210.0),
    "large": LARGE_PRINT,
    "staff": PageStyle(staves="staff"),
    "tab": PageStyle(staves="tab"),
    "line": PageStyle(flow="line"),
    "tab line": PageStyle(staves="tab", flow="line"),
    "strip": PageStyle(flow="line", talk=False),
    "phrases": PageStyle(phrases_per_line=1),
    "beat dots": PageStyle(beat_dots=True),
    "left-handed": PageStyle(),
    "letters": PageStyle(names="letters", staff_mm=10.0),
    "syllables": PageStyle(names="movable do"),
    "tab names": PageStyle(names="fixed do", staves="tab"),
    "sounding": PageStyle(sounding=True),
    "shapes": PageStyle(shape_sheet=True),
    "big signs": PageStyle(staff_mm=9.0, sign_size=1.5, line_weight=2.0, density=1.3),
}


class Drawn(Struct, frozen=True, eq=False):
    """A lesson as it was laid out in a style. `wide`: the paper holds every measure."""

    lesson: Lesson
    style: PageStyle
    layout: Layout
    boxes: dict[int, MeasureBox]


def draw(lesson: Lesson, name: str, *, wide: bool = False) -> Drawn:
    """The lesson in the style of a name, on its paper or on paper that holds any measure."""
    style = STYLES[name]
    if wide and style.flow == "pages":
        style = structs.replace(style, width_mm=WIDE_MM * style.staff_mm / 6.6)
    if name == "left-handed":
        lesson = left_handed(lesson)
    if name == "strip":
        order = [measure.id for measure in walk.measures(lesson.arrangement)]
        layout = strip(lesson, order[0], order[-1], style, metrics())
        cache = Cache()
        engrave(lesson, layout.style, metrics(), cache)
        return Drawn(lesson, style, layout, cache.boxes)
    cache = Cache()
    layout = engrave(lesson, style, metrics(), cache)
    return Drawn(lesson, style, layout, cache.boxes)


def left_handed(lesson: Lesson) -> Lesson:
    """The lesson for a left-handed player."""
    arrangement = lesson.arrangement
    instrument = structs.replace(arrangement.instrument, hand="left")
    return structs.replace(lesson, arrangement=structs.replace(arrangement, instrument=instrument))
