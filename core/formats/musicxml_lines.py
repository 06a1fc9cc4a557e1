"""The lines of a file: each staff of each part, what it is, and how it sounds.

A part's staves are lines of their own. A tablature line beside a staff line of the same music is
folded into it: the staff says the notes, the tablature says where they are played.
"""

from __future__ import annotations

import dataclasses
from collections import Counter, defaultdict, deque
from dataclasses import dataclass, field

from core.formats.imported import Ledger, OctaveDecision, PartInfo
from core.formats.musicxml_names import BASS_GUITAR, GUITAR, PIANO
from core.formats.musicxml_raw import RawEvent, RawNote, RawPart, Tuning
from core.model import STANDARD, Pitch
from core.model.pitch import STEPS

NYLON, LAST_GUITAR = 25, 32
SAME_MUSIC = 0.8
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(slots=True, eq=False)
class Line:
    """One staff of one part. `events` are its events by measure; `semitones` and `steps` lead
    from the file's pitch to the sounding one."""

    part: RawPart
    staff: int
    name: str
    events: list[list[RawEvent]] = field(default_factory=list)
    semitones: int = 0
    steps: int = 0
    tab: bool = False
    decision: OctaveDecision | None = None

    @property
    def guitar(self) -> bool:
        """Whether names, sounds or tablature make it a guitar's."""
        part = self.part
        if BASS_GUITAR.search(part.name):
            return False
        by_program = part.program is not None and NYLON <= part.program <= LAST_GUITAR
        return self.tab or bool(GUITAR.search(part.name)) or "guitar" in part.sound or by_program

    @property
    def keyboard(self) -> bool:
        """Whether fingers 1 to 5 would be those of a keyboard."""
        program = self.part.program
        return bool(PIANO.search(self.part.name)) or (program is not None and 1 <= program <= 24)

    def raw_midi(self, note: RawNote) -> int:
        return 12 * (note.octave + 1) + SEMITONES[note.step] + note.alter

    def midi(self, note: RawNote) -> int:
        """MIDI number of the sounding note."""
        return self.raw_midi(note) + self.semitones

    def pitch(self, note: RawNote) -> Pitch:
        """The sounding pitch, spelled as the file spells it."""
        octave, index = divmod(7 * note.octave + STEPS.index(note.step) + self.steps, 7)
        step = STEPS[index]
        alter = self.midi(note) - (12 * (octave + 1) + SEMITONES[step])
        if abs(alter) > 3 or not -1 <= octave <= 10:
            return Pitch.from_midi(max(0, min(127, self.midi(note))))
        return Pitch(step, alter, octave)

    def notes(self) -> list[RawNote]:
        return [note for row in self.events for event in row for note in event.notes]

    def info(self, index: int) -> PartInfo:
        """What the teacher is shown of the line; repeated or grace notes count as they stand."""
        midis = [self.midi(note) for note in self.notes()]
        mean = sum(midis) / len(midis) if midis else None
        low, high = (min(midis), max(midis)) if midis else (None, None)
        return PartInfo(index, self.name, len(midis), mean, low, high)


def lines_of(parts: list[RawPart]) -> list[Line]:
    """Every staff with something on it, in score order."""
    lines = []
    for part in parts:
        staves = sorted({1, *(n.staff for m in part.measures for e in m.events for n in e.notes)})
        used = [s for s in staves if s == 1 or s <= part.staves or len(staves) > 1]
        for staff in used:
            name = part.name or f"part {part.index + 1}"
            line = Line(part, staff, name if len(used) == 1 else f"{name}, staff {staff}")
            line.events = [_of_staff(m.events, staff, len(used) == 1) for m in part.measures]
            clef = part.clefs.get(staff)
            line.tab = clef is not None and clef.sign == "TAB"
            lines.append(line)
    sounding = [line for line in lines if line.notes()]
    return sounding or lines[:1]


