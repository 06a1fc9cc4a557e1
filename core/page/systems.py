"""Every system of a piece: what it is told and how it is set, anew only where that changed."""

# ruff: noqa: PLR0913, PLR0917 (setting takes what it sets)

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct, structs

from core.model import Tempo
from core.page import system
from core.page.draft import SystemBody
from core.page.facts import Spot
from core.page.metrics import Metrics
from core.page.score import Cache, Score, Window, alike
from core.page.setting import Letter, Setting, SpanPart, Volta
from core.page.style import PageStyle
from core.page.turns import turn_cost


class Common(Struct, frozen=True):
    """What all systems are told alike. `width` is 0 in one long line."""

    width: float
    talk: float
    octave: bool
    tempo: Tempo
    left_handed: bool
    tab_top: float = 0.0


class Systems(Struct, frozen=True, eq=False):
    """The systems in order; `ends` is the index after the last measure of each and `turns` the
    cost of turning the page there."""

    score: Score
    common: Common
    ends: Sequence[int]
    settings: list[Setting]
    bodies: list[SystemBody]
    turns: list[float]


def set_systems(
    score: Score,
    window: Window,
    ends: Sequence[int],
    common: Common,
    style: PageStyle,
    metrics: Metrics,
    cache: Cache,
    old: Systems | None,
) -> Systems:
    """All systems. Those of `old` stay where neither their measures (outside the window) nor what
    they are told have changed."""
    bounds = [0, *ends]
    if old is None or old.common != common:
        rows = list(pairwise(bounds))
        settings = [_setting(score, a, b, common) for a, b in rows]
        bodies = [
            _set(score, a, b, setting, style, metrics, cache)
            for (a, b), setting in zip(rows, settings, strict=True)
        ]
        turns = [_turn(score, end, common.tempo) for end in ends]
        return Systems(score, common, ends, settings, bodies, turns)
    head, tail = _same_lines(bounds, [0, *old.ends], window)
    after = len(ends) - tail
    stale = _stale(score, ends, old, window, head, tail)
    gap = [old.settings[0]] * (after - head)
    settings = [*old.settings[:head], *gap, *old.settings[len(old.settings) - tail :]]
    blank = [old.bodies[0]] * (after - head)
    bodies = [*old.bodies[:head], *blank, *old.bodies[len(old.bodies) - tail :]]
    turns = [*old.turns[:head], *[1.0] * (after - head), *old.turns[len(old.turns) - tail :]]
    for i in stale:
        a, b = bounds[i], bounds[i + 1]
        settings[i] = _setting(score, a, b, common)
        bodies[i] = _set(score, a, b, settings[i], style, metrics, cache)
        turns[i] = _turn(score, b, common.tempo)
    return Systems(score, common, ends, settings, bodies, turns)


def _turn(score: Score, end: int, tempo: Tempo) -> float:
    """The cost of turning the page before a measure."""
    if end == len(score.boxes):
        return 0.0
    spot = score.spots[end - 1]
    return turn_cost(
        score.boxes[end - 1].free, score.boxes[end].free, tempo.ticks_per_second,
        ends_section=spot.last, repeated=spot.head.times > 1,
    )  # fmt: skip


def _same_lines(bounds: list[int], old: list[int], window: Window) -> tuple[int, int]:
    """How many lines hold the same unchanged measures as before, at the beginning and the end."""
    head = 0
    for a, b in zip(bounds[: bisect_right(bounds, window.first)], old, strict=False):
        if a != b:
            break
        head += 1
    tail = 0
    shift, later = window.shift, bounds[bisect_left(bounds, window.last) :]
    for a, b in zip(reversed(later), reversed(old), strict=False):
        if a - shift != b:
            break
        tail += 1
    return max(head - 1, 0), max(tail - 1, 0)


def _stale(
    score: Score, ends: Sequence[int], old: Systems, window: Window, head: int, tail: int
) -> list[int]:
    """The systems that are new, or told other things than before."""
    after = len(ends) - tail
    stale = {*range(head, after), *_touched(score, old.score, ends, window)}
    # The window reaches over the changed measures to their neighbours: where the piece begins or
    # ends with another system than before, that system is in it.
    if tail and score.numbers[-1] != old.score.numbers[-1]:
        stale.update(range(after, len(ends)))
    return sorted(stale)


