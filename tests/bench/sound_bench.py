"""Seconds of sound rendered in a second."""

from __future__ import annotations

from collections.abc import Iterator

from core.sound import Plan, timeline
from core.sound.bank import NoteBank
from core.sound.mixer import render
from tests.bench.music import demo
from tests.bench.row import Row, median


def rows() -> Iterator[Row]:
    lesson = demo()
    line = timeline(lesson, Plan(percent=70))

    def cold() -> None:
        render(line, NoteBank(line.rate), 0, line.total)

    bank = NoteBank(line.rate)
    render(line, bank, 0, line.total)
    size = f"{line.seconds:.0f} s, 2 voices"
    yield Row("sound.render_cold", size, line.seconds / median(cold, 3), "s per s", 50, False)
    warm = median(lambda: render(line, bank, 0, line.total), 3)
    yield Row("sound.render_warm", size, line.seconds / warm, "s per s", 200, False)
    yield Row("sound.block", "1024 samples", 1e3 * median(lambda: render(line, bank, 400_000, 401_024), 50), "ms", 2)  # fmt: skip
