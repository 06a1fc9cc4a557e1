"""Bars, grid and voices -> a lesson: measures, ties over barlines, tuplets, sections."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count

from msgspec import Struct, structs

from core.formats.imported import Finding
from core.formats.midi_bars import Frame, lasting, tempo_of
from core.formats.midi_quantise import Bar, Grid
from core.formats.midi_voices import Chord, Piece, Slot, slots
from core.model import (
    TICKS_PER_QUARTER,
    Arrangement,
    Event,
    Key,
    Length,
    Lesson,
    Measure,
    Note,
    Pitch,
    Section,
    Source,
    SourcePart,
    TempoMark,
)

_NEAR = TICKS_PER_QUARTER // 8
_TUPLETS = {3: 3, 6: 3, 12: 3, 5: 5, 7: 7}
_WORDS = {3: "triplets", 5: "quintuplets", 7: "septuplets"}


class Written(Struct, frozen=True):
    """The lesson, and what to tell of its making."""

    lesson: Lesson
    findings: tuple[Finding, ...]


def build(
    title: str,
    frame: Frame,
    grid: Grid,
    voices: Sequence[Sequence[Chord]],
    sources: Sequence[tuple[str, Sequence[Chord]]],
) -> Written:
    """Write the voices (melody first) and the parts left out (name, events) as a lesson."""
    return _Builder(frame, grid).written(title, voices, sources)


class _Builder:
    """Collects one lesson; lives for one call of `build`."""

    def __init__(self, frame: Frame, grid: Grid) -> None:
        self.frame, self.grid = frame, grid
        self.ids = count(1)
        self.findings: list[Finding] = []
        self.tuplets: dict[int, list[str]] = {}

    def written(
        self,
        title: str,
        voices: Sequence[Sequence[Chord]],
        sources: Sequence[tuple[str, Sequence[Chord]]],
    ) -> Written:
        bars = self._bars(voices)
        tempos, short = lasting(self.frame)
        sections = self._sections(bars, voices, tempos)
        self._tell_tuplets()
        if short:
            where = tuple(dict.fromkeys(self.frame.measure_name(at) for at in short))
            changes = "short change" if len(short) == 1 else "short changes"
            text = f"{len(short)} {changes} of tempo (slowing, a pause) left out"
            self.findings.append(Finding(text, len(short), where))
        metre = bars[0].metre
        tempo = tempo_of(self.frame.micros(bars[0].start), metre)
        key = self.frame.key(bars[0].start + _NEAR)
        arrangement = Arrangement(sections, key=key, tempo=tempo)
        kept = tuple(
            SourcePart(name, tuple(self._measure(bar, [row], n) for n, bar in enumerate(bars)))
            for name, row in sources
        )
        held = (Source(title, kept),) if kept else ()
        lesson = Lesson(title, arrangement, next(self.ids), sources=held)
        return Written(lesson, tuple(self.findings))

    def _bars(self, voices: Sequence[Sequence[Chord]]) -> list[Bar]:
        """The measures with music; the rest before a late beginning is cut to a pickup."""
        last = max(row[-1].start for row in voices if row)
        bars = [b for b in self.frame.bars[self.frame.first :] if b.start <= last]
        begin = min(row[0].start for row in voices if row)
        silent = begin - bars[0].start
        full = bars[0].length == bars[0].metre.ticks
        if len(bars) > 1 and full and silent * 2 >= bars[0].length:
            bars[0] = Bar(begin, bars[0].length - silent, bars[0].metre)
            self._tell("The rest before the first note was left out: it is a pickup")
        return bars

    def _sections(
        self, bars: Sequence[Bar], voices: Sequence[Sequence[Chord]], tempos: dict[int, int]
    ) -> tuple[Section, ...]:
        """A section from each marker that stands at a barline."""
        named: list[tuple[str, list[Measure]]] = []
        markers = list(self.frame.markers)
        for number, bar in enumerate(bars):
            here = [text for at, text in markers if abs(at - bar.start) < _NEAR]
            if here or not named:
                named.append((here[0] if here else "", []))
            micros = tempos.get(self.frame.first + number)
            made = self._measure(bar, voices, number, micros if number else None)
            before = bars[number - 1]
            halves = number > 0 and before.length + bar.length == bar.metre.ticks
            if halves and before.metre == bar.metre:
                made = structs.replace(made, counted=False)  # the second half of one measure
            named[-1][1].append(made)
        found = []
        for text, measures in named:
            letter = text if len(text) == 1 and text.isupper() else ""
            title = "" if letter or text.isdigit() else text
            found.append(Section(next(self.ids), tuple(measures), letter=letter, title=title))
        return tuple(found)

    def _measure(
        self,
        bar: Bar,
        voices: Sequence[Sequence[Chord]],
        number: int,
        micros: int | None = None,
    ) -> Measure:
        identity = next(self.ids)
        rows = tuple(self._voice(bar, row, voice) for voice, row in enumerate(voices))
        short = bar.length != bar.metre.ticks
        marks: tuple[TempoMark, ...] = ()
        if micros is not None:
            tempo = tempo_of(micros, bar.metre)
            marks = (TempoMark(beat=tempo.beat, per_minute=tempo.per_minute),)
        return Measure(
            identity, bar.metre, self.frame.key(bar.start + _NEAR), rows, marks,
            own_length=Length(bar.length) if short else None,
            counted=not (short and number == 0),
        )  # fmt: skip

    def _voice(self, bar: Bar, row: Sequence[Chord], voice: int) -> tuple[Event, ...]:
        end = bar.start + bar.length
        inside = [c for c in row if c.start < end and c.end > bar.start]
        pieces = self._pieces(bar, inside)
        key = self.frame.key(bar.start + _NEAR)
        silent = voice > 0 and not inside
        found = []
        for slot in slots(inside, bar.start, end, bar.metre, pieces):
            found.append(self._event(slot, key, silent))
        return tuple(found)

    def _event(self, slot: Slot, key: Key, hidden: bool) -> Event:
        identity = next(self.ids)
        notes = tuple(
            Note(next(self.ids), Pitch.from_midi(midi, key), tied=slot.tied)
            for midi in slot.pitches
        )
        return Event(identity, slot.value, notes, hidden=hidden)

    def _pieces(self, bar: Bar, inside: Sequence[Chord]) -> list[Piece]:
        """The beats of a measure that this voice parts by three, five or seven."""
        moments = {t for chord in inside for t in (chord.start, chord.end)}
        found = []
        for beat in self.grid.beats:
            stop = beat.start + beat.length
            if stop <= bar.start or beat.compound:
                continue
            if beat.start >= bar.start + bar.length:
                break
            offsets = {t - beat.start for t in moments if beat.start < t < stop}
            if beat.parts in _TUPLETS and any(16 * offset % beat.length for offset in offsets):
                kind = _TUPLETS[beat.parts]
                found.append(Piece(beat.start, stop, kind))
                self.tuplets.setdefault(kind, []).append(self.frame.measure_name(beat.start))
        return found

    def _tell_tuplets(self) -> None:
        for kind, places in sorted(self.tuplets.items()):
            where = tuple(dict.fromkeys(places))
            text = f"{len(places)} {'beat' if len(places) == 1 else 'beats'} read as {_WORDS[kind]}"
            self.findings.append(Finding(text, len(places), where, kept=True))

    def _tell(self, text: str) -> None:
        self.findings.append(Finding(text, 1, kept=True))