def _touched(score: Score, old: Score, ends: Sequence[int], window: Window) -> set[int]:
    """The systems touched by spans that came, went or reach elsewhere."""
    if score.spans is old.spans:
        return set()
    place = score.order.place
    lines: set[int] = set()
    for start, end in _reached(score, old):
        a, b = place.get(start, window.first), place.get(end, window.last)
        first, last = sorted((bisect_right(ends, min(a, len(score.boxes) - 1)),
                              bisect_right(ends, min(b, len(score.boxes) - 1))))  # fmt: skip
        lines.update(range(first, last + 1))
    return lines


def _reached(score: Score, old: Score) -> set[tuple[int, int]]:
    """The ids of the measures in which the spans begin and end that are in one score only."""
    now, was = score.spans.placed, old.spans.placed
    if score.order is old.order:  # then most are the very same
        head, tail = alike(was, now)
        now, was = now[head : len(now) - tail], was[head : len(was) - tail]
    rows = [
        {(id(span), ids[a], ids[b]) for span, a, b in placed}
        for placed, ids in ((now, score.order.ids), (was, old.order.ids))
    ]
    return {(start, end) for _, start, end in rows[0] ^ rows[1]}


def _set(
    score: Score, first: int, last: int, setting: Setting,
    style: PageStyle, metrics: Metrics, cache: Cache,
) -> SystemBody:  # fmt: skip
    """A system from the cache where its measures and its setting are the same, else set anew."""
    row = tuple(score.boxes[first:last])
    name = row[0].measure.id
    kept = cache.systems.get(name)
    body = None
    if kept is not None and len(kept[0]) == len(row):
        same = all(a is b for a, b in zip(kept[0], row, strict=True))
        if same and kept[1] == setting:
            return kept[2]
        if same and structs.replace(kept[1], numbers=setting.numbers) == setting:
            body = system.renumbered(kept[2], setting, metrics)
    if body is None:
        body = system.set_system(row, setting, style, metrics)
    cache.systems[name] = (row, setting, body)
    return body


def _setting(score: Score, first: int, last: int, common: Common) -> Setting:
    """What the system with measures `first` to `last` - 1 is told."""
    final, paged = last == len(score.boxes), common.width > 0
    where = score.spots[first:last]
    return Setting(
        width=common.width,
        justified=paged and not final,
        opens=paged or first == 0,
        final=final,
        metre_shown=first == 0 or score.boxes[first].metre_shown,
        octave=common.octave,
        numbers=tuple(score.numbers[first:last]),
        tempo=common.tempo if first == 0 else None,
        letters=_letters(where),
        voltas=_voltas(score, first, last),
        times=_times(where),
        spans=tuple([
            SpanPart(span, first <= a, b < last)
            for span, a, b in score.spans.placed
            if a < last and b >= first
        ]),
        talk=common.talk,
        left_handed=common.left_handed,
        tab_top=common.tab_top,
    )  # fmt: skip


def _letters(where: Sequence[Spot]) -> tuple[Letter, ...]:
    return tuple(
        Letter(place, spot.head.letter, spot.head.title, spot.head.id)
        for place, spot in enumerate(where)
        if spot.first and (spot.head.letter or spot.head.title)
    )


def _voltas(score: Score, first: int, last: int) -> tuple[Volta, ...]:
    """The endings that touch measures `first` to `last` - 1."""
    found: list[Volta] = []
    place = score.order.place
    seen: set[int] = set()
    for spot in score.spots[first:last]:
        head = spot.head
        if not head.endings or head.id in seen:
            continue
        seen.add(head.id)
        for ending in head.endings:
            a, b = place.get(ending.first), place.get(ending.last)
            if a is None or b is None or a > b or a >= last or b < first:
                continue
            begins, ends = a >= first, b < last
            found.append(
                Volta(max(a, first) - first, min(b, last - 1) - first, ending.passes, begins, ends,
                      ending.closed)
            )  # fmt: skip
    return tuple(found)


def _times(where: Sequence[Spot]) -> tuple[tuple[int, int], ...]:
    """(place, times) of measures after which a section without endings is played oftener
    than twice."""
    return tuple(
        (place, spot.head.times)
        for place, spot in enumerate(where)
        if spot.last and spot.head.times > 2 and not spot.head.endings
    )
