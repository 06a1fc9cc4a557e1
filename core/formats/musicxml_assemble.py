"""Measures, their marks, and the head of the lesson, from what the parts of a file say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import msgspec
from msgspec import structs

from core.formats.imported import Ledger
from core.formats.lesson_json import from_text
from core.formats.musicxml_container import Element
from core.formats.musicxml_form import Bars
from core.formats.musicxml_lines import Line
from core.formats.musicxml_names import SOFTWARE
from core.formats.musicxml_raw import RawDynamic, RawEvent, RawMeasure, RawPart
from core.formats.musicxml_values import Ticks
from core.formats.musicxml_voices import VoiceBuilder
from core.model import (
    Articulation,
    ChordMark,
    ChordShape,
    Dynamic,
    Event,
    Instrument,
    Key,
    Length,
    Measure,
    MeasureMark,
    Metre,
    OtherVersion,
    PositionMark,
    Sign,
    SourceCard,
    Tempo,
    TempoMark,
    TextMark,
)
from core.model.measure import MOST_VOICES

NO_METRE = Metre((4,), 4)


# ---------------------------------------------------------------- head


@dataclass(slots=True)
class Head:
    """Title, source card and what our own files say of the instrument."""

    title: str = ""
    card: SourceCard = SourceCard()
    instrument: Instrument = Instrument()
    key: Key | None = None
    ours: bool = False

    def tempo_of(self, goals: Sequence[object], first: Measure) -> Tempo | None:
        """The goal tempo: the one said without being shown, else the first mark's."""
        for goal in goals:
            if isinstance(goal, Tempo):
                return goal
        for mark in first.marks:
            if isinstance(mark, TempoMark) and mark.beat and mark.per_minute and not mark.at.ticks:
                return Tempo(mark.beat, mark.per_minute)
        return None


