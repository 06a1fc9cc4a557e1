"""Which notes need an accidental, and how those of one chord stand side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from itertools import pairwise
from typing import Literal

from core.model import Key, Measure, Note, Pitch, walk
from core.page.metrics import Metrics
from core.page.pen import Rect

Shown = Literal["plain", "courtesy", "editorial"]


def needed(
    measure: Measure, before: Mapping[int, int], tied_in: frozenset[tuple[int, Pitch]]
) -> dict[int, Shown]:
    """Note id -> how its accidental is shown; a note without one is not in the table.

    An accidental holds to the end of its measure at its own height. `before` are the alterations
    the measure before left (diatonic -> alter): a return is reminded of once, so is another
    octave of the same measure. `tied_in` are (voice, pitch) held over the bar line; they take no
    accidental (common practice, no source).
    """
    state: dict[int, int] = {}
    settled: set[int] = set()
    shown: dict[int, Shown] = {}
    rows = sorted(walk.notes(measure), key=lambda pair: (pair[0].onset, pair[0].voice))
    for located, note in rows:
        if located.event.hidden or note.accidental == "hidden":
            continue
        at, alter = note.pitch.diatonic, note.pitch.alter
        held = located.onset == 0 and (located.voice, note.pitch) in tied_in
        held = held or _tied_into(measure, located.voice, located.index, note)
        if held and note.accidental == "auto":
            continue
        if alter != state.get(at, measure.key.alter_of(note.pitch.step)):
            shown[note.id] = "editorial" if note.accidental == "editorial" else "plain"
            settled = {height for height in settled if (height - at) % 7}
        elif note.accidental in ("courtesy", "editorial"):
            shown[note.id] = "courtesy" if note.accidental == "courtesy" else "editorial"
        elif at not in settled and _surprising(at, alter, state, before, settled):
            shown[note.id] = "courtesy"
        if note.id in shown:
            state[at] = alter
            settled.add(at)
    return shown


def _tied_into(measure: Measure, voice: int, index: int, note: Note) -> bool:
    """Whether the event before holds the same pitch over by a tie."""
    if index == 0:
        return False
    before = measure.voices[voice][index - 1]
    return any(other.tied and other.pitch == note.pitch for other in before.notes)


def _surprising(
    at: int,
    alter: int,
    state: Mapping[int, int],
    before: Mapping[int, int],
    settled: Set[int],
) -> bool:
    """Whether the same step was last heard altered otherwise, in another octave or measure."""
    here = [value for height, value in state.items() if (height - at) % 7 == 0]
    if here:
        return here[-1] != alter
    if any((height - at) % 7 == 0 for height in settled):
        return False
    return any((height - at) % 7 == 0 and value != alter for height, value in before.items())


def left_behind(measure: Measure, key: Key) -> dict[int, int]:
    """The alterations outside the key that a measure leaves in the ear: diatonic -> alter."""
    state: dict[int, int] = {}
    for _, note in sorted(walk.notes(measure), key=lambda pair: pair[0].onset):
        if note.pitch.alter != key.alter_of(note.pitch.step):
            state[note.pitch.diatonic] = note.pitch.alter
        else:
            state.pop(note.pitch.diatonic, None)
    return state


def shape(m: Metrics, name: str) -> tuple[Rect, ...]:
    """What an accidental covers, as bars of ink about its origin (y down): its box without the
    corners that its SMuFL cut-outs leave free."""
    left, bottom, right, top = m.boxes[name]
    cuts = m.anchors.get(name, {})
    nw, ne = cuts.get("cutOutNW", (left, top)), cuts.get("cutOutNE", (right, top))
    sw, se = cuts.get("cutOutSW", (left, bottom)), cuts.get("cutOutSE", (right, bottom))
    heights = sorted({top, bottom, nw[1], ne[1], sw[1], se[1]})
    bars: list[Rect] = []
    for low, high in pairwise(heights):
        middle = (low + high) / 2
        x0 = nw[0] if middle > nw[1] else sw[0] if middle < sw[1] else left
        x1 = ne[0] if middle > ne[1] else se[0] if middle < se[1] else right
        bars.append((x0, -high, x1, -low))
    return tuple(bars)


def stacked(shapes: Sequence[tuple[int, Sequence[Rect]]], gap: float = 0.1) -> list[float]:
    """Where the origin of each accidental stands: (staff position, bars of ink) -> x <= 0.

    From the outside in: highest, lowest, next highest, ...; each as far right as it may be without
    touching those already there, cut-outs counted. So two an octave apart share a column.
    """
    order = sorted(range(len(shapes)), key=lambda i: -shapes[i][0])
    zigzag: list[int] = []
    while order:
        zigzag.append(order.pop(0))
        if order:
            zigzag.append(order.pop())
    placed: list[Rect] = []
    result = [0.0] * len(shapes)
    for index in zigzag:
        pos, bars = shapes[index]
        moved = [(a, b - pos / 2, c, d - pos / 2) for a, b, c, d in bars]
        x = -max(bar[2] for bar in bars)
        while hits := [
            other[0] - gap - bar[2]
            for bar in moved
            for other in placed
            if bar[2] + x > other[0] - gap + 1e-9
            and bar[0] + x < other[2] + gap
            and bar[1] < other[3] + 0.05
            and other[1] < bar[3] + 0.05
        ]:
            x = min(hits)
        placed += [(a + x, b, c + x, d) for a, b, c, d in moved]
        result[index] = x
    return result
