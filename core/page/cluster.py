"""The notes of one event: heads, stem direction, heads displaced by seconds and other voices.

x is measured from the left edge of the column's ordinary head.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from core.model import Base, Event, Measure, Note, walk
from core.page import rhythm
from core.page.glyphs import FLAGS, head_name, lettered_name
from core.page.metrics import Metrics
from core.page.staff import position, y_of

GRACE_SIZE = 0.62
SMALL = 0.75  # of small notes, as on the tab: our own choice
CENTRE = 0.59  # half an ordinary head: the middle of every column


class Head(Struct, frozen=True, gc=False):
    """One notehead: staff position in steps, x from the column, size beside its event's."""

    note: Note
    pos: int
    x: float
    name: str
    size: float = 1.0

    @property
    def y(self) -> float:
        return y_of(self.pos)


class Cluster(Struct, frozen=True, gc=False):
    """An event as it stands in its column. `group` is its beam group's number or -1.

    `x` is how far the event is moved aside for another voice. `beside` counts grace notes
    before their main note: 0 is the note itself, 1 the grace note just before it. `free` where
    no other voice shares the measure; `fills` for the one rest of an otherwise empty voice.
    """

    voice: int
    onset: int
    event: Event
    up: bool
    heads: tuple[Head, ...] = ()
    group: int = -1
    x: float = 0.0
    beside: int = 0
    free: bool = False
    fills: bool = False

    @property
    def high(self) -> int:
        return max(head.pos for head in self.heads)

    @property
    def low(self) -> int:
        return min(head.pos for head in self.heads)

    @property
    def stemmed(self) -> bool:
        return bool(self.heads) and self.event.value.base not in (Base.WHOLE, Base.BREVE)


Groups = tuple[tuple[int, ...], ...]


def clusters(
    measure: Measure, metrics: Metrics, letters: bool = False
) -> tuple[tuple[Cluster, ...], Groups]:
    """Every event of the measure laid out, voice by voice, and the beam groups (indices). With
    `letters` the heads have their note's letter in them."""
    rows = tuple(walk.events(measure))
    shown = {r.voice for r in rows if not r.event.hidden}
    alone = len(shown) <= 1
    grouped, directions = _directions(measure, rows, alone)
    beside = _grace_counts(rows)
    laid: list[Cluster] = []
    for index, row in enumerate(rows):
        up = directions[index]
        base = Cluster(row.voice, row.onset, row.event, up, (), grouped.get(index, -1), 0.0,
                       beside[index], alone, _fills(measure, row))  # fmt: skip
        heads = () if row.event.hidden else _heads(row.event, up, metrics, letters)
        laid.append(base if not heads else _with(base, heads=heads))
    _part_voices(laid, metrics)
    count = 1 + max(grouped.values(), default=-1)
    members: list[list[int]] = [[] for _ in range(count)]
    for index, number in grouped.items():
        members[number].append(index)
    return tuple(laid), tuple(tuple(m) for m in members)


def _with(
    cluster: Cluster, *, heads: tuple[Head, ...] | None = None, x: float | None = None
) -> Cluster:
    return Cluster(
        cluster.voice, cluster.onset, cluster.event, cluster.up,
        cluster.heads if heads is None else heads, cluster.group,
        cluster.x if x is None else x, cluster.beside, cluster.free, cluster.fills,
    )  # fmt: skip


def _fills(measure: Measure, row: walk.Located) -> bool:
    """Whether an event is a rest as long as its measure: it is drawn in the middle."""
    alone = len(measure.voices[row.voice]) == 1
    return alone and row.event.is_rest and row.event.ticks == measure.ticks


def _directions(
    measure: Measure, rows: Sequence[walk.Located], alone: bool
) -> tuple[dict[int, int], list[bool]]:
    """Event index -> beam group, and whether each stem goes up."""
    grouped: dict[int, int] = {}
    directions = [False] * len(rows)
    first = 0
    number = 0
    for voice, events in enumerate(measure.voices):
        part = [(rows[first + i].onset, rows[first + i].event) for i in range(len(events))]
        for index, (_, event) in enumerate(part):
            up = voice % 2 == 0 if not alone else goes_up(_positions([event]))
            directions[first + index] = up or (event.grace is not None and alone)
        for run in _grace_runs(part) + rhythm.groups(part, measure.metre):
            events_of = [part[i][1] for i in run]
            up = goes_up(_positions(events_of)) if alone else voice % 2 == 0
            for index in run:
                grouped[first + index] = number
                directions[first + index] = up or (part[index][1].grace is not None and alone)
            number += 1
        first += len(events)
    return grouped, directions


def _grace_runs(part: Sequence[tuple[int, Event]]) -> list[tuple[int, ...]]:
    """Two or more grace notes in a row share a beam."""
    runs: list[tuple[int, ...]] = []
    run: list[int] = []
    for index, (_, event) in enumerate([*part, (0, None)]):
        if event is not None and event.grace is not None and FLAGS[event.value.base]:
            run.append(index)
            continue
        if len(run) > 1:
            runs.append(tuple(run))
        run = []
    return runs


def _positions(events: Sequence[Event]) -> list[int]:
    return [position(note.pitch) for event in events for note in event.notes]


def goes_up(positions: Sequence[int]) -> bool:
    """Stem direction of one voice alone: the note farthest from the middle line decides; tie: down.

    Source: E. Gould, Behind Bars (excerpt read), as in engraving.md.
    """
    if not positions:
        return True
    return -min(positions) > max(positions)


