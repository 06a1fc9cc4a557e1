"""A lesson as paper shows it: a student's page does not tell whose idea a finger was."""

from __future__ import annotations

from msgspec import structs

from core.edit.base import map_events
from core.edit.labels import pinned_event
from core.model import Lesson, Measure, Section
from core.page.style import PageStyle


def printed(lesson: Lesson, style: PageStyle) -> Lesson:
    """The lesson with what is suggested drawn like what is pinned, where it is shown at all.

    The screen tells the two apart; on paper they are alike. What has no suggestion is shared.
    """
    if not style.show_suggested:
        return lesson
    arrangement = lesson.arrangement
    sections = tuple(map(_section, arrangement.sections))
    spans = tuple(
        structs.replace(span, suggested=False) if span.suggested else span
        for span in arrangement.spans
    )
    firm = structs.replace(arrangement, sections=sections, spans=spans)
    return structs.replace(lesson, arrangement=firm)


def _section(section: Section) -> Section:
    return structs.replace(section, measures=tuple(map(_measure, section.measures)))


def _measure(measure: Measure) -> Measure:
    firm = map_events(measure, pinned_event)
    others = tuple(
        structs.replace(other, voices=tuple(tuple(map(pinned_event, row)) for row in other.voices))
        for other in measure.others
    )
    return firm if others == measure.others else structs.replace(firm, others=others)
