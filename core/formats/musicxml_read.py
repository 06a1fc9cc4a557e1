"""Reading a MusicXML 4.0 file into a lesson; what is not kept stands in the report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count

from msgspec import structs

from core.formats.imported import Imported, Ledger, OctaveDecision, PartChoice, PartInfo, Report
from core.formats.musicxml_assemble import MeasureMaker, lesson_head, part_heads
from core.formats.musicxml_container import root_of
from core.formats.musicxml_form import RawSection, bars_of, sections_of, split_at_repeats
from core.formats.musicxml_lines import (
    Line,
    decide_octave,
    fold_tablature,
    lines_of,
    tuning_of,
)
from core.formats.musicxml_raw import RawPart
from core.formats.musicxml_read_part import PartReader
from core.formats.musicxml_spans import SpanMaker
from core.formats.musicxml_voices import VoiceBuilder
from core.model import (
    STANDARD,
    Arrangement,
    Ending,
    Instrument,
    Lesson,
    Measure,
    Pitch,
    Section,
    Source,
    SourcePart,
    Span,
)
from core.model.errors import BadInput
from core.model.validate import problems


def read(
    data: bytes,
    name: str = "The file",
    choose: PartChoice | None = None,
    octave_shift: int | None = None,
) -> Imported:
    """A lesson from a MusicXML file's bytes; `name` begins the sentence of a BadInput.

    Of several parts the one with the highest mean pitch becomes voice 1 and the one with the
    lowest voice 2, or those of `choose`; all are kept as the lesson's source. `octave_shift`
    overrides the octave of guitar parts: octaves from the file's pitch to the sounding one.
    """
    return _Reading(data, name, octave_shift).imported(choose)


def parts(data: bytes, name: str = "The file") -> tuple[PartInfo, ...]:
    """The parts of a file to choose from, without building the lesson."""
    reading = _Reading(data, name, None)
    return tuple(line.info(index) for index, line in enumerate(reading.lines))


class _Reading:
    """One reading of one file."""

    def __init__(self, data: bytes, name: str, octave_shift: int | None) -> None:
        self.name = name
        self.ledger = Ledger()
        self.root = root_of(data, name)
        self.head = lesson_head(self.root, self.ledger)
        self.parts = self._parts()
        split_at_repeats(self.parts, name, self.ledger)
        found = [tuning for part in self.parts if (tuning := tuning_of(part)) is not None]
        every = lines_of(self.parts)
        for line in every:
            own = tuning_of(line.part)
            tuning = own or (found[0] if found and not line.tab else None)
            strings = tuple(map(Pitch.parse, STANDARD)) if tuning is None else tuning[1]
            capo = 0 if tuning is None else tuning[0].capo or 0
            decide_octave(line, strings, capo, octave_shift)
        strings = found[0][1] if found else tuple(map(Pitch.parse, STANDARD))
        self.tab_names = [line.name for line in every if line.tab]
        self.lines = fold_tablature(every, strings, self.ledger)

    def _parts(self) -> list[RawPart]:
        rows = []
        for element, part in part_heads(self.root):
            PartReader(part, self.ledger, self.name, self.head.ours).read(element)
            if part.measures:
                rows.append(part)
        return rows

    # ------------------------------------------------------------ putting the lesson together

    def imported(self, choose: PartChoice | None) -> Imported:
        chosen = self._chosen(choose)
        ids = count(1)
        instrument = self._instrument(chosen[0])
        sources = self._sources(chosen, ids, instrument)
        bars = [bars_of(self.parts, index) for index in range(self._length())]
        numbers = [self._number(index) for index in range(len(bars))]
        form = sections_of(bars, numbers, self.ledger)
        inner = frozenset(i for raw in form for i in range(raw.first + 1, raw.last + 1))
        maker = MeasureMaker(self.parts, chosen, ids, self.ledger, self.name, inner=inner)
        for line in chosen:
            maker.builders.append(self._builder(line, instrument, ids, self.ledger))
        measures = [maker.measure(index, bars) for index in range(len(bars))]
        sections = tuple(_section(raw, measures, ids) for raw in form)
        spans = self._spans(chosen, measures, ids)
        arrangement = self._arrangement(chosen, sections, instrument, spans)
        lesson = Lesson(
            self.head.title, arrangement, next(ids), self.head.card, sources
        )  # fmt: skip
        self._check(lesson)
        return Imported(lesson, self._report(chosen))

    def _length(self) -> int:
        return max(len(part.measures) for part in self.parts)

    def _chosen(self, choose: PartChoice | None) -> list[Line]:
        """Melody and, if there is another line, bass."""
        if choose is not None:
            wanted = [choose.melody] + ([] if choose.bass is None else [choose.bass])
            if any(not 0 <= index < len(self.lines) for index in wanted):
                raise BadInput(f"{self.name} has {len(self.lines)} parts; choose among those.")
            return list(dict.fromkeys(self.lines[index] for index in wanted))
        if len(self.lines) == 1:
            return self.lines
        means = [(line.info(0).mean_midi or 0.0, -index) for index, line in enumerate(self.lines)]
        melody = self.lines[-max(means)[1]]
        bass = self.lines[-min((mean, index) for mean, index in means)[1]]
        return [melody, bass] if bass is not melody else [melody]

    def _instrument(self, line: Line) -> Instrument:
        found = tuning_of(line.part)
        if found is None and line.guitar:
            others = (tuning_of(part) for part in self.parts)
            found = next((tuning for tuning in others if tuning is not None), None)
        strings = self.head.instrument.strings if found is None else found[1]
        capo = 0 if found is None else found[0].capo or 0
        return structs.replace(self.head.instrument, strings=strings, capo=capo)

    def _number(self, index: int) -> str:
        return next(p.measures[index].number for p in self.parts if index < len(p.measures))

    def _builder(
        self, line: Line, instrument: Instrument, ids: Iterator[int], ledger: Ledger
    ) -> VoiceBuilder:
        return VoiceBuilder(line, instrument, ids, ledger, self.name, self.head.ours)

    def _sources(
        self, chosen: Sequence[Line], ids: Iterator[int], instrument: Instrument
    ) -> tuple[Source, ...]:
        """All parts as they came, where there are several."""
        if len(self.lines) == 1:
            return ()
        quiet = Ledger()
        rows = []
        for line in self.lines:
            maker = MeasureMaker(self.parts, [line], ids, quiet, self.name, plain=True)
            maker.builders.append(self._builder(line, instrument, ids, quiet))
            length = len(line.part.measures)
            measures = tuple(maker.measure(index, ()) for index in range(length))
            rows.append(SourcePart(line.name, measures))
        bass = self.lines.index(chosen[1]) if len(chosen) > 1 else None
        return (Source(self.name, tuple(rows), self.lines.index(chosen[0]), bass),)

    def _spans(
        self, chosen: Sequence[Line], measures: Sequence[Measure], ids: Iterator[int]
    ) -> tuple[Span, ...]:
        spans: list[Span] = []
        measure_ids = [measure.id for measure in measures]
        for part in dict.fromkeys(line.part for line in chosen):
            lines = [line for line in chosen if line.part is part]
            maker = SpanMaker(lines, measure_ids, ids, self.ledger)
            spans += maker.spans()
        return tuple(spans)

    def _arrangement(
        self,
        chosen: Sequence[Line],
        sections: tuple[Section, ...],
        instrument: Instrument,
        spans: tuple[Span, ...],
    ) -> Arrangement:
        first = sections[0].measures[0]
        clef = chosen[0].part.clefs.get(chosen[0].staff)
        plain = clef is not None and clef.sign == "G" and clef.octave == 0
        shows = not (plain and chosen[0].semitones == -12)
        tempos = [
            content
            for part in self.parts
            for measure in part.measures[:1]
            for kind, _, content in measure.marks
            if kind == "goal"
        ]
        arrangement = Arrangement(sections, instrument, self.head.key or first.key, spans=spans,
                                  clef_shows_octave=shows)  # fmt: skip
        tempo = self.head.tempo_of(tempos, first)
        return arrangement if tempo is None else structs.replace(arrangement, tempo=tempo)

    def _check(self, lesson: Lesson) -> None:
        found = problems(lesson)
        if found:
            raise BadInput(f"{self.name} cannot be made a lesson: {found[0].sentence}")

    def _report(self, chosen: Sequence[Line]) -> Report:
        infos = []
        octaves: list[OctaveDecision] = []
        for index, line in enumerate(self.lines):
            role = ""
            if line in chosen:
                both = ("melody", "bass")
                role = "guitar" if len(self.lines) == 1 else both[list(chosen).index(line)]
                if line.decision is not None:
                    octaves.append(line.decision)
            infos.append(structs.replace(line.info(index), role=role))
        return Report(tuple(infos), tuple(octaves), self.ledger.findings())


def _section(raw: RawSection, measures: Sequence[Measure], ids: Iterator[int]) -> Section:
    row = tuple(measures[raw.first : raw.last + 1])
    endings = tuple(
        Ending(ending.passes, measures[ending.first].id, measures[ending.last].id, ending.closed)
        for ending in raw.endings
    )
    return Section(next(ids), row, raw.letter, raw.title, raw.times, endings)
