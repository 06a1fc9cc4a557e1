"""The frame of a MIDI file in written terms: measures, keys, tempo, sections.

Metres hold from where the file sets them; none means 4/4, and the report says so. Silent measures
before the first note (a count-in) are left out. A first measure of a shorter metre, or one silent
for half of its time or more, is a pickup.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from msgspec import Struct

from core.formats.imported import Finding
from core.formats.midi_file import RawFile, RawNote
from core.formats.midi_quantise import Bar
from core.model import TICKS_PER_QUARTER, BadInput, Base, Key, Metre, Tempo, Value

MOST_MEASURES = 3000
LEAST_CHANGE = 0.02  # changes of tempo of less than this share are not written
_USUAL_MICROS = 500_000  # SMF 1.1: without a tempo, 120 quarters a minute
_EARLY = TICKS_PER_QUARTER // 8


class Frame(Struct, frozen=True):
    """What a piece stands in. Bars run from the file's beginning, in model ticks; `first` is the
    index of the first bar with music. `keys`, `tempos` and `markers` are by model tick."""

    ppq: int
    bars: tuple[Bar, ...]
    first: int
    keys: tuple[tuple[int, Key], ...]
    tempos: tuple[tuple[int, int], ...]
    markers: tuple[tuple[int, str], ...]
    findings: tuple[Finding, ...]

    def tick(self, raw: int) -> float:
        """Model ticks of MIDI ticks, not yet on any grid."""
        return raw * TICKS_PER_QUARTER / self.ppq

    def micros(self, tick: float) -> int:
        """Microseconds a quarter at a moment."""
        index = bisect_right(self.tempos, tick, key=lambda t: t[0]) - 1
        return self.tempos[max(index, 0)][1]

    def seconds_at(self, raw: int) -> float:
        """Seconds a quarter lasts at a moment in MIDI ticks."""
        return self.micros(self.tick(raw)) / 1e6

    @property
    def seconds_per_quarter(self) -> float:
        """Seconds a quarter lasts where the music begins."""
        return self.micros(self.bars[self.first].start) / 1e6

    def measure_name(self, tick: float) -> str:
        """The number of the measure a moment lies in, from the first with music; a pickup is 0."""
        index = bisect_right(self.bars, tick, key=lambda b: b.start) - 1
        pickup = self.bars[self.first].length < self.bars[self.first].metre.ticks
        return str(max(index, self.first) - self.first + (0 if pickup else 1))

    def key(self, tick: int) -> Key:
        """The key at a moment."""
        index = bisect_right(self.keys, tick, key=lambda k: k[0]) - 1
        return self.keys[max(index, 0)][1]


def frame(raw: RawFile, notes: Sequence[RawNote], name: str) -> Frame:
    """The frame of a file with these notes. Raises BadInput for a piece of too many measures."""
    findings: list[Finding] = []

    def ticks(row: int) -> int:
        return (row * TICKS_PER_QUARTER + raw.ppq // 2) // raw.ppq

    end = max(ticks(max(n.start for n in notes)) + _EARLY + 1, ticks(max(n.end for n in notes)))
    metres = [(ticks(at), Metre((beats,), unit)) for at, beats, unit in raw.metres]
    if not metres:
        findings.append(_said("The file has no metre; 4/4 was assumed"))
    bars = _bars(metres, end - _EARLY, name)
    first_onset = ticks(min(n.start for n in notes)) + _EARLY
    first = max(0, bisect_right(bars, first_onset, key=lambda b: b.start) - 1)
    if first:
        findings.append(_said(f"{first} silent measures at the beginning left out"))
    tempos = tuple((ticks(at), micros) for at, micros in raw.tempos) or ((0, _USUAL_MICROS),)
    if not raw.tempos:
        findings.append(_said("The file has no tempo; 120 quarters a minute was assumed"))
    keys = tuple((ticks(at), Key(f, "minor" if minor else "major")) for at, f, minor in raw.keys)
    if not keys:
        keys = ((0, guessed_key(notes)),)
        findings.append(_said(f"The file has no key; {keys[0][1]} was guessed from its notes"))
    markers = tuple((ticks(at), text) for at, text in raw.markers)
    return Frame(raw.ppq, bars, first, keys, tempos, markers, tuple(findings))


def _said(text: str) -> Finding:
    return Finding(text, 1, kept=True)


def _bars(metres: Sequence[tuple[int, Metre]], end: int, name: str) -> tuple[Bar, ...]:
    """Measures until `end`; a metre set inside a measure cuts it short."""
    bars: list[Bar] = []
    at, metre = 0, Metre((4,), 4)
    starts = [start for start, _ in metres]
    while at < end:
        if len(bars) == MOST_MEASURES:
            raise BadInput(f"{name} lasts more than {MOST_MEASURES} measures: too long for a tune.")
        index = bisect_right(starts, at)
        metre = metres[index - 1][1] if index else metre
        length = metre.ticks
        if index < len(starts) and starts[index] - at < length:
            length = starts[index] - at
        bars.append(Bar(at, length, metre))
        at += length
    return _with_pickup(bars)


def _with_pickup(bars: list[Bar]) -> tuple[Bar, ...]:
    """Short measures that a metre of their own tells: a pickup, the last measure that makes up for
    it, and two halves of one measure."""
    if len(bars) > 1 and bars[0].length < bars[1].metre.ticks:
        bars[0] = Bar(0, bars[0].length, bars[1].metre)
        last, before = bars[-1], bars[-2]
        if len(bars) > 2 and last.metre.ticks + bars[0].length == before.metre.ticks:
            bars[-1] = Bar(last.start, last.length, before.metre)
    for n in range(1, len(bars) - 1):
        metre, first, second = bars[n - 1].metre, bars[n], bars[n + 1]
        if first.metre != metre and first.length + second.length == metre.ticks:
            bars[n] = Bar(first.start, first.length, metre)
            bars[n + 1] = Bar(second.start, second.length, metre)
    return tuple(bars)


def guessed_key(notes: Sequence[RawNote]) -> Key:
    """The key whose scale holds most of the notes, of several the one with the fewest signs;
    minor where the last of the lowest notes is its key note (our own rule)."""
    count = [0] * 12
    for note in notes:
        count[note.midi % 12] += 1

    def outside(fifths: int) -> int:
        scale = {(7 * (fifths + n)) % 12 for n in range(-1, 6)}
        return sum(count[p] for p in range(12) if p not in scale)

    fifths = min(range(-6, 7), key=lambda f: (outside(f), abs(f), f))
    last = max(note.start for note in notes)
    lowest = min((n for n in notes if n.start == last), key=lambda n: n.midi)
    minor = lowest.midi % 12 == (7 * (fifths + 3)) % 12
    return Key(fifths, "minor" if minor else "major")


def tempo_of(micros: int, metre: Metre) -> Tempo:
    """A tempo told by the felt beat: in 6/8 the dotted quarter."""
    beat = next(
        (
            Value(base, dots)
            for base in Base
            for dots in (0, 1)
            if Value(base, dots).ticks == metre.pulse_ticks[0]
        ),
        Value(Base.QUARTER),
    )
    per_minute = 60e6 / micros * TICKS_PER_QUARTER / beat.ticks
    return Tempo(beat, min(600.0, max(5.0, round(per_minute, 2))))


def lasting(frame: Frame) -> tuple[dict[int, int], list[int]]:
    """(tempo by bar index, ticks of the short changes left out).

    A change is kept where it holds for a measure or more; rit. and pauses are many short ones.
    """
    kept: dict[int, int] = {}
    short: list[int] = []
    begin = frame.bars[frame.first].start
    current = frame.micros(begin)
    ends = [at for at, _ in frame.tempos[1:]] + [frame.bars[-1].start + frame.bars[-1].length]
    for (at, micros), end in zip(frame.tempos, ends, strict=True):
        if at <= begin or abs(micros / current - 1) < LEAST_CHANGE:
            continue
        index = bisect_left(frame.bars, at - _EARLY, key=lambda b: b.start)
        if index < len(frame.bars) and end - at >= frame.bars[index].length - _EARLY:
            kept[index] = micros
            current = micros
        else:
            short.append(at)
    return kept, short
