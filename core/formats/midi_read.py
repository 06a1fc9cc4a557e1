"""MIDI files read: a guess at the notation, and a report that shows the guess.

Standard MIDI File 1.1. The file says when and how high; metre, grid, voices and spelling are
worked out. Dynamics and how short notes were cut are not kept.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import count, pairwise
from pathlib import PurePath

from core.formats.imported import Imported, Ledger, PartChoice, PartInfo, Report
from core.formats.midi_grid import Bar, Grid, compound, exact, grid, on_grid
from core.formats.midi_guess import USUAL_MICROS, guessed_key, tell, tempo_changes
from core.formats.midi_raw import RawFile, RawLine, parse
from core.formats.midi_voices import Row, Writer, rows_of_line
from core.model import (
    TICKS_PER_QUARTER,
    Arrangement,
    BadInput,
    Base,
    Key,
    Length,
    Lesson,
    Measure,
    Metre,
    Section,
    Source,
    SourcePart,
    Tempo,
    TempoMark,
    Value,
)


def read(data: bytes, name: str = "The file", choice: PartChoice | None = None) -> Imported:
    """A lesson from a MIDI file. `choice` says which lines (a channel of a track) become melody
    and bass; else the highest and the lowest do. `name` begins the sentence of a BadInput.

    One section, or one for each marker at a bar line. Repeats stay written out.
    """
    ledger = Ledger()
    file = parse(data, name, ledger)
    points = grid(file, name)
    chosen = _chosen(file, choice)
    maker = _Maker(file, points, ledger, count(1), guessed_key(file))
    voices = maker.voices(chosen)
    measures = maker.measures(voices)
    sections = tuple(maker.sections(measures))
    sources = maker.sources(name, chosen) if len(file.lines) > 2 else ()
    tell(file, points, ledger)
    tempo = _goal(file, points.bars[0].metre)
    arrangement = Arrangement(sections, key=measures[0].key, tempo=tempo)
    lesson = Lesson(
        file.title or PurePath(name).stem or name, arrangement, next(maker.ids), sources=sources
    )
    return Imported(lesson, Report(_parts(file, chosen), findings=ledger.findings()))


def _mean(line: RawLine) -> float:
    return sum(note.midi for note in line.notes) / len(line.notes)


def _chosen(file: RawFile, choice: PartChoice | None) -> PartChoice:
    order = sorted(range(len(file.lines)), key=lambda n: _mean(file.lines[n]))
    found = choice or PartChoice(order[-1], order[0] if len(order) > 1 else None)
    for index in (found.melody, found.bass):
        if index is not None and not 0 <= index < len(file.lines):
            raise BadInput(f"There is no part {index + 1}; the file has {len(file.lines)}.")
    return found


def _parts(file: RawFile, chosen: PartChoice) -> tuple[PartInfo, ...]:
    def role(index: int) -> str:
        if len(file.lines) == 1:
            return "guitar"
        return {chosen.melody: "melody", chosen.bass: "bass"}.get(index, "")

    return tuple(
        PartInfo(
            index, line.name, len(line.notes), _mean(line), min(n.midi for n in line.notes),
            max(n.midi for n in line.notes), role(index),
        )
        for index, line in enumerate(file.lines)
    )  # fmt: skip


def _goal(file: RawFile, metre: Metre) -> Tempo:
    micros = next((value for tick, value in file.tempi if not tick), USUAL_MICROS)
    return _tempo(micros, metre)


def _tempo(micros: int, metre: Metre) -> Tempo:
    """The tempo in the metre's own beats: dotted quarters in 6/8."""
    beat = Value(Base.QUARTER, 1) if compound(metre) else Value(Base.QUARTER)
    quarters = Fraction(60_000_000, micros)
    per_minute = round(float(quarters * TICKS_PER_QUARTER / beat.ticks), 2)
    return Tempo(beat, min(600.0, max(5.0, per_minute)))