def _of_staff(events: list[RawEvent], staff: int, only: bool) -> list[RawEvent]:
    if only:
        return events
    row = []
    for event in events:
        here = [note for note in event.notes if note.staff == staff]
        if len(here) == len(event.notes):
            if here or event.staff == staff:
                row.append(event)
        elif here:
            row.append(dataclasses.replace(event, notes=here, staff=staff))
    return row


# ---------------------------------------------------------------- tuning


def tuning_of(part: RawPart) -> tuple[Tuning, tuple[Pitch, ...]] | None:
    """The strings (string 1 first, sounding, without capo) a part's staff details give."""
    for _, tuning in sorted(part.tunings.items(), key=lambda row: -len(row[1].strings)):
        count = tuning.lines if tuning.lines and tuning.lines > 5 else len(tuning.strings)
        count = max(count, *tuning.strings) if tuning.strings else 0
        if not 4 <= count <= 13 or (len(tuning.strings) < count and count != len(STANDARD)):
            continue
        usual = {len(STANDARD) - i: Pitch.parse(text) for i, text in enumerate(STANDARD)}
        given = {line: Pitch(*strings) for line, strings in tuning.strings.items()}
        strings = [given.get(line) or usual[line] for line in range(count, 0, -1)]
        if min(string.midi for string in strings) >= 50 and count == len(STANDARD):
            strings = [Pitch(p.step, p.alter, p.octave - 1) for p in strings]
        return tuning, tuple(strings)
    return None


# ---------------------------------------------------------------- octave


def decide_octave(line: Line, strings: tuple[Pitch, ...], capo: int, wanted: int | None) -> None:
    """Settle how a line sounds: by what the file says, by its frets, or by what a guitar is."""
    part = line.part
    given = part.transpose.get(line.staff) or part.transpose.get(0) or (0, 0)
    line.semitones, line.steps = given
    shift, reason, sure = _shift(line, strings, capo)
    if wanted is not None and line.guitar:
        shift, reason, sure = wanted, "", True
        line.semitones, line.steps = 0, 0
        reason = f"the octave is set by hand ({wanted:+d} octaves from the file's pitch)."
    line.semitones += 12 * shift
    line.steps += 7 * shift
    octaves = line.semitones // 12 if line.semitones % 12 == 0 else 0
    if reason:
        line.decision = OctaveDecision(line.name, octaves, reason, sure)


def _shift(line: Line, strings: tuple[Pitch, ...], capo: int) -> tuple[int, str, bool]:
    """Octaves beyond the file's own transposition, why, and whether that is sure."""
    by_frets = _fret_votes(line, strings, capo)
    if by_frets is not None:
        said = "as written" if by_frets == 0 else f"{by_frets:+d} octaves from what is written"
        reason = f"strings and frets show that it sounds {said}."
        return by_frets, reason if by_frets or line.semitones else "", True
    notes = line.notes()
    clef = line.part.clefs.get(line.staff)
    octave_clef = clef is not None and clef.octave != 0
    low = min((line.midi(note) for note in notes), default=60)
    floor = min(string.midi for string in strings) + capo
    if line.semitones:
        if octave_clef and line.guitar and low < floor <= low - line.semitones:
            shift = -line.semitones // 12
            return shift, "the octave clef is believed, the transposition is not.", False
        return 0, f"the file transposes it by {line.semitones:+d} semitones.", True
    if octave_clef:
        return 0, "the octave clef says how it sounds.", True
    if line.guitar and not line.tab and (clef is None or clef.sign == "G"):
        if low - 12 >= floor:
            return -1, "a guitar's plain treble clef is read an octave lower.", False
        return 0, "it sounds as written, since an octave lower no string would reach it.", False
    return 0, "", True