def _grace_counts(rows: Sequence[walk.Located]) -> list[int]:
    counts = [0] * len(rows)
    for index in range(len(rows) - 1, -1, -1):
        if rows[index].event.grace is None:
            continue
        following = index + 1 < len(rows) and rows[index + 1].voice == rows[index].voice
        counts[index] = counts[index + 1] + 1 if following else 1
    return counts


def _heads(event: Event, up: bool, m: Metrics, letters: bool) -> tuple[Head, ...]:
    """Heads bottom to top; of a second on one stem the lower note stands left of it."""
    base = event.value.base
    size = GRACE_SIZE if event.grace is not None else 1.0
    placed = sorted(event.notes, key=lambda note: (note.pitch.diatonic, note.pitch.midi))
    sides = _sides([position(note.pitch) for note in placed], up)
    heads: list[Head] = []
    names = [
        (lettered_name(n, base) if letters and event.grace is None else "")
        or head_name(base, placed=n.place is not None, harmonic=n.harmonic is not None)
        for n in placed
    ]
    scales = [SMALL if n.small and event.grace is None else 1.0 for n in placed]
    shift = _shift_to_centre(names, scales, up, m) if size == 1.0 else 0.0
    for note, name, scale, aside in zip(placed, names, scales, sides, strict=True):
        width = m.advances[name] * size * scale
        if base in (Base.WHOLE, Base.BREVE):
            x = CENTRE - width / 2 + aside * width
        else:
            x = _at_stem(name, scale, up, m) * size + shift
            x += aside * (width - m.defaults["stemThickness"])
        heads.append(Head(note, position(note.pitch), x, name, scale))
    return tuple(heads)


def _at_stem(name: str, scale: float, up: bool, m: Metrics) -> float:
    """Where a head stands so that its anchor meets the stem of an ordinary head."""
    end = "stemUpSE" if up else "stemDownNW"
    return m.anchors["noteheadBlack"][end][0] - m.anchors[name][end][0] * scale


def _shift_to_centre(names: Sequence[str], scales: Sequence[float], up: bool, m: Metrics) -> float:
    """What brings heads that are all of one unusual width, their stem with them, to the middle."""
    mixed = len(set(zip(names, scales, strict=True))) != 1
    if mixed or "stemUpSE" not in m.anchors.get(names[0], {}):
        return 0.0
    left, _, right, _ = m.boxes[names[0]]
    return CENTRE - (left + right) / 2 * scales[0] - _at_stem(names[0], scales[0], up, m)


def _sides(positions: Sequence[int], up: bool) -> list[int]:
    """0 for an ordinary head, 1 displaced to the right, -1 to the left; bottom to top."""
    sides = [0] * len(positions)
    order = range(len(positions)) if up else range(len(positions) - 1, -1, -1)
    previous: int | None = None
    for index in order:
        if previous is not None and abs(positions[index] - positions[previous]) <= 1:
            sides[index] = 0 if sides[previous] else (1 if up else -1)
        previous = index
    return sides


def _part_voices(laid: list[Cluster], m: Metrics) -> None:
    """Move the events of lower voices aside where their heads would run into another voice's."""
    columns: dict[int, list[int]] = {}
    for index, cluster in enumerate(laid):
        if cluster.heads and not cluster.beside:
            columns.setdefault(cluster.onset, []).append(index)
    for indices in columns.values():
        if len(indices) < 2:
            continue
        done: list[Cluster] = [laid[indices[0]]]
        for index in indices[1:]:
            x = _shift(done, laid[index], m)
            if x:
                laid[index] = _with(laid[index], x=x)
            done.append(laid[index])


def _shift(done: Sequence[Cluster], mine: Cluster, m: Metrics) -> float:
    """How far to the right a voice must move to stand clear of those already placed."""
    step = m.advances["noteheadBlack"]
    for tries in (0.0, 1.0, 1.35, 2.0, 2.7, 3.4):
        x = tries * step
        if not any(_clash(other, mine, x, m) for other in done):
            return x
    return 4 * step


def _clash(other: Cluster, mine: Cluster, x: float, m: Metrics) -> bool:
    if _shares(other, mine) and x == other.x:
        return False
    for a in other.heads:
        for b in mine.heads:
            left, right = other.x + a.x, x + b.x
            touching = left < right + m.advances[b.name] - 0.02
            touching = touching and right < left + m.advances[a.name] - 0.02
            if abs(a.pos - b.pos) <= 1 and touching:
                return True
    if other.up == mine.up:
        return abs(other.x - x) < 0.5
    upper, lower = (other, mine) if other.up else (mine, other)
    crossed = lower.high > upper.low + 1
    return crossed and abs(other.x - x) < 1.3 * m.advances["noteheadBlack"]


def _shares(a: Cluster, b: Cluster) -> bool:
    """Whether two voices meet on one common head: a unison of the same kind and nothing nearer.

    Whole notes stand side by side, as no stems tell their voices apart (common practice, no
    source)."""
    if a.up == b.up or a.event.value.dots != b.event.value.dots or not a.stemmed:
        return False
    upper, lower = (a, b) if a.up else (b, a)
    if upper.low != lower.high:
        return False
    head, other = upper.heads[0], lower.heads[-1]
    return head.name == other.name and head.note.pitch == other.note.pitch