@dataclass(slots=True)
class _Maker:
    """Builds the measures of one file; lives for one `read`."""

    file: RawFile
    points: Grid
    ledger: Ledger
    ids: Iterator[int]
    key: Key

    def rows(self, index: int) -> list[Row]:
        """The two voices of a line."""
        played = self.file.lines[index].notes
        notes = on_grid(played, self.points, self.file)
        for _ in range(len(played) - len(notes)):
            self.ledger.drop("doubled note", "doubled notes", "")
        return rows_of_line(notes, self.ledger, self.points.name_at)

    def voices(self, chosen: PartChoice) -> list[Row]:
        """The voices of the arrangement: upper and lower of one line, or those of two."""
        melody = self.rows(chosen.melody)
        if chosen.bass is None or chosen.bass == chosen.melody:
            upper, lower = (sum(len(c.pitches) for c in row.chords) for row in melody)
            if lower:
                self.ledger.mend(
                    f"One line is parted into melody ({upper} notes) and bass ({lower} notes) by "
                    "what is held and by pitch: please check"
                )
            return melody
        bass = self.rows(chosen.bass)
        return [melody[0], bass[0], melody[1], bass[1]]

    def measures(self, voices: Sequence[Row], plain: bool = False) -> list[Measure]:
        """Every bar as a measure; plain ones carry no tempo marks."""
        writer = Writer(self.points, self.ids)
        marks = {} if plain else self.tempo_marks()
        made = []
        for index, bar in enumerate(self.points.bars):
            key = self._key_at(bar)
            number = next(self.ids)
            rows = [writer.bar(row, bar, key) for row in voices]
            rows[0] = rows[0] or writer.rest(bar, key)
            while len(rows) > 1 and not rows[-1]:
                rows.pop()
            made.append(
                Measure(
                    number, bar.metre, key, tuple(rows),
                    marks=tuple(marks.get(index, ())),
                    own_length=Length(bar.length) if bar.own else None,
                    counted=not (index == 0 and bar.own),
                )
            )  # fmt: skip
        return made

    def _key_at(self, bar: Bar) -> Key:
        starts = [exact(tick, self.file) for tick, _ in self.file.keys]
        after = bisect_right(starts, bar.start)
        if after:
            return self.file.keys[after - 1][1]
        return self.file.keys[0][1] if self.file.keys else self.key

    def tempo_marks(self) -> dict[int, list[TempoMark]]:
        """Bar index -> the tempo changes in it that can be noticed, on the grid."""
        table: dict[int, list[TempoMark]] = {}
        for tick, micros in tempo_changes(self.file, self.points, self.ledger):
            at = self.points.snap(exact(tick, self.file))
            index = self.points.bar_at(at)
            bar = self.points.bars[index]
            tempo = _tempo(micros, bar.metre)
            if at < bar.start + bar.length:
                mark = TempoMark(
                    Length(at - bar.start), beat=tempo.beat, per_minute=tempo.per_minute
                )
                table.setdefault(index, []).append(mark)
        return table

    def sections(self, measures: Sequence[Measure]) -> Iterator[Section]:
        """The measures from marker to marker; a marker inside a bar is left out."""
        starts = {bar.start: index for index, bar in enumerate(self.points.bars)}
        names = {0: ""}
        for tick, text in self.file.markers:
            index = starts.get(self.points.snap(exact(tick, self.file)))
            if index is None:
                self.ledger.drop("marker inside a measure", "markers inside a measure", "")
            else:
                names[index] = text
        borders = [*sorted(names), len(measures)]
        for first, last in pairwise(borders):
            letter, _, title = names[first].partition(" ")
            if len(letter) != 1:
                letter, title = "", names[first]
            yield Section(next(self.ids), tuple(measures[first:last]), letter=letter, title=title)

    def sources(self, name: str, chosen: PartChoice) -> tuple[Source, ...]:
        """All lines of a file with more than two, kept as they came."""
        quiet = _Maker(self.file, self.points, Ledger(), self.ids, self.key)
        parts = tuple(
            SourcePart(line.name, tuple(quiet.measures(quiet.rows(index), plain=True)))
            for index, line in enumerate(self.file.lines)
        )
        return (Source(name, parts, chosen.melody, chosen.bass),)
