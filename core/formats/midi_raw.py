"""What a MIDI file says, before any guess: notes in ticks of the file, tempo, metres, keys."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator

import mido
from mido.midifiles import KeySignatureError
from msgspec import Struct

from core.formats.imported import Ledger
from core.model import BadInput, Key

MOST_BYTES = 16 * 1024 * 1024
MOST_NOTES = 100_000
DRUMS = 9  # channel 10 counted from 1: percussion (General MIDI)
_NAMES = {
    "pitchwheel": "pitch bend",
    "control_change": "controller message",
    "lyrics": "lyric syllable",
    "sysex": "system message",
    "polytouch": "key pressure",
    "aftertouch": "channel pressure",
}


class RawNote(Struct, frozen=True):
    """A note in ticks of the file."""

    start: int
    end: int
    midi: int


class RawLine(Struct, frozen=True):
    """The notes of one channel of one track, in order of onset."""

    name: str
    notes: tuple[RawNote, ...]


class RawFile(Struct, frozen=True):
    """A file's lines and its maps of (tick, value), each in order of tick.

    Tempo is microseconds a quarter, a metre (upper figure, lower figure).
    """

    title: str
    per_quarter: int
    lines: tuple[RawLine, ...]
    tempi: tuple[tuple[int, int], ...]
    metres: tuple[tuple[int, tuple[int, int]], ...]
    keys: tuple[tuple[int, Key], ...]
    markers: tuple[tuple[int, str], ...]
    end: int


def parse(data: bytes, name: str, ledger: Ledger) -> RawFile:
    """Read a file of format 0 or 1; raises BadInput with a sentence that begins with `name`."""
    if len(data) > MOST_BYTES:
        raise BadInput(f"{name} is larger than a MIDI file of a tune can be (16 MiB).")
    if not data:
        raise BadInput(f"{name} is empty.")
    if not data.startswith(b"MThd"):
        raise BadInput(f"{name} is not a MIDI file; it holds something else.")
    try:
        file = mido.MidiFile(file=io.BytesIO(data), clip=True, charset="latin-1")
    except (OSError, EOFError, ValueError, LookupError, TypeError, KeySignatureError) as error:
        raise BadInput(f"{name} is damaged or cut off and cannot be read as MIDI.") from error
    if file.type == 2:
        raise BadInput(f"{name} holds independent patterns (format 2), not one piece.")
    if not 0 < file.ticks_per_beat < 0x8000:
        raise BadInput(f"{name} counts film frames, not beats; export it again with beats.")
    collector = _Collector(name)
    for track in file.tracks:
        collector.track(track)
    collector.report(ledger)
    if not collector.lines:
        raise BadInput(f"{name} holds no notes.")
    return collector.raw(file.ticks_per_beat)


class _Collector:
    """Sorts the messages of a file; lives for one `parse`."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.title = ""
        self.lines: list[RawLine] = []
        self.tempi: dict[int, int] = {}
        self.metres: dict[int, tuple[int, int]] = {}
        self.keys: dict[int, Key] = {}
        self.markers: dict[int, str] = {}
        self.end = 0
        self.count = 0
        self.unsaid: Counter[str] = Counter()
        self.hanging = 0

    def track(self, track: mido.MidiTrack) -> None:
        now = 0
        label = ""
        open_: dict[tuple[int, int], list[int]] = {}
        found: dict[int, list[RawNote]] = {}
        for message in track:
            now += message.time
            if message.type == "track_name":
                label = label or _text(message.name)
            elif message.type in ("note_on", "note_off"):
                self._note(message, now, open_, found)
            elif not self._map(message, now) and message.type in _NAMES:
                self.unsaid[_NAMES[message.type]] += 1
        for (channel, midi), starts in open_.items():
            self.hanging += len(starts)
            found.setdefault(channel, []).extend(RawNote(s, now, midi) for s in starts if s < now)
        self.end = max(self.end, now)
        if not found:
            self.title = self.title or label
        for channel, notes in sorted(found.items()):
            self._line(channel, notes, label)

    def _note(
        self,
        message: mido.Message,
        now: int,
        open_: dict[tuple[int, int], list[int]],
        found: dict[int, list[RawNote]],
    ) -> None:
        key = (message.channel, message.note)
        if message.type == "note_on" and message.velocity:
            open_.setdefault(key, []).append(now)
            return
        starts = open_.get(key)
        if starts:
            start = starts.pop(0)
            if now == start:
                self.unsaid["note of no length"] += 1
                return
            found.setdefault(message.channel, []).append(RawNote(start, now, message.note))
            self.count += 1
        if self.count > MOST_NOTES:
            raise BadInput(f"{self.name} holds more than {MOST_NOTES} notes.")

    def _line(self, channel: int, notes: list[RawNote], label: str) -> None:
        if channel == DRUMS:
            self.unsaid["note of percussion"] += len(notes)
            return
        if not notes:
            return
        order = sorted(notes, key=lambda n: (n.start, n.midi, n.end))
        self.lines.append(RawLine(label or f"Channel {channel + 1}", tuple(order)))

    def _map(self, message: mido.MetaMessage | mido.Message, now: int) -> bool:
        match message.type:
            case "set_tempo":
                self.tempi[now] = max(1, message.tempo)
            case "time_signature":
                self.metres[now] = (message.numerator, message.denominator)
            case "key_signature":
                key = _key(message.key)
                if key is not None:
                    self.keys[now] = key
            case "marker":
                self.markers[now] = _text(message.text)
            case _:
                return False
        return True

    def report(self, ledger: Ledger) -> None:
        for one, count in sorted(self.unsaid.items()):
            many = one.replace("note of", "notes of") if " of " in one else one + "s"
            for _ in range(count):
                ledger.drop(one, many, "")
        if self.hanging:
            ledger.mend("Notes without an end are ended with their track")

    def raw(self, per_quarter: int) -> RawFile:
        return RawFile(
            self.title,
            per_quarter,
            tuple(self.lines),
            tuple(sorted(self.tempi.items())),
            tuple(sorted(self.metres.items())),
            tuple(sorted(self.keys.items())),
            tuple(sorted(self.markers.items())),
            max([self.end, *(n.end for line in self.lines for n in line.notes)]),
        )


def _text(words: str) -> str:
    """Text of a file: UTF-8 where it is that, else Latin 1 (the standard leaves it open)."""
    raw = words.encode("latin-1")
    try:
        said = raw.decode()
    except UnicodeDecodeError:
        said = words
    return "".join(c for c in said if c.isprintable()).strip()


def _key(name: str) -> Key | None:
    mode = "minor" if name.endswith("m") else "major"
    try:
        return Key.parse(f"{name.removesuffix('m')} {mode}")
    except ValueError:
        return None


def notes_of(file: RawFile) -> Iterator[RawNote]:
    """The notes of all lines."""
    for line in file.lines:
        yield from line.notes
