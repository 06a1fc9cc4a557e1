"""Quantising: bars from the metre map, and for every beat the grid that its onsets fit best."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from core.formats.midi_raw import RawFile, RawNote, notes_of
from core.model import TICKS_PER_QUARTER, BadInput, Metre

MOST_MEASURES = 5_000
# Parts of a beat, and the price of a finer or odder grid, in the same coin as the squared errors
# of the onsets measured by a player's usual scatter (all of it our own choice).
_SIMPLE = ((1, 0.0), (2, 1.0), (4, 3.0), (3, 4.0), (6, 10.0), (8, 12.0))
_COMPOUND = ((1, 0.0), (3, 1.0), (6, 3.0), (12, 12.0))
_SCATTER_SECONDS = 0.022
_LEAST_SCATTER, _MOST_SCATTER = 0.015, 0.06  # of a beat
_EXACT = Fraction(1, 200)  # of a beat: all onsets nearer than this stand on the grid as written
_USUAL_MICROS = 500_000


class Bar(Struct, frozen=True):
    """A measure: first tick and length in our ticks, its metre; `own` where it is not full."""

    start: int
    length: int
    metre: Metre
    own: bool = False


class QuantNote(Struct, frozen=True):
    """A note on the grid, in our ticks from the start of the file."""

    start: int
    end: int
    midi: int


class Grid(Struct, frozen=True):
    """The bars, and per beat (our first tick, length) into how many parts it is divided."""

    bars: tuple[Bar, ...]
    beats: tuple[int, ...]
    lengths: tuple[int, ...]
    parts: tuple[int, ...]

    def snap(self, moment: Fraction) -> int:
        """The point of the grid nearest to a moment."""
        index = max(bisect_right(self.beats, moment) - 1, 0)
        step = self.lengths[index] // self.parts[index]
        return self.beats[index] + step * round((moment - self.beats[index]) / step)

    def step(self, tick: int) -> int:
        """The distance of two points of the grid after a tick."""
        index = max(bisect_right(self.beats, tick) - 1, 0)
        return self.lengths[index] // self.parts[index]

    def parts_at(self, tick: int) -> tuple[int, int, int]:
        """(first tick, length, parts) of the beat a tick lies in."""
        index = max(bisect_right(self.beats, tick) - 1, 0)
        return self.beats[index], self.lengths[index], self.parts[index]

    def bar_at(self, tick: int) -> int:
        """The index of the bar a tick lies in; the last one's after the end."""
        return max(bisect_right(self.bars, tick, key=lambda bar: bar.start) - 1, 0)

    def name_at(self, tick: int) -> str:
        """The printed number of the measure at a tick, a pickup being 0."""
        return str(self.bar_at(tick) + (not self.bars[0].own))


def exact(tick: int, file: RawFile) -> Fraction:
    """Our ticks of a tick of the file."""
    return Fraction(tick * TICKS_PER_QUARTER, file.per_quarter)


def grid(file: RawFile, name: str) -> Grid:
    """Bars by the metre map (4/4 where the file says none) and a grid for every beat."""
    bars = _with_own_lengths(_bars(file, name))
    beats: list[int] = []
    lengths: list[int] = []
    for bar in bars:
        at = 0
        while at < bar.length:
            beat = 3 * TICKS_PER_QUARTER // 2 if compound(bar.metre) else TICKS_PER_QUARTER
            length = min(beat, bar.length - at)
            beats.append(bar.start + at)
            lengths.append(length)
            at += length
    onsets: list[list[Fraction]] = [[] for _ in beats]
    for note in notes_of(file):
        moment = exact(note.start, file)
        onsets[max(bisect_right(beats, moment) - 1, 0)].append(moment)
    starts = {bar.start: bar for bar in bars}
    changes = [exact(tick, file) for tick, _ in file.tempi]
    parts: list[int] = []
    bar = bars[0]
    for beat_start, length, inside in zip(beats, lengths, onsets, strict=True):
        bar = starts.get(beat_start, bar)
        index = bisect_right(changes, beat_start)
        quarter = (file.tempi[index - 1][1] if index else _USUAL_MICROS) / 1e6
        parts.append(_best(beat_start, length, inside, compound(bar.metre), quarter))
    return Grid(tuple(bars), tuple(beats), tuple(lengths), tuple(parts))


