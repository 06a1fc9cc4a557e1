"""Which parts of a file become the arrangement, and putting it together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import zip_longest

import msgspec
from msgspec import structs

from core.formats.imported import Ledger, OctaveDecision, PartChoice, PartInfo
from core.formats.lesson_json import from_text
from core.formats.musicxml_bind import bind, can_split, inner_bars, split, unsplit
from core.formats.musicxml_build import Builder, Ids, columns, mean, measure_of, voice_rows
from core.formats.musicxml_octave import decide, instrument_of
from core.formats.musicxml_pairs import join_parts, join_within, tablature_staves
from core.formats.musicxml_raw import RawMeasure, RawPart
from core.formats.musicxml_sections import sections
from core.formats.musicxml_spans import spans
from core.formats.musicxml_ties import ended
from core.formats.musicxml_values import Ticks
from core.model import (
    Arrangement,
    Base,
    ChordShape,
    Event,
    Lesson,
    Measure,
    Section,
    Settings,
    Source,
    SourcePart,
    Tempo,
    TempoMark,
    TextMark,
    Value,
)
from core.model.errors import BadInput
from core.model.measure import MOST_VOICES

Choose = Callable[[Sequence[PartInfo]], PartChoice]
Mark = tuple[str, Ticks, object]
FOR_ALL = frozenset({"tempo", "goal", "rehearsal", "sign"})
USUAL_TEMPO = Tempo(Value(Base.QUARTER), 60.0)


class Arranger:
    """The parts of one file on their way to a lesson."""

    def __init__(
        self,
        parts: Sequence[RawPart],
        ledger: Ledger,
        file_name: str,
        octave: int | None,
        ours: bool,
    ) -> None:
        self.parts = parts
        self.ledger = ledger
        self.file_name = file_name
        self.ours = ours
        self.ids = Ids()
        self.tablature: set[int] = set()
        self.staves = [join_within(part) for part in parts]
        self._join_tablature()
        for part in parts:
            for _ in range(bind(part)):
                ledger.drop("dynamic without a note", "dynamics without a note", "")
        self.instruments = [instrument_of(part) for part in parts]
        decided = [
            decide(part, instrument, octave, ours)
            for part, instrument in zip(parts, self.instruments, strict=True)
        ]
        self.shifts = [shift for shift, _ in decided]
        self.octaves: list[OctaveDecision] = [said for _, said in decided]

    def _join_tablature(self) -> None:
        for index, part in enumerate(self.parts[:-1]):
            if index not in self.tablature and join_parts(part, self.parts[index + 1]):
                self.tablature.add(index + 1)

    def lesson(
        self, choose: Choose | PartChoice | None
    ) -> tuple[Lesson, tuple[PartInfo, ...], tuple[OctaveDecision, ...]]:
        """The lesson, what became of each part, and the octaves of the parts it uses."""
        infos = [self._info(index) for index in range(len(self.parts))]
        choice = self._choice(infos, choose)
        used = [choice.melody] + ([] if choice.bass is None else [choice.bass])
        several = len(self.parts) - len(self.tablature) > 1
        roles = {choice.melody: "melody" if several else "guitar"}
        if choice.bass is not None:
            roles[choice.bass] = "bass"
        roles |= dict.fromkeys(self.tablature - {choice.melody}, "tablature")
        infos = [structs.replace(info, role=roles.get(info.index, "")) for info in infos]
        self._lengthen(self.parts[choice.melody])
        self._share_bars(choice.melody)
        self._split()
        self._share_lengths()
        arrangement, dropped = self._arrangement(used)
        kept: tuple[Source, ...] = ()
        if several or dropped:
            kept = (self._source(choice),)
        main = self.parts[choice.melody]
        lesson = Lesson(
            "", arrangement, self.ids.next, sources=kept,
            settings=Settings(staves=self._shown(main)),  # type: ignore[arg-type]
        )  # fmt: skip
        return lesson, tuple(infos), tuple(self.octaves[index] for index in used)

    def _share_lengths(self) -> None:
        """A measure is as long as in the part that says most of it."""
        for index in range(max(len(part.measures) for part in self.parts)):
            here = [part.measures[index] for part in self.parts if index < len(part.measures)]
            longest = max(raw.length for raw in here)
            for raw in here:
                raw.length = longest

    def _shown(self, part: RawPart) -> str:
        if not self.ours or any(index in self.tablature for index in (part.index + 1,)):
            return "staff and tab"
        tabs = tablature_staves(part)
        return "staff" if not tabs else "staff and tab" if len(part.clefs) > 1 else "tab"

    # ------------------------------------------------------------ parts

    def _info(self, index: int) -> PartInfo:
        part, shift = self.parts[index], self.shifts[index]
        pitches = [
            note.midi + shift for staff in self.staves[index] for _, _, note in part.notes(staff)
        ]
        return PartInfo(
            index, part.name, len(pitches), mean(pitches),
            min(pitches, default=None), max(pitches, default=None),
        )  # fmt: skip

    def _choice(self, infos: Sequence[PartInfo], choose: Choose | PartChoice | None) -> PartChoice:
        offered = [info for info in infos if info.index not in self.tablature]
        if choose is not None and len(offered) > 1:
            choice = choose if isinstance(choose, PartChoice) else choose(offered)
            for index in (choice.melody, choice.bass):
                if index is not None and not 0 <= index < len(self.parts):
                    raise BadInput(
                        f"{self.file_name} has no part {index + 1}; it has {len(self.parts)}."
                    )
            return PartChoice(choice.melody, None if choice.bass == choice.melody else choice.bass)
        sounding = [info for info in offered if info.mean_midi is not None]
        if not sounding:
            return PartChoice(offered[0].index)
        high = max(sounding, key=lambda info: (info.mean_midi, -info.index))
        low = min(sounding, key=lambda info: (info.mean_midi, -info.index))
        return PartChoice(high.index, None if low is high else low.index)

    def _lengthen(self, main: RawPart) -> None:
        """Measures that only longer parts have are empty ones of the main part."""
        longest = max(self.parts, key=lambda part: len(part.measures))
        for other in longest.measures[len(main.measures) :]:
            more = RawMeasure(other.index, other.number, other.implicit, other.metre, other.key)
            more.length, more.bars = other.length, other.bars
            main.measures.append(more)

    def _share_bars(self, main: int) -> None:
        """Repeats that only another part shows count for the main one."""
        if any(bar.repeat or bar.ending for m in self.parts[main].measures for bar in m.bars):
            return
        for part in self.parts:
            if any(bar.repeat or bar.ending for m in part.measures for bar in m.bars):
                for mine, theirs in zip(self.parts[main].measures, part.measures, strict=False):
                    if theirs.bars:
                        mine.bars = theirs.bars
                return

    def _split(self) -> None:
        """Measures with a repeat inside become two, in every part."""
        found: dict[int, Ticks] = {}
        for part in self.parts:
            for index, tick in inner_bars(part).items():
                found.setdefault(index, tick)
        for index in sorted(found, reverse=True):
            tick = found[index]
            for part in self.parts:
                if index >= len(part.measures):
                    continue
                if all(can_split(other, index, tick) for other in self.parts):
                    split(part, index, tick)
                else:
                    self.ledger.mend(
                        "Repeats inside a sounding note are moved to the barline",
                        part.measures[index].number,
                    )
        for part in self.parts:
            for measure in part.measures:
                unsplit(measure)

    # ------------------------------------------------------------ the arrangement

    def _builder(self, index: int, ids: Ids, ledger: Ledger) -> Builder:
        return Builder(
            self.parts[index], self.shifts[index], self.instruments[index], ids, ledger,
            self.file_name, self.ours,
        )  # fmt: skip

    def _arrangement(self, used: Sequence[int]) -> tuple[Arrangement, bool]:
        builders = [self._builder(index, self.ids, self.ledger) for index in used]
        if len(builders) > 1:
            # the second part must be playable on the guitar of the first
            builders[1].instrument = builders[0].instrument
        main = self.parts[used[0]]
        rows, dropped = self._rows(builders)
        if not self.ours:
            rows = ended(rows, main.measures, self.ledger)
        letters: dict[int, str] = {}
        measures: list[Measure] = []
        for index, raw in enumerate(main.measures):
            marks = list(self._marks(index, used))
            self._letters(index, raw, marks, letters)
            free = self._free(index, main.measures)
            measures.append(measure_of(builders[0], raw, rows[index], marks, free=free))
        measures = self._breaks(main, measures)
        made = sections(main.measures, measures, letters, self.ids, self.ledger)
        made = _with_letters_as_text(made, measures, letters)
        ends = [end for index in used for end in self.parts[index].ends]
        clef = main.clefs.get(1)
        return Arrangement(
            made,
            self.instruments[used[0]],
            measures[0].key,
            self._tempo(used),
            spans(ends, main.measures, measures, self.ids, self.ledger),
            clef is None or clef.octave < 0 or clef.sign != "G" or not self._an_octave_up(used[0]),
        ), dropped

    def _an_octave_up(self, index: int) -> bool:
        moved = any(semitones <= -12 for semitones, _ in self.parts[index].transpose.values())
        return moved or self.octaves[index].shift < 0

    def _rows(self, builders: Sequence[Builder]) -> tuple[list[list[list[Event]]], bool]:
        """For every measure the voices of the arrangement; whether some were left out."""
        tables = [
            columns(
                [
                    voice_rows(builder, raw, self.staves[builder.part.index])
                    for raw in builder.part.measures
                ],
                self.ours,
            )
            for builder in builders
        ]
        rows: list[list[list[Event]]] = []
        dropped = False
        limit = MOST_VOICES
        for index, raw in enumerate(builders[0].part.measures):
            order = _interleaved([t[index] if index < len(t) else [] for t in tables])
            for row in order[limit:]:
                for event in row:
                    for _ in event.notes:
                        dropped = True
                        self.ledger.drop(
                            "note of a further voice", "notes of further voices", raw.number
                        )
            rows.append(order[:limit])
        return rows, dropped

    def _marks(self, index: int, used: Sequence[int]) -> Iterator[Mark]:
        seen: list[Mark] = []
        for number in dict.fromkeys([*used, *range(len(self.parts))]):
            part = self.parts[number]
            if index >= len(part.measures):
                continue
            for mark in part.measures[index].marks:
                if number in used or mark[0] in FOR_ALL:
                    if mark[0] in FOR_ALL and mark in seen and not self.ours:
                        continue
                    seen.append(mark)
                    yield self._shape(mark)

    def _shape(self, mark: Mark) -> Mark:
        """A chord of ours whose figures the frame could not hold."""
        kind, tick, content = mark
        if kind != "shape" or not isinstance(content, dict):
            return mark
        try:
            return (
                "chord",
                tick,
                msgspec.convert(content.get("shape"), ChordShape, dec_hook=from_text),
            )
        except (msgspec.ValidationError, ValueError):
            return "damaged", tick, content

    def _letters(
        self, index: int, raw: RawMeasure, marks: list[Mark], letters: dict[int, str]
    ) -> None:
        for mark in [mark for mark in marks if mark[0] == "rehearsal"]:
            marks.remove(mark)
            _, tick, text = mark
            at_end = tick and tick >= raw.length
            place = index + 1 if at_end else index
            if (tick and not at_end) or place in letters:
                if letters.get(place) != text:
                    marks.append(("text", tick, TextMark(str(text))))
            else:
                letters[place] = str(text)

    def _free(self, index: int, raws: Sequence[RawMeasure]) -> bool:
        """Whether a measure may be shorter than its metre: ends of the piece and of repeats."""
        raw = raws[index]
        turning = any(bar.repeat or bar.ending for bar in raw.bars)
        before = raws[index - 1].bars if index else []
        after = raws[index + 1].bars if index + 1 < len(raws) else []
        return (
            index in (0, len(raws) - 1)
            or turning
            or any(bar.repeat == "backward" or bar.ending == "stop" for bar in before)
            or any(bar.repeat == "forward" for bar in after)
            or (index + 1 < len(raws) and raws[index + 1].implicit)
        )

    def _breaks(self, main: RawPart, measures: Sequence[Measure]) -> list[Measure]:
        """Line breaks and likenesses: those of our own files only."""
        rows = list(measures)
        for index, raw in enumerate(main.measures):
            if raw.new_system and index:
                if self.ours:
                    rows[index - 1] = structs.replace(rows[index - 1], line_break=True)
                else:
                    self.ledger.drop("line break", "line breaks", raw.number)
            like = raw.ours.get("same_as")
            if isinstance(like, int) and 0 <= like < len(measures):
                rows[index] = structs.replace(rows[index], same_as=measures[like].id)
        return rows

    def _tempo(self, used: Sequence[int]) -> Tempo:
        marks = list(self._marks(0, used))
        goals = [value for kind, _, value in marks if kind == "goal"]
        if goals and isinstance(goals[0], Tempo):
            return goals[0]
        for kind, tick, value in marks:
            shown = kind == "tempo" and tick == 0 and isinstance(value, TempoMark)
            if shown and value.beat is not None and value.per_minute is not None:  # type: ignore[attr-defined]
                return Tempo(value.beat, value.per_minute)  # type: ignore[attr-defined]
        return USUAL_TEMPO

    # ------------------------------------------------------------ the source

    def _source(self, choice: PartChoice) -> Source:
        """Every part as it came."""
        parts = []
        for index, part in enumerate(self.parts):
            if index in self.tablature:
                continue
            builder = self._builder(index, self.ids, Ledger())
            measures = []
            for place, raw in enumerate(part.measures):
                rows = voice_rows(builder, raw, self.staves[index]).values()
                free = self._free(place, part.measures)
                marks = [self._shape(mark) for mark in raw.marks]
                measures.append(measure_of(builder, raw, list(rows), marks, free=free))
            parts.append((index, SourcePart(part.name, tuple(measures))))
        places = {index: place for place, (index, _) in enumerate(parts)}
        return Source(
            self.file_name,
            tuple(part for _, part in parts),
            places.get(choice.melody),
            None if choice.bass is None else places.get(choice.bass),
        )


def _interleaved(found: Sequence[list[list[Event]]]) -> list[list[Event]]:
    """Melody 1, bass 1, melody 2, bass 2, ...; the first two keep their place even if empty."""
    if len(found) == 1:
        return found[0]
    melody, bass = found
    rows = [melody[0] if melody else [], bass[0] if bass else []]
    rest = [row for pair in zip_longest(melody[1:], bass[1:]) for row in pair if row]
    return [*rows, *rest]


def _with_letters_as_text(
    made: Sequence[Section], measures: Sequence[Measure], letters: dict[int, str]
) -> tuple[Section, ...]:
    """Letters inside a repeated section stand above the staff as text."""
    texts = {measures[i].id: text for i, text in letters.items() if i < len(measures)}
    if not texts:
        return tuple(made)
    rows = []
    for section in made:
        row = tuple(
            structs.replace(measure, marks=(TextMark(texts[measure.id]), *measure.marks))
            if measure.id in texts
            else measure
            for measure in section.measures
        )
        rows.append(structs.replace(section, measures=row))
    return tuple(rows)
