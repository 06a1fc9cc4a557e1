"""Reading Standard MIDI Files: what was played becomes written music, and every guess is told.

MIDI knows no rests, voices, spelling or repeats. The file's own tempo, metre, key and markers are
taken as they stand; onsets go to the nearest grid of their beat (see `midi_quantise`), one part of
several voices is parted into melody and bass (see `midi_voices`), and the report says what was
assumed and how far anything was moved. Notes are taken as they sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from core.formats.imported import Finding, Imported, PartInfo, Report
from core.formats.midi_bars import Frame, frame
from core.formats.midi_build import Written, build
from core.formats.midi_file import PERCUSSION, RawFile, RawPart, parse
from core.formats.midi_quantise import decide
from core.formats.midi_voices import Chord, Loss, Placed, chords, split
from core.model import TICKS_PER_QUARTER, BadInput, Lesson

FREE_SECONDS = 0.028  # moved this far on average, it was hardly played to the file's beat
_OURS = "Guitar, voice "


def read(data: bytes, name: str) -> Imported:
    """A lesson from a MIDI file, and the report. Raises BadInput with one sentence."""
    raw = parse(data, name)
    parts = [part for part in raw.parts if part.channel != PERCUSSION]
    drums = sum(len(part.notes) for part in raw.parts if part.channel == PERCUSSION)
    if not parts:
        what = "only drums" if drums else "no notes"
        raise BadInput(f"{name} holds {what}: there is nothing to arrange for the guitar.")
    framed = frame(raw, [note for part in parts for note in part.notes], name)
    work = _Work(raw, framed, parts)
    lesson = work.lesson(raw.title or PurePath(name).stem or "Untitled")
    findings = [*work.findings, *framed.findings, *_dropped(raw, drums)]
    return Imported(lesson, Report(work.infos, (), tuple(findings)))


def _dropped(raw: RawFile, drums: int) -> list[Finding]:
    rows = [
        Finding(f"{count} {one if count == 1 else many} left out", count)
        for (one, many), count in raw.left_out.items()
    ]
    if drums:
        rows.append(Finding(f"{drums} drum {'note' if drums == 1 else 'notes'} left out", drums))
    rows.append(Finding("How hard each note was struck is not kept", 1))
    return rows + [Finding(text, 1, kept=True) for text in dict.fromkeys(raw.mended)]


class _Work:
    """The steps from parts to a lesson, with what to tell; lives for one call of `read`."""

    def __init__(self, raw: RawFile, framed: Frame, parts: Sequence[RawPart]) -> None:
        self.framed = framed
        self.findings: list[Finding] = []
        onsets = [framed.tick(note.start) for part in parts for note in part.notes]
        self.grid = decide(framed.bars, onsets, framed.seconds_per_quarter)
        self.parts = parts
        self.roles = _roles(parts)
        self.infos = tuple(_info(n, p, self.roles[n]) for n, p in enumerate(parts))
        self.chosen = [n for n, role in enumerate(self.roles) if role]
        self.loss = Loss()

    def lesson(self, title: str) -> Lesson:
        """Quantise, part the voices and write them."""
        self._tell_grid()
        placed = [self._placed(part) for part in self.parts]
        if len(self.chosen) == 1:
            upper, lower = split(placed[self.chosen[0]])
            rows = [upper, lower] if lower else [upper]
            if lower:
                self._tell_split(upper, lower)
        else:
            rows = [placed[n] for n in self.chosen]
        voices = [self._chords(row) for row in rows]
        self._tell_loss()
        sources = [
            (self.infos[n].name, self._chords(placed[n]))
            for n in range(len(placed))
            if n not in self.chosen
        ]
        made: Written = build(title, self.framed, self.grid, voices, sources)
        self.findings += made.findings
        return made.lesson

    def _placed(self, part: RawPart) -> list[Placed]:
        row = []
        for note in part.notes:
            start = self.grid.snap(self.framed.tick(note.start))
            # a score's note ends a tick early, so that the next one can begin
            late = 1 if self.grid.exact else 0
            end = self.grid.snap(self.framed.tick(note.end + late))
            row.append(Placed(start, max(end, start + self.grid.step(start)), note.midi))
        return row

    def _chords(self, row: Sequence[Placed]) -> list[Chord]:
        bridge = 0 if self.grid.exact else TICKS_PER_QUARTER
        return chords(row, bridge, self.loss)

    def _tell_grid(self) -> None:
        moved = []
        for part in self.parts:
            for note in part.notes:
                tick = self.framed.tick(note.start)
                seconds = abs(self.grid.snap(tick) - tick) / TICKS_PER_QUARTER
                moved.append((seconds * self.framed.seconds_at(note.start), tick))
        mean = sum(m for m, _ in moved) / len(moved)
        most, where = max(moved)
        if most < 0.001:
            self._tell("Every note stands on the beat grid of the file; nothing was rounded")
            return
        text = (
            f"Onsets were moved to the nearest written moment by {mean * 1000:.0f} ms on average "
            f"and {most * 1000:.0f} ms at most"
        )
        self._tell(text, (self.framed.measure_name(where),))
        if mean > FREE_SECONDS:
            self._tell("It was hardly played to the beat of the file: please check the rhythm")

    def _tell_split(self, upper: Sequence[Placed], lower: Sequence[Placed]) -> None:
        self._tell(
            f"One part was parted into melody ({len(upper)} notes) and bass ({len(lower)} notes) "
            "by pitch and by what is held: please check"
        )

    def _tell_loss(self) -> None:
        if self.loss.shortened:
            count = self.loss.shortened
            self._tell(f"{count} held {'note ends' if count == 1 else 'notes end'} at another "
                       "of the same voice")  # fmt: skip
        if self.loss.doubled:
            count = self.loss.doubled
            note = "note" if count == 1 else "notes"
            self.findings.append(Finding(f"{count} doubled {note} left out", count))

    def _tell(self, text: str, measures: tuple[str, ...] = ()) -> None:
        self.findings.append(Finding(text, 1, measures, kept=True))


def _mean(part: RawPart) -> float:
    return sum(note.midi for note in part.notes) / len(part.notes)


def _roles(parts: Sequence[RawPart]) -> list[str]:
    """The highest part is the melody, the lowest the bass; a lone one the guitar. The tracks of a
    file of ours are the voices of one guitar."""
    if len(parts) == 1:
        return ["guitar"]
    order = sorted(range(len(parts)), key=lambda n: -_mean(parts[n]))
    roles = [""] * len(parts)
    roles[order[0]], roles[order[-1]] = "melody", "bass"
    if len(parts) <= 4 and all(part.name.startswith(_OURS) for part in parts):
        roles = ["melody", "bass", *["guitar"] * (len(parts) - 2)]
    return roles


def _info(index: int, part: RawPart, role: str) -> PartInfo:
    pitches = [note.midi for note in part.notes]
    name = part.name or f"Track {index + 1}"
    return PartInfo(index, name, len(pitches), _mean(part), min(pitches), max(pitches), role)
