"""What a Standard MIDI File holds (SMF 1.1), read with bounds and without guessing.

Our own reader: it says where a damaged file is damaged and reads what is there of a short one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from msgspec import Struct

from core.model import BadInput

MOST_NOTES = 50_000
MOST_TICKS = 2**40
PERCUSSION = 9  # channel 10, counted from 0 in the file
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
_SYSTEM_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}
_LEFT_OUT = {
    0xA: ("pressure change", "pressure changes"),
    0xB: ("controller change (pedal, volume)", "controller changes (pedal, volume)"),
    0xD: ("pressure change", "pressure changes"),
    0xE: ("pitch bend", "pitch bends"),
}


class RawNote(Struct, frozen=True):
    """A note in MIDI ticks."""

    start: int
    end: int
    midi: int
    velocity: int


class RawPart(Struct, frozen=True):
    """The notes of one channel of one track, in order of onset; program from 0, None unsaid."""

    name: str
    channel: int
    program: int | None
    notes: tuple[RawNote, ...]


class RawFile(Struct, frozen=True):
    """Everything a file says that a lesson can hold. Lists are ordered by tick.

    `tempos` are (tick, microseconds a quarter), `metres` (tick, beats, unit), `keys` (tick,
    fifths, minor), `markers` (tick, text). `left_out` counts what no lesson holds, by (word for
    one, word for many); `mended` are sentences on damage.
    """

    ppq: int
    parts: tuple[RawPart, ...]
    title: str
    tempos: tuple[tuple[int, int], ...]
    metres: tuple[tuple[int, int, int], ...]
    keys: tuple[tuple[int, int, bool], ...]
    markers: tuple[tuple[int, str], ...]
    left_out: dict[tuple[str, str], int]
    mended: tuple[str, ...]


def parse(data: bytes, name: str) -> RawFile:
    """Read a file of format 0 or 1. Raises BadInput, naming the file and the byte."""
    if data[:4] != b"MThd" or len(data) < 14:
        raise BadInput(f"{name} is not a MIDI file: it does not begin with a MIDI header.")
    size = int.from_bytes(data[4:8])
    kind, promised, division = (int.from_bytes(data[n : n + 2]) for n in (8, 10, 12))
    if size < 6 or kind not in (0, 1):
        raise BadInput(f"{name} is a MIDI file of a kind (format {kind}) that holds no one piece.")
    found = _File(name)
    ppq = found.ppq(division)
    at, number = 8 + size, 0
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8])
        if data[at : at + 4] == b"MTrk":
            number += 1
            if at + 8 + length > len(data):
                found.mended.append(f"Track {number} is cut off; what is there was read")
            _Track(found, number, data, at + 8, min(at + 8 + length, len(data))).read()
        at += 8 + length
    if number < promised:
        found.mended.append(f"The file is cut off: {number} of {promised} tracks were read")
    return found.result(ppq)


class _File:
    """What the tracks of a file add to; lives for one call of `parse`."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.parts: list[RawPart] = []
        self.title = ""
        self.tempos: list[tuple[int, int]] = []
        self.metres: list[tuple[int, int, int]] = []
        self.keys: list[tuple[int, int, bool]] = []
        self.markers: list[tuple[int, str]] = []
        self.left_out: Counter[tuple[str, str]] = Counter()
        self.mended: list[str] = []
        self.count = 0

    def ppq(self, division: int) -> int:
        if division & 0x8000:
            frames, parts = 256 - (division >> 8), division & 0xFF
            self.mended.append("The file counts seconds, not beats; 120 quarters a minute assumed")
            division = frames * parts // 2
        if not division:
            raise BadInput(f"{self.name}: its header says that a beat has no length.")
        return division

    def result(self, ppq: int) -> RawFile:
        first = lambda row: row[0]  # noqa: E731 (a key for five sorts)
        return RawFile(
            ppq, tuple(self.parts), self.title, tuple(sorted(self.tempos, key=first)),
            tuple(sorted(self.metres, key=first)), tuple(sorted(self.keys, key=first)),
            tuple(sorted(self.markers, key=first)), dict(self.left_out), tuple(self.mended),
        )  # fmt: skip


