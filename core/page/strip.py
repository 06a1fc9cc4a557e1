"""One line of music without paper: a few measures as a strip, for pictures beside a video."""

from __future__ import annotations

from msgspec import structs

from core.model import Lesson, walk
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.metrics import Metrics
from core.page.style import PageStyle


def strip(lesson: Lesson, first: int, last: int, style: PageStyle, metrics: Metrics) -> Layout:
    """The measures with ids `first` to `last` in one long line, with clefs, key and metre.

    Spans and endings that reach out of these measures are left away. Nothing is drawn on the
    ground, so it may be made transparent. Raises KeyError for ids that are not there in order.
    """
    order = [measure.id for measure in walk.measures(lesson.arrangement)]
    places = {number: place for place, number in enumerate(order)}
    wanted = frozenset(order[places[first] : places[last] + 1])
    if not wanted:
        raise KeyError(last)
    sections = tuple(
        structs.replace(
            section,
            measures=tuple(m for m in section.measures if m.id in wanted),
            endings=tuple(e for e in section.endings if {e.first, e.last} <= wanted),
        )
        for section in lesson.arrangement.sections
        if any(m.id in wanted for m in section.measures)
    )
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    cut = structs.replace(lesson, arrangement=arrangement)
    return engrave(cut, structs.replace(style, flow="line", talk=False), metrics)
