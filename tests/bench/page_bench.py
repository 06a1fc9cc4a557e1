"""Engraving: cold, against a general-purpose library in the same run, and edits of any length."""

from __future__ import annotations

from collections.abc import Iterator

import resources.metrics
from core.edit import apply
from core.formats import musicxml_write
from core.model import Lesson
from core.page.engrave import Cache, engrave
from core.page.metrics import Metrics, build
from core.page.style import PageStyle
from tests.bench.edit_bench import commands
from tests.bench.music import long_lesson
from tests.bench.row import Row, median, percentile, seconds

CURVE = (50, 100, 200, 500, 1000, 2000)


def rows() -> Iterator[Row]:
    metrics = build(resources.metrics.load())
    yield _cold(metrics)
    yield from _edits(metrics)


def _cold(metrics: Metrics) -> Row:
    """200 two-voice measures with tab, cold; the peer is verovio from load to SVG."""
    lesson, size = long_lesson(200), 200
    ours = 1000 * median(lambda: engrave(lesson, PageStyle(), metrics, Cache()), 5) / size
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
    """A finger changed here and there: from the command to the new display list."""
    for size in CURVE:
        times = sorted(_times(long_lesson(size), size, metrics))
        text = f"{size} measures"
        yield Row("page.edit_median", text, percentile(times, 50), "ms")
        yield Row("page.edit_p95", text, percentile(times, 95), "ms", 5.0)
        yield Row("page.edit_p99", text, percentile(times, 99), "ms", 16.0)


def _times(lesson: Lesson, size: int, metrics: Metrics) -> Iterator[float]:
    style, cache = PageStyle(), Cache()
    layout = engrave(lesson, style, metrics, cache)
    for command in list(commands(lesson, max(1, size // 100))):
        changed = apply(command, lesson).lesson

        def edit(changed: Lesson = changed) -> None:
            nonlocal layout
            layout = engrave(changed, style, metrics, cache, layout)

        yield 1000 * seconds(edit)
        lesson = changed