def _fret_votes(line: Line, strings: tuple[Pitch, ...], capo: int) -> int | None:
    """The octave shift most strings and frets agree with; None without a clear majority."""
    votes: Counter[int] = Counter()
    for note in line.notes():
        if note.string and note.fret is not None and note.string <= len(strings):
            if note.harmonic:
                continue
            votes[strings[note.string - 1].midi + capo + note.fret - line.midi(note)] += 1
    if not votes:
        return None
    difference, count = votes.most_common(1)[0]
    clear = difference % 12 == 0 and abs(difference) <= 24 and 2 * count > votes.total()
    return difference // 12 if clear else None


# ---------------------------------------------------------------- staff and tablature


def fold_tablature(lines: list[Line], strings: tuple[Pitch, ...], ledger: Ledger) -> list[Line]:
    """Lines left once each tablature is folded into the staff of the same music before it."""
    left: list[Line] = []
    for line in lines:
        staff = next((other for other in reversed(left) if _same_music(other, line)), None)
        if line.tab and staff is not None:
            _fold(staff, line, strings, ledger)
        else:
            left.append(line)
    return left


def _same_music(staff: Line, tab: Line) -> bool:
    if staff.tab or not tab.tab:
        return False
    if staff.part is tab.part:
        return True
    keys = Counter(_keys(staff))
    shared = sum((keys & Counter(_keys(tab))).values())
    return shared >= SAME_MUSIC * max(len(staff.notes()), len(tab.notes()), 1)


def _keys(line: Line) -> list[tuple[int, object, int]]:
    return [
        (index, event.onset, line.midi(note))
        for index, row in enumerate(line.events)
        for event in row
        for note in event.notes
    ]


def _voice_order(event: RawEvent) -> tuple[int, str]:
    return (int(event.voice) if event.voice.isdecimal() else 99, event.voice)


def _fold(staff: Line, tab: Line, strings: tuple[Pitch, ...], ledger: Ledger) -> None:
    """Give each staff note the place (and what else it lacks) of its tablature note."""
    for index, row in enumerate(tab.events):
        waiting: dict[tuple[object, bool, int], deque[tuple[RawEvent, RawNote]]]
        waiting = defaultdict(deque)
        if index < len(staff.events):
            for event in sorted(staff.events[index], key=_voice_order):
                for note in event.notes:
                    key = (event.onset, event.grace is not None, staff.midi(note))
                    waiting[key].append((event, note))
        for event in sorted(row, key=_voice_order):
            for note in event.notes:
                partner = _partner(waiting, event, note, tab, strings)
                if partner is None:
                    number = tab.part.measures[index].number
                    ledger.drop(
                        "tablature note without its note on the staff",
                        "tablature notes without their notes on the staff",
                        number,
                    )
                else:
                    _take(partner[1], note)
                    note.partner = partner[1]
                    note.partner_event = partner[0]


def _partner(
    waiting: dict[tuple[object, bool, int], deque[tuple[RawEvent, RawNote]]],
    event: RawEvent,
    note: RawNote,
    tab: Line,
    strings: tuple[Pitch, ...],
) -> tuple[RawEvent, RawNote] | None:
    midis = [tab.midi(note)]
    if note.string and note.string <= len(strings) and note.fret is not None:
        midis.append(strings[note.string - 1].midi + note.fret)
    for midi in (*midis, *(m + 12 for m in midis), *(m - 12 for m in midis)):
        queue = waiting.get((event.onset, event.grace is not None, midi))
        if queue:
            return queue.popleft()
    return None


def _take(note: RawNote, tab: RawNote) -> None:
    if note.circled is None and note.string is not None and note.fret is None:
        note.circled = True
    note.string = tab.string if tab.string is not None else note.string
    note.fret = tab.fret if tab.fret is not None else note.fret
    note.fingers = note.fingers or tab.fingers
    note.pluck = note.pluck or tab.pluck
    note.harmonic = note.harmonic or tab.harmonic
    note.harmonic_pitch = note.harmonic_pitch or tab.harmonic_pitch
    note.bend = tab.bend if note.bend is None else note.bend
    note.let_ring |= tab.let_ring