def compound(metre: Metre) -> bool:
    """Whether beats are dotted quarters: 6/8, 9/8, 12/8."""
    return metre.compound and metre.unit == 8


def _bars(file: RawFile, name: str) -> list[Bar]:
    metres = [(exact(tick, file), _metre(said)) for tick, said in file.metres]
    end = exact(file.end, file)
    bars: list[Bar] = []
    at, metre, left = 0, Metre([4], 4), metres
    while at < end or not bars:
        while left and left[0][0] <= at + left[0][1].ticks // 64:
            metre, left = left[0][1], left[1:]
        length = metre.ticks
        if left and at < left[0][0] < at + length:
            length = round(left[0][0] - at)  # a metre that comes inside a bar cuts it there
        bars.append(Bar(at, length, metre, length != metre.ticks))
        at += length
        if len(bars) > MOST_MEASURES:
            raise BadInput(f"{name} lasts more than {MOST_MEASURES} measures.")
    return bars


def _metre(said: tuple[int, int]) -> Metre:
    upper, lower = said
    try:
        return Metre([upper], lower)
    except ValueError:
        return Metre([4], 4)


def _with_own_lengths(bars: list[Bar]) -> list[Bar]:
    """A bar shorter than the next (a pickup) or than both its neighbours is an incomplete one."""
    made = list(bars)
    for index, bar in enumerate(bars):
        before = bars[index - 1].metre if index else None
        after = bars[index + 1].metre if index + 1 < len(bars) else None
        around = after if before is None else before
        alone = bar.metre not in (before, after)
        if around is None or not alone or bar.metre.ticks >= around.ticks:
            continue
        if before is None or after is None or before == after:
            made[index] = Bar(bar.start, bar.length, around, True)
    return made


def _best(start: int, length: int, onsets: Sequence[Fraction], dotted: bool, quarter: float) -> int:
    """How many parts divide the beat best: nearness of the onsets against simplicity.

    `quarter` is how many seconds a quarter lasts. A beat whose onsets stand exactly on a grid, as
    in files from scores, takes the coarsest such grid.
    """
    choices = _choices(length, dotted)

    def away(parts: int) -> list[Fraction]:
        step = Fraction(length, parts)
        return [(m - start - step * round((m - start) / step)) / length for m in onsets]

    for parts, _ in sorted(choices):
        if all(abs(error) < _EXACT for error in away(parts)):
            return parts
    seconds = quarter * length / TICKS_PER_QUARTER
    scatter = min(_MOST_SCATTER, max(_LEAST_SCATTER, _SCATTER_SECONDS / seconds))

    def cost(choice: tuple[int, float]) -> float:
        parts, price = choice
        return price + sum((float(error) / scatter) ** 2 for error in away(parts))

    return min(choices, key=cost)[0]


def _choices(length: int, dotted: bool) -> list[tuple[int, float]]:
    """Parts and their prices; a beat cut by a short bar keeps the steps of a whole one."""
    whole = 3 * TICKS_PER_QUARTER // 2 if dotted else TICKS_PER_QUARTER
    table = _COMPOUND if dotted else _SIMPLE
    if length == whole:
        return [*table]
    plain = [(n, price) for n, price in table if dotted or n not in (3, 6)]
    fitting = [(n * length // whole, price) for n, price in plain if n * length % whole == 0]
    return fitting or [(1, 0.0)]


def on_grid(notes: Sequence[RawNote], points: Grid, file: RawFile) -> list[QuantNote]:
    """The notes of a line on the grid, each at least a step long, none twice."""
    found: dict[tuple[int, int], QuantNote] = {}
    for note in notes:
        start = points.snap(exact(note.start, file))
        end = max(points.snap(exact(note.end, file)), start + points.step(start))
        known = found.get((start, note.midi))
        if known is None or known.end < end:
            found[start, note.midi] = QuantNote(start, end, note.midi)
    return sorted(found.values(), key=lambda n: (n.start, n.midi))
