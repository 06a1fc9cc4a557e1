"""Engraving: cold, against a general-purpose library in the same run, and edits of any length."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import resources.metrics
from core.edit import Command, InsertMeasures, apply
from core.formats import musicxml_write
from core.model import Lesson, walk
from core.page.engrave import Cache, engrave
from core.page.metrics import Metrics, build
from core.page.style import PageStyle
from tests.bench.edit_bench import commands
from tests.bench.music import long_lesson
from tests.bench.row import Row, cpu_seconds, median, percentile

CURVE = (50, 100, 200, 500, 1000, 2000)
EDITS = 60
STYLES = {"": PageStyle(), ", a roll": PageStyle(height_mm=60_000.0)}


def rows() -> Iterator[Row]:
    metrics = build(resources.metrics.load())
    yield _cold(metrics)
    yield from _edits(metrics)


def _cold(metrics: Metrics) -> Row:
    """200 two-voice measures with tab, cold; the peer is verovio from load to SVG."""
    lesson, size = long_lesson(200), 200
    ours = (
        1000 * median(lambda: list(engrave(lesson, PageStyle(), metrics, Cache()).sheets), 5) / size
    )
    peer = _library(lesson, size)
    return Row(
        "page.cold_against_library", "200 measures", ours, "ms/measure", 1.0,
        peer="verovio load to SVG", peer_figure=peer,
    )  # fmt: skip


def _library(lesson: Lesson, size: int) -> float | None:
    try:
        import verovio
    except ImportError:
        return None
    verovio.enableLog(verovio.LOG_OFF)
    data = musicxml_write.write(lesson).decode()

    def whole() -> None:
        toolkit = verovio.toolkit()
        toolkit.loadData(data)
        for page in range(1, toolkit.getPageCount() + 1):
            toolkit.renderToSVG(page)

    return 1000 * median(whole, 3) / size


def _edits(metrics: Metrics) -> Iterator[Row]:
    """From a command to the new display list of what it changed, in pieces of any length.

    The lengths take turns, so that whatever else the machine does falls on all of them.
    """
    for name, style in STYLES.items():
        pieces = {size: _Piece(size, style, metrics) for size in CURVE}
        gc.collect()  # making six pieces is not part of an edit, nor is clearing up after it
        for number in range(EDITS):
            for piece in pieces.values():
                piece.edit(number)
        medians: dict[int, float] = {}
        for size, piece in pieces.items():
            text, times = f"{size} measures{name}", sorted(piece.times)
            medians[size] = percentile(times, 50)
            yield Row("page.edit_median", text, medians[size], "ms of CPU")
            yield Row("page.edit_p95", text, percentile(times, 95), "ms of CPU", 5.0)
            yield Row("page.edit_p99", text, percentile(times, 99), "ms of CPU", 16.0)
        growth = medians[CURVE[-1]] / medians[CURVE[0]]
        text = f"{CURVE[-1]} to {CURVE[0]} measures{name}"
        yield Row("page.edit_growth", text, growth, "times", 2.0)
    for size in CURVE:
        piece = _Piece(size, PageStyle(), metrics)
        times = [piece.insert() for _ in range(15)]
        yield Row("page.insert_median", f"{size} measures", percentile(times, 50), "ms of CPU")


class _Piece:
    """A lesson of some length that is edited here and there."""

    def __init__(self, size: int, style: PageStyle, metrics: Metrics) -> None:
        self.lesson, self.style, self.metrics = long_lesson(size), style, metrics
        self.cache = Cache()
        self.layout = engrave(self.lesson, style, metrics, self.cache)
        row = list(commands(self.lesson, 1))
        self.commands = [row[n * len(row) // EDITS] for n in range(EDITS)]
        self.times: list[float] = []

    def edit(self, number: int) -> None:
        """Change a finger."""
        command = self.commands[number]
        self.times.append(1000 * cpu_seconds(lambda: self._carry_out(command, command.measure)))

    def insert(self) -> float:
        """Put a measure in after the first: all later ones get another number."""
        first = next(walk.measures(self.lesson.arrangement)).id
        return 1000 * cpu_seconds(lambda: self._carry_out(InsertMeasures(first, 1, "after"), first))

    def _carry_out(self, command: Command, measure: int) -> None:
        self.lesson = apply(command, self.lesson).lesson
        self.layout = engrave(self.lesson, self.style, self.metrics, self.cache, self.layout)
        system, _ = self.layout.index[measure]
        assert self.layout.systems[system].block.items
