"""From the events of a line to the voices of measures: gaps, overlaps, ties, places, fingers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from core.formats.imported import Ledger
from core.formats.musicxml_frames import finger_of
from core.formats.musicxml_lines import Line
from core.formats.musicxml_raw import RawEvent, RawMeasure, RawNote
from core.formats.musicxml_values import Ticks, several
from core.model import (
    Breath,
    Event,
    Fermata,
    Finger,
    Fingering,
    Harmonic,
    Instrument,
    Label,
    Note,
    Origin,
    Pitch,
    Place,
    Pluck,
)
from core.model.errors import BadInput
from core.model.instrument import HIGHEST_FRET
from core.model.measure import MOST_VOICES
from core.model.notes import HARMONIC_SEMITONES

Voices = tuple[tuple[Event, ...], ...]
MIDDLE_LINE = {("G", 2): 34, ("F", 4): 22, ("C", 3): 28, ("C", 4): 26, ("G", 1): 36, ("F", 3): 24}


@dataclass(slots=True)
class VoiceBuilder:
    """Makes voices of one line. Every raw event and note learns the ids it got."""

    line: Line
    instrument: Instrument
    ids: Iterator[int]
    ledger: Ledger
    file_name: str
    ours: bool = False
    table: dict[str, int] = field(default_factory=dict)
    number: str = ""
    filled: int = 0

    def __post_init__(self) -> None:
        names = {event.voice for row in self.line.events for event in row}
        ordered = sorted(names, key=lambda name: (not name.isdecimal(), name.zfill(4)))
        if self.ours:
            self.table = {n: (int(n) - 1) % MOST_VOICES for n in ordered if n.isdecimal()}
        elif len(ordered) <= MOST_VOICES:
            self.table = {name: index for index, name in enumerate(ordered)}

    def voices(self, measure: RawMeasure, events: list[RawEvent]) -> Voices:
        """The voices of one measure; empty ones at the end are left off."""
        self.number = measure.number
        rows = self._parted(measure, events)
        built = [self._row(measure, row) for row in rows]
        while len(built) > 1 and not built[-1]:
            built.pop()
        self.filled = max((sum(event.ticks for event in row) for row in built), default=0)
        return tuple(built) or ((),)

    # ------------------------------------------------------------ who is in which voice

    def _parted(self, measure: RawMeasure, events: list[RawEvent]) -> list[list[RawEvent]]:
        table = self.table
        if not table:
            names = sorted({e.voice for e in events}, key=lambda name: name.zfill(4))
            table = {name: index for index, name in enumerate(names)}
        most = max([MOST_VOICES, *(index + 1 for index in table.values())])
        rows: list[list[RawEvent]] = [[] for _ in range(most)]
        homeless: list[RawEvent] = []
        for event in sorted(events, key=lambda event: event.onset):
            row = rows[table.get(event.voice, 0)]
            if row and _end(row[-1]) - event.onset > measure.rounded:
                homeless.append(event)
            else:
                row.append(event)
        homeless += [event for row in rows[MOST_VOICES:] for event in row]
        del rows[MOST_VOICES:]
        for event in homeless:
            self._house(measure, rows, event)
        return rows

    def _house(self, measure: RawMeasure, rows: list[list[RawEvent]], event: RawEvent) -> None:
        """Find room in another voice for an event that overlaps its own."""
        if not event.notes:
            return
        for row in sorted(rows, key=len):
            if all(_apart(event, other, measure.rounded) for other in row):
                row.append(event)
                row.sort(key=lambda other: other.onset)
                self.ledger.mend(
                    "Notes that overlap inside a voice are moved to a voice of their own",
                    measure.number,
                )
                return
        for _ in event.notes:
            self.ledger.drop(
                "note that four voices do not hold", "notes that four voices do not hold",
                measure.number,
            )  # fmt: skip

    def _row(self, measure: RawMeasure, raw: list[RawEvent]) -> tuple[Event, ...]:
        row: list[Event] = []
        cursor: Ticks = 0
        for event in raw:
            gap = event.onset - cursor
            if gap > measure.rounded:
                row += self._gap(measure, gap)
                cursor = event.onset
            row += self._events(event)
            cursor += event.ticks
        return tuple(row)

    def _gap(self, measure: RawMeasure, gap: Ticks) -> Iterator[Event]:
        """Hidden rests for time a voice says nothing in."""
        values = several(gap)
        if values is None:
            raise BadInput(
                f"{self.file_name}, measure {measure.number}: "
                "a voice begins at a moment that cannot be written."
            )
        for value in values:
            yield Event(next(self.ids), value, hidden=True)

    # ------------------------------------------------------------ events and notes

    def _events(self, raw: RawEvent) -> Iterator[Event]:
        last = len(raw.values) - 1
        for index, value in enumerate(raw.values):
            event_id = next(self.ids)
            raw.last_id = event_id
            if index == 0:
                raw.event_id = event_id
            late = [mark for mark in raw.marks if isinstance(mark, Fermata | Breath)]
            early = [mark for mark in raw.marks if not isinstance(mark, Fermata | Breath)]
            marks = (raw.marks if last == 0 else
                     early * (index == 0) + late * (index == last))  # fmt: skip
            notes = tuple(self._note(raw, note, index, last) for note in raw.notes)
            yield Event(
                event_id, value, notes, tuple(marks), raw.grace if index == 0 else None,
                raw.hidden, self._rest_line(raw),
            )  # fmt: skip

    def _rest_line(self, raw: RawEvent) -> int | None:
        if raw.rest_at is None or raw.notes:
            return None
        step, octave = raw.rest_at
        clef = self.line.part.clefs.get(self.line.staff)
        middle = 34
        if clef is not None:
            middle = MIDDLE_LINE.get((clef.sign, clef.line), 34) + 7 * clef.octave
        if step not in "CDEFGAB":
            return None
        away = 7 * octave + "CDEFGAB".index(step) - middle
        return away if abs(away) <= 20 else None

    def _note(self, event: RawEvent, raw: RawNote, index: int, last: int) -> Note:
        note_id = next(self.ids)
        pitch = self.line.pitch(raw)
        if index > 0:
            return Note(note_id, pitch, self._place(raw, pitch), tied=raw.tie or index < last)
        raw.note_id, raw.event_id = note_id, event.event_id
        harmonic = self._harmonic(raw)
        if harmonic is not None:
            pitch = self._harmonic_pitch(raw, harmonic, pitch)
        finger, substitute, second = self._fingers(raw)
        return Note(
            note_id,
            pitch,
            self._place(raw, pitch),
            finger,
            self._pluck(raw),
            tied=raw.tie or last > 0,
            accidental=raw.accidental_kind,  # type: ignore[arg-type]
            let_ring=raw.let_ring,
            harmonic=harmonic,
            circled=self._circled(raw),
            guide=raw.guide,
            substitute=substitute,
            bend=raw.bend,
            small=raw.small,
            alternative=second,
        )

    def _circled(self, raw: RawNote) -> bool:
        if raw.circled is not None:
            return raw.circled
        return raw.string is not None and raw.fret is None

    def _place(self, raw: RawNote, pitch: Pitch) -> Label[Place] | None:
        string, fret = raw.string, raw.fret
        if string is None:
            if fret is not None:
                self._misplaced()
            return None
        if string > len(self.instrument.strings):
            return self._misplaced()
        open_midi = self.instrument.open_midi(string)
        if raw.harmonic == "natural":
            return Label(Place(string, 0), Origin.SOURCE)
        if fret is None:
            fret = pitch.midi - open_midi
        right = raw.harmonic == "artificial" or open_midi + fret == pitch.midi
        if not right or not 0 <= fret <= HIGHEST_FRET:
            return self._misplaced()
        return Label(Place(string, fret), Origin.SOURCE)

    def _misplaced(self) -> None:
        self.ledger.drop(
            "string and fret that do not sound the note",
            "strings and frets that do not sound their notes",
            self.number,
        )

    def _harmonic(self, raw: RawNote) -> Harmonic | None:
        if raw.harmonic == "natural":
            return Harmonic("natural", raw.touched_fret or raw.fret or 12)
        if raw.harmonic == "artificial":
            return Harmonic("artificial", raw.touched_fret or (raw.fret or 0) + 12)
        return None

    def _harmonic_pitch(self, raw: RawNote, harmonic: Harmonic, pitch: Pitch) -> Pitch:
        """The sounding pitch, where the file writes the touched or the stopped one."""
        if raw.harmonic_pitch == "sounding-pitch" or harmonic.kind != "natural":
            return pitch
        if raw.string is None or raw.string > len(self.instrument.strings):
            return pitch
        open_midi = self.instrument.open_midi(raw.string)
        rise = HARMONIC_SEMITONES.get(harmonic.touched_fret)
        touched = pitch.midi == open_midi + harmonic.touched_fret
        if rise is None or open_midi + rise == pitch.midi:
            return pitch
        if touched or raw.harmonic_pitch in ("touching-pitch", "base-pitch"):
            self.ledger.mend("Harmonics are written at the pitch that sounds", self.number)
            return Pitch.from_midi(open_midi + rise)
        return pitch

    def _pluck(self, raw: RawNote) -> Label[Pluck] | None:
        text = raw.pluck.lower()
        for figure, _, _ in raw.fingers:
            if not text and figure.lower() in ("p", "i", "m", "a", "c"):
                text = figure.lower()
        text = {"e": "c", "x": "c", "ch": "c"}.get(text, text)
        if text in {pluck.value for pluck in Pluck}:
            return Label(Pluck(text), Origin.SOURCE)
        if text:
            self.ledger.drop(
                "plucking sign that is no finger", "plucking signs that are no fingers",
                self.number,
            )  # fmt: skip
        return None

    def _fingers(
        self, raw: RawNote
    ) -> tuple[Label[Finger] | None, Finger | None, Fingering | None]:
        """Finger, substitute and second fingering of a note."""
        first: Finger | None = None
        substitute: Finger | None = None
        second = raw.alternative
        for text, substitution, alternate in raw.fingers:
            finger = finger_of(text)
            if finger is None or self.line.keyboard:
                if text.lower() not in ("p", "i", "m", "a", "c"):
                    self.ledger.drop(
                        "finger that is no guitarist's", "fingers that are no guitarist's",
                        self.number,
                    )  # fmt: skip
            elif alternate:
                second = second or Fingering(finger=finger)
            elif substitution:
                substitute = finger
            elif first is None:
                first = finger
            elif finger is not first:
                self.ledger.drop("further finger", "further fingers", self.number)
        return (None if first is None else Label(first, Origin.SOURCE)), substitute, second


def _end(event: RawEvent) -> Ticks:
    return event.onset + event.ticks


def _apart(a: RawEvent, b: RawEvent, tolerance: Ticks) -> bool:
    return _end(a) - b.onset <= tolerance or _end(b) - a.onset <= tolerance
