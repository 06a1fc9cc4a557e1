"""The note bank: every note is made once and kept while there is room."""

from __future__ import annotations

from collections.abc import Iterator
from threading import Lock

from core.sound.strings import NoteKey, Samples, click, fade, note
from core.sound.timeline import Timeline

MOST_BYTES = 128 * 1024 * 1024


class NoteBank:
    """A cache of notes, clicks and fades at one sample rate, owned by whoever plays.

    Arrays are read-only. What it returns depends only on what is asked, never on its state. It may
    be used from several threads: a note may then be made twice, with the same result.
    """

    def __init__(self, rate: int, most_bytes: int = MOST_BYTES) -> None:
        self.rate = rate
        self._most_bytes = most_bytes
        self._notes: dict[NoteKey, Samples] = {}
        self._bytes = 0
        self._clicks = tuple(click(rank, rate) for rank in range(3))
        self._fades: dict[int, Samples] = {}
        self._lock = Lock()

    def note(self, key: NoteKey) -> Samples:
        """The samples of a note, made now if it is not there; the oldest ones make room."""
        found = self._notes.get(key)
        if found is not None:
            return found
        made = note(key, self.rate)
        with self._lock:
            if key not in self._notes:
                self._notes[key] = made
                self._bytes += made.nbytes
            while self._bytes > self._most_bytes and len(self._notes) > 1:
                self._bytes -= self._notes.pop(next(iter(self._notes))).nbytes
        return made

    def click(self, rank: int) -> Samples:
        """The samples of a click of rank 0, 1 or 2."""
        return self._clicks[rank]

    def fade(self, length: int) -> Samples:
        """A fall from 1 to 0 in `length` samples."""
        found = self._fades.get(length)
        if found is None:
            found = self._fades[length] = fade(length)
        return found

    def has(self, key: NoteKey) -> bool:
        """Whether a note is made already."""
        return key in self._notes

    def missing(self, timeline: Timeline) -> Iterator[NoteKey]:
        """The notes a timeline needs that are not made yet, each once, in order of onset."""
        wanted = dict.fromkeys(stroke.key for stroke in timeline.strokes)
        return (key for key in wanted if key not in self._notes)
