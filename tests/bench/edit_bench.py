"""One command, one undo, and from a command to the new layout."""

from __future__ import annotations

from collections.abc import Iterator

import resources.metrics
from core.edit import History, SetFinger, apply
from core.model import Finger, Lesson, walk
from core.page.engrave import Cache, engrave
from core.page.metrics import build
from core.page.style import PageStyle
from tests.bench.music import long_lesson
from tests.bench.row import Row, median, percentile, seconds


def commands(lesson: Lesson, every: int) -> Iterator[SetFinger]:
    """Another finger for a note here and there in the whole piece."""
    for measure in list(walk.measures(lesson.arrangement))[::every]:
        located, note = next(
            (pair for pair in walk.notes(measure) if pair[1].place and pair[1].place.value.fret),
            (None, None),
        )
        if located is not None and note is not None:
            present = note.finger.value if note.finger else None
            other = Finger.LITTLE if present is not Finger.LITTLE else Finger.RING
            yield SetFinger(measure.id, note.id, other)


def rows() -> Iterator[Row]:
    lesson = long_lesson(500)
    command = list(commands(lesson, 250))[-1]
    yield Row("edit.command", "500 measures", 1e3 * median(lambda: apply(command, lesson), 200), "ms", 0.2)  # fmt: skip
    updated = apply(command, lesson).lesson
    history = History().record(command.label, lesson)
    yield Row("edit.undo", "500 measures", 1e3 * median(lambda: history.undo(updated), 200), "ms", 1.0)  # fmt: skip
    metrics = build(resources.metrics.load())
    for size in (24, 400):
        yield from to_layout(long_lesson(size), size, metrics)


def to_layout(lesson: Lesson, size: int, metrics) -> Iterator[Row]:
    style, cache = PageStyle(), Cache()
    cold = seconds(lambda: engrave(lesson, style, metrics, Cache()))
    layout = engrave(lesson, style, metrics, cache)
    times = []
    for command in list(commands(lesson, max(1, size // 60))):

        def edit(command: SetFinger = command) -> None:
            nonlocal lesson, layout
            lesson = apply(command, lesson).lesson
            layout = engrave(lesson, style, metrics, cache, layout)

        times.append(1e3 * seconds(edit))
    text = f"{size} measures"
    yield Row("page.cold", text, 1e3 * cold / size, "ms/measure", 1.0)
    yield Row("edit.to_layout_p95", text, percentile(times, 95), "ms", 16)
    yield Row("edit.to_layout_max", text, max(times), "ms", 33)
