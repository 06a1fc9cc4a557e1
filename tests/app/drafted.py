"""The music and the caret in short, for the tests of what the drafting keys do."""

from __future__ import annotations

from core.model import Base, Value, walk
from core.model.validate import problems

Q = Value(Base.QUARTER).ticks


def measures(bench):
    return list(walk.measures(bench.lesson().arrangement))


def row(bench, number: int, voice: int = 0) -> list[str]:
    """A voice in short: ``s1f0:quarter``, ``r:half``."""
    voices = measures(bench)[number].voices
    return [
        "+".join(str(n.place.value) if n.place else str(n.pitch) for n in e.notes or ()) or "r"
        for e in (voices[voice] if voice < len(voices) else ())
    ]


def values(bench, number: int, voice: int = 0) -> list[str]:
    return [str(e.value) for e in measures(bench)[number].voices[voice]]


def at(bench) -> tuple[int, int]:
    """The caret: position of its measure, quarters from its start."""
    caret = bench.writing.caret
    return bench.session.outline.index[caret.measure], caret.onset // Q


def undone(bench, caret: tuple[int, int], before) -> None:
    """Undo brings the music and the caret back."""
    bench.press("Ctrl+Z")
    assert bench.lesson() == before
    assert at(bench) == caret
    assert not problems(bench.lesson())