class _Track:
    """Reads one track; lives for one call of `read`."""

    def __init__(self, file: _File, number: int, data: bytes, at: int, end: int) -> None:
        self.file, self.number, self.data, self.at, self.end = file, number, data, at, end
        self.now = 0
        self.name = ""
        self.programs: dict[int, int] = {}
        self.notes: dict[int, list[RawNote]] = {}
        self.sounding: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self.over = False

    def read(self) -> None:
        """Read to the end of the track and hand its parts to the file."""
        status = 0
        while self.at < self.end and not self.over:
            self.now += self._length()
            if self.now > MOST_TICKS:
                raise self._bad("it goes on for ever")
            if self.at >= self.end:
                break
            if self.data[self.at] & 0x80:
                status = self._byte()
            elif not 0x80 <= status < 0xF0:
                raise self._bad("data without a command")
            self._event(status)
        unended = sum(len(row) for row in self.sounding.values())
        if unended:
            self.file.mended.append(f"Notes without an end stopped with their track ({unended})")
        for (channel, midi), row in self.sounding.items():
            for start, velocity in row:
                self._keep(channel, RawNote(start, self.now, midi, velocity))
        for channel, notes in sorted(self.notes.items()):
            ordered = tuple(sorted(notes, key=lambda n: (n.start, -n.midi)))
            program = self.programs.get(channel)
            self.file.parts.append(RawPart(self.name, channel, program, ordered))

    def _event(self, status: int) -> None:
        kind, channel = status >> 4, status & 0xF
        if status == 0xFF:
            self._meta(self._byte(), self._block())
        elif status in (0xF0, 0xF7):
            self._block()
            self.file.left_out["system message", "system messages"] += 1
        elif kind == 0xF:
            for _ in range(_SYSTEM_BYTES.get(status, 0)):
                self._byte()
        else:
            values = [self._byte() for _ in range(_DATA_BYTES[kind])]
            if max(values) > 127:
                if self.at > self.end:
                    return  # cut off in the middle
                raise self._bad("a figure above 127")
            self._message(kind, channel, values)

    def _message(self, kind: int, channel: int, values: list[int]) -> None:
        if kind in (0x8, 0x9):
            midi, velocity = values
            if kind == 0x9 and velocity:
                self.sounding.setdefault((channel, midi), []).append((self.now, velocity))
            elif row := self.sounding.get((channel, midi)):
                start, struck = row.pop(0)
                self._keep(channel, RawNote(start, self.now, midi, struck))
        elif kind == 0xC:
            self.programs.setdefault(channel, values[0])
        elif channel != PERCUSSION and not (kind == 0xB and values[0] >= 120):
            self.file.left_out[_LEFT_OUT[kind]] += 1

    def _keep(self, channel: int, note: RawNote) -> None:
        self.file.count += 1
        if self.file.count > MOST_NOTES:
            raise BadInput(f"{self.file.name} holds more than {MOST_NOTES} notes: too many.")
        self.notes.setdefault(channel, []).append(note)

    def _meta(self, kind: int, block: bytes) -> None:
        file = self.file
        match kind:
            case 0x03:
                self.name = _text(block)
                if self.number == 1:
                    file.title = self.name
            case 0x05:
                file.left_out["syllable of words", "syllables of words"] += 1
            case 0x06 if text := _text(block):
                file.markers.append((self.now, text))
            case 0x51 if len(block) == 3 and any(block):
                file.tempos.append((self.now, int.from_bytes(block)))
            case 0x58 if len(block) >= 2 and 1 <= block[0] <= 64 and block[1] <= 6:
                file.metres.append((self.now, block[0], 1 << block[1]))
            case 0x59 if len(block) == 2 and (fifths := _signed(block[0])) in range(-7, 8):
                file.keys.append((self.now, fifths, block[1] == 1))
            case 0x51 | 0x58 | 0x59:
                file.mended.append(f"A tempo, metre or key at tick {self.now} makes no sense")
            case 0x2F:
                self.over = True

    def _byte(self) -> int:
        """The next byte; 255 past the end, where the track is over anyway."""
        self.at += 1
        return self.data[self.at - 1] if self.at <= self.end else 0xFF

    def _length(self) -> int:
        """A variable-length quantity."""
        value = 0
        for _ in range(4):
            byte = self._byte()
            if self.at > self.end:
                return value
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                return value
        raise self._bad("a length of more than four bytes")

    def _block(self) -> bytes:
        size = self._length()
        begin = self.at
        self.at += size
        return self.data[begin : min(self.at, self.end)]

    def _bad(self, what: str) -> BadInput:
        where = f"track {self.number}, byte {self.at}"
        return BadInput(f"{self.file.name} is damaged: {what} in {where}.")


def _signed(byte: int) -> int:
    return byte - 256 if byte > 127 else byte


def _text(block: bytes) -> str:
    """Text of a file, which may be of any coding: UTF-8 where it is that, else Latin 1."""
    try:
        text = block.decode("utf-8")
    except UnicodeDecodeError:
        text = block.decode("latin-1")
    return "".join(_printable(text)).strip()[:200]


def _printable(text: str) -> Iterator[str]:
    for character in text:
        yield character if character.isprintable() else " "