def lesson_head(root: Element, ledger: Ledger) -> Head:
    """Title, credits and our own fields of a score."""
    software = [(s.text or "").strip() for s in root.iterfind("identification/encoding/software")]
    head = Head(ours=SOFTWARE in software)
    credits = {
        (credit.findtext("credit-type") or "").strip(): _plain(credit.findtext("credit-words"))
        for credit in root.iterfind("credit")
    }
    titles = (_plain(root.findtext(path)) for path in ("movement-title", "work/work-title"))
    head.title = next((t for t in titles if t), "") or credits.get("title", "")
    fields = {
        field.get("name", ""): (field.text or "")
        for field in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    head.card = _card(root, fields, head.ours)
    if head.ours:
        head.title = root.findtext("work/work-title") or ""
        _our_fields(head, fields, ledger)
    return head


def _card(root: Element, fields: dict[str, str], ours: bool) -> SourceCard:
    creators: dict[str, list[str]] = {}
    for creator in root.iterfind("identification/creator"):
        text = (creator.text or "") if ours else _plain(creator.text)
        creators.setdefault(creator.get("type", "composer"), []).append(text)
    composer = ", ".join(creators.pop("composer", []))
    rights = [(r.text or "") if ours else _plain(r.text) for r in root.iterfind("identification/rights")]
    edition = root.findtext("identification/source") or ""
    if ours:
        return SourceCard(
            composer, fields.get("credit", ""), fields.get("year", ""), edition,
            "; ".join(rights), fields.get("notes", ""),
        )  # fmt: skip
    others = "; ".join(f"{kind}: {', '.join(names)}" for kind, names in creators.items() if names)
    return SourceCard(composer, composer, "", _plain(edition), "; ".join(rights), others)


def _plain(text: str | None) -> str:
    return " ".join((text or "").split())


def _our_fields(head: Head, fields: dict[str, str], ledger: Ledger) -> None:
    try:
        if "key" in fields:
            head.key = Key.parse(fields["key"])
        if "instrument" in fields:
            said = msgspec.json.decode(fields["instrument"], type=dict[str, object])
            known = {k: v for k, v in said.items() if k in ("scale_mm", "nut_mm", "highest_fret", "hand")}
            head.instrument = msgspec.convert(known, Instrument, dec_hook=from_text)
    except (ValueError, msgspec.DecodeError):
        ledger.mend("Damaged fields of the program's own are left out")


def part_heads(root: Element) -> Iterator[tuple[Element, RawPart]]:
    """Each ``<part>`` with its name, program and sound from the part list."""
    listed = {row.get("id", ""): row for row in root.iterfind("part-list/score-part")}
    for index, element in enumerate(root.iterfind("part")):
        part_id = element.get("id", "")
        row = listed.get(part_id)
        name = sound = ""
        program = None
        if row is not None:
            name = _plain(row.findtext("part-name"))
            named = _plain(row.findtext("score-instrument/instrument-name"))
            sound = (row.findtext("score-instrument/instrument-sound") or "") + " " + named.lower()
            text = (row.findtext("midi-instrument/midi-program") or "").strip()
            program = int(text) if re.fullmatch(r"\d{1,3}", text) else None
        yield element, RawPart(index, part_id, name, program, sound)


# ---------------------------------------------------------------- measures


@dataclass(slots=True)
class MeasureMaker:
    """Makes the measures of some lines. `plain` ones (sources) carry notes only."""

    parts: Sequence[RawPart]
    lines: Sequence[Line]
    ids: Iterator[int]
    ledger: Ledger
    file_name: str
    plain: bool = False
    inner: frozenset[int] = frozenset()
    builders: list[VoiceBuilder] = field(default_factory=list)
    dynamics: dict[tuple[int, int], list[RawDynamic]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for line in dict.fromkeys(line.part for line in self.lines):
            for dynamic in line.dynamics:
                self.dynamics.setdefault((id(line), dynamic.measure), []).append(dynamic)

    def measure(self, index: int, bars: Sequence[Bars]) -> Measure:
        raw = self._raw(index)
        number = next(self.ids)
        if not self.plain:
            self._bind_dynamics(index)
        voices = self._voices(index)
        length = self._length(index)
        metre = raw.metre or NO_METRE
        own = self._own_length(raw, metre, length)
        made = Measure(
            number, metre, self._key(raw), voices, own_length=own, counted=self._counted(raw, own)
        )
        if self.plain:
            return made
        marks, signs = self._marks(index, made, bars)
        after = self._at(index + 1)
        style = bars[index].style
        if not style and index + 1 < len(bars) and bars[index + 1].left_style == "double":
            style = "double"
        return structs.replace(
            made, marks=marks, signs=signs, barline=style,
            line_break=any(m.new_system for m in after), others=self._versions(raw),
        )  # fmt: skip

    def _at(self, index: int) -> list[RawMeasure]:
        return [part.measures[index] for part in self.parts if index < len(part.measures)]

    def _raw(self, index: int) -> RawMeasure:
        own = self.lines[0].part.measures
        return own[index] if index < len(own) else self._at(index)[0]

    def _length(self, index: int) -> Ticks:
        """How long the measure is over all parts."""
        return max(measure.length for measure in self._at(index))

    def _key(self, raw: RawMeasure) -> Key:
        """The sounding key: a transposed part's signature moves with its notes."""
        line = self.lines[0]
        if line.semitones % 12 == 0:
            return raw.key
        fifths = raw.key.fifths + 7 * line.semitones - 12 * line.steps
        fifths = fifths if -7 <= fifths <= 7 else (fifths + 5) % 12 - 5
        return Key(max(-7, min(7, fifths)), raw.key.mode)

    def _own_length(self, raw: RawMeasure, metre: Metre, length: Ticks) -> Length | None:
        said = raw.ours.get("measure")
        if isinstance(said, dict):
            text = said.get("length")
            try:
                return Length.parse(text) if isinstance(text, str) else None
            except ValueError:
                return None
        ticks = self._rounded(length, raw)
        if ticks <= 0 or ticks == metre.ticks or abs(length - metre.ticks) <= raw.rounded:
            return None
        unmeasured = raw.metre is None
        if ticks < metre.ticks or raw.implicit or unmeasured:
            return Length(ticks)
        self.ledger.mend("Measures hold more than their metre", raw.number)
        return None

    def _rounded(self, length: Ticks, raw: RawMeasure) -> int:
        if length == int(length):
            return int(length)
        filled = [builder.filled for builder in self.builders]
        return max(filled, default=int(length))

    def _counted(self, raw: RawMeasure, own: Length | None) -> bool:
        if raw.implicit and not raw.ours.get("split"):
            return False
        return not (raw.index == 0 and own is not None and raw.number == "0")

    def _voices(self, index: int) -> tuple[tuple[Event, ...], ...]:
        rows = []
        for line, builder in zip(self.lines, self.builders, strict=True):
            if index < len(line.events):
                rows.append(builder.voices(line.part.measures[index], line.events[index]))
            else:
                rows.append(((),))
        if len(rows) == 1:
            return rows[0]
        melody, bass = rows
        further = [*melody[1:], *bass[1:]]
        room = MOST_VOICES - 2
        for row in further[room:]:
            for event in row:
                for _ in event.notes:
                    self.ledger.drop(
                        "note that four voices do not hold", "notes that four voices do not hold",
                        self._raw(index).number,
                    )  # fmt: skip
        joined = [melody[0], bass[0], *further[:room]]
        while len(joined) > 1 and not joined[-1]:
            joined.pop()
        return tuple(joined)

    # ------------------------------------------------------------ what stands at moments

    def _bind_dynamics(self, index: int) -> None:
        """Give dynamics (and damping signs) of the lines' parts to their events."""
        for line in self.lines:
            rows = self.dynamics.get((id(line.part), index), [])
            here = line.events[index] if index < len(line.events) else []
            for dynamic in rows:
                if dynamic.staff != line.staff and len(self._staves(line)) > 1:
                    continue
                event = dynamic.event
                if event is None or all(event is not other for other in here):
                    event = _nearest(here, dynamic.tick)
                if event is None:
                    text = "dynamic without a note", "dynamics without notes"
                    self.ledger.drop(*text, line.part.measures[index].number)
                else:
                    mark = _mark(dynamic.text)
                    if mark not in event.marks:
                        event.marks.append(mark)

    def _staves(self, line: Line) -> list[Line]:
        return [other for other in self.lines if other.part is line.part]

    def _marks(
        self, index: int, measure: Measure, bars: Sequence[Bars]
    ) -> tuple[tuple[MeasureMark, ...], tuple[Sign, ...]]:
        marks: list[MeasureMark] = []
        signs: list[Sign] = []
        main = {id(line.part) for line in self.lines}
        for part in self.parts:
            rows = part.measures[index].marks if index < len(part.measures) else []
            for kind, tick, content in rows:
                at = Length(int(max(0, min(tick, measure.length_ticks))))
                if kind == "sign" and isinstance(content, Sign):
                    signs += self._sign(content, tick, signs)
                    continue
                mark = _measure_mark(kind, content, at)
                if mark is None or (id(part) not in main and kind != "tempo"):
                    continue
                if id(part) == id(self.lines[0].part) or mark not in marks:
                    marks.append(mark)
        inside = bars[index].rehearsal
        if inside is not None and index in self.inner:
            marks.insert(0, TextMark(inside))
        return tuple(marks), tuple(signs)

    def _sign(self, sign: Sign, tick: Ticks, signs: Sequence[Sign]) -> list[Sign]:
        return [] if any(sign.kind == other.kind for other in signs) else [sign]

    def _versions(self, raw: RawMeasure) -> tuple[OtherVersion, ...]:
        rows = raw.ours.get("versions")
        found = []
        for row in rows if isinstance(rows, list) else []:
            try:
                version = msgspec.convert(row, OtherVersion, dec_hook=from_text)
            except (ValueError, msgspec.ValidationError):
                self.ledger.drop("damaged other version", "damaged other versions", raw.number)
                continue
            found.append(self._with_ids(version))
        return tuple(found)

    def _with_ids(self, version: OtherVersion) -> OtherVersion:
        return structs.replace(
            version,
            voices=tuple(
                tuple(
                    structs.replace(
                        event,
                        id=next(self.ids),
                        notes=tuple(structs.replace(n, id=next(self.ids)) for n in event.notes),
                    )
                    for event in row
                )
                for row in version.voices
            ),
        )


def _nearest(events: Sequence[RawEvent], tick: Ticks) -> RawEvent | None:
    """The event at a moment or after it, else the last one before."""
    ordered = sorted(events, key=lambda event: event.onset)
    return next((e for e in ordered if e.onset >= tick), ordered[-1] if ordered else None)


def _mark(text: str) -> Dynamic | Articulation:
    return Articulation("damp") if text == "\0damp" else Dynamic(text)


def _measure_mark(kind: str, content: object, at: Length) -> MeasureMark | None:
    if kind == "chord" and isinstance(content, ChordShape):
        return ChordMark(content, at)
    if kind == "shape" and isinstance(content, dict):
        try:
            shape = msgspec.convert(content.get("shape"), ChordShape, dec_hook=from_text)
        except (ValueError, msgspec.ValidationError):
            return None
        return ChordMark(shape, at)
    if isinstance(content, TempoMark | TextMark | PositionMark):
        return structs.replace(content, at=at)
    return None

