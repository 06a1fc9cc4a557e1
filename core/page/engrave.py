"""From a lesson to sheets: the one entrance to engraving. Pure; what may be kept is passed in."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import structs

from core.model import Lesson
from core.page.layout import Layout
from core.page.lines import page_lines, pieces
from core.page.metrics import Metrics
from core.page.paging import Blank, LongLine, frame_of, stacked
from core.page.score import Cache, Score, Window, gather
from core.page.style import PageStyle
from core.page.systems import Common, Systems, set_systems

__all__ = ["Cache", "engrave", "one_line"]


def engrave(
    lesson: Lesson,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache | None = None,
    previous: Layout | None = None,
    turns: Mapping[int, float] | None = None,
) -> Layout:
    """Lay the lesson out. With `cache`, unchanged measures and systems are taken from it; with
    `previous`, only what has changed since is looked at, and its line breaks stay while every
    changed line remains within bounds of stretch. Pages turn where a hand is free (see `turns`),
    unless `turns` gives the cost of a turn after measures, by id: 0 free to 1, as for others."""
    cache = Cache() if cache is None else cache
    cache.use(style, metrics)
    lesson = lesson if style.sounding else cache.fingered.lesson(lesson)
    old = _usable(previous, style, metrics)
    before = old.made if old is not None else None
    score, window = gather(
        lesson.arrangement, style, metrics, cache, before.score if before is not None else None
    )
    frame = frame_of(style, score.spans.talks)
    if not score.boxes:
        empty = Systems(score, _common(lesson, 0.0, 0.0), [], [], [], [])
        return Layout(style, metrics, empty, Blank(frame))
    if before is not None and (not before.ends or before.score.strings != score.strings):
        before = None
    if style.flow == "line":
        made = _in_one_line(lesson, score, window, style, metrics, cache, before)
        return Layout(style, metrics, made, LongLine(made.bodies))
    width = frame.system_width
    old_score, ends = (before.score, before.ends) if before is not None else (None, [])
    ends = page_lines(score, window, width, old_score, ends, before.common.width if before else 0.0)
    common = _common(lesson, width, frame.talk)
    made = set_systems(score, window, ends, common, style, metrics, cache, before)
    costs = _costs(score, made, turns)
    pages = stacked(
        lesson, made.bodies, costs, frame, style, metrics, old.pages if old is not None else None
    )
    return Layout(style, metrics, made, pages)


def one_line(lesson: Lesson, score: Score, style: PageStyle, metrics: Metrics) -> Layout:
    """A score that was gathered for the flow "line", laid out."""
    cache = Cache()
    cache.use(style, metrics)
    whole = Window(0, len(score.boxes), 0)
    made = _in_one_line(lesson, score, whole, style, metrics, cache, None)
    return Layout(style, metrics, made, LongLine(made.bodies))


def _usable(previous: Layout | None, style: PageStyle, metrics: Metrics) -> Layout | None:
    """The layout before, where it was made for the same style and fonts."""
    if previous is None or previous.style != style or previous.metrics is not metrics:
        return None
    return previous


def _common(lesson: Lesson, width: float, talk: float) -> Common:
    arrangement = lesson.arrangement
    return Common(
        width, talk, arrangement.clef_shows_octave, arrangement.tempo,
        arrangement.instrument.hand == "left",
    )  # fmt: skip


def _in_one_line(
    lesson: Lesson,
    score: Score,
    window: Window,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache,
    before: Systems | None,
) -> Systems:
    """All pieces of one long line; they have their tab at the height the lowest one needs."""
    old, old_ends = (before.score, before.ends) if before is not None else (None, [])
    ends = pieces(score, window, old, old_ends)
    while True:
        at = cache.tab_top
        common = structs.replace(_common(lesson, 0.0, 0.0), tab_top=at)
        made = set_systems(score, window, ends, common, style, metrics, cache, before)
        cache.tab_top = max([body.tab_need for body in made.bodies])
        if cache.tab_top == at:
            return made


def _costs(score: Score, made: Systems, turns: Mapping[int, float] | None) -> list[float]:
    """The cost of turning the page after each system: what is given, or when hands are free."""
    if turns is None:
        return made.turns
    ids = score.order.ids
    return [turns.get(ids[end - 1], 1.0) for end in made.ends]
