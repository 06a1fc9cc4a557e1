"""One command, one undo, and from a command to the new layout."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import resources.metrics
from core.edit import History, SetFinger, apply
from core.model import Finger, Lesson, walk
from core.page.engrave import Cache, engrave
from core.page.metrics import build
from core.page.style import PageStyle
from tests.bench.music import demo, long_lesson
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
    once = median(lambda: apply(command, lesson), 200)
    yield Row("edit.command", "500 measures", 1e3 * once, "ms", 0.2)
    updated = apply(command, lesson).lesson
    history = History().record(command.label, lesson)
    back = median(lambda: history.undo(updated), 200)
    yield Row("edit.undo", "500 measures", 1e3 * back, "ms", 1.0)
    metrics = build(resources.metrics.load())
    for size in (24, 400):
        yield from to_layout(long_lesson(size), size, metrics)
    yield from typed()


def to_layout(lesson: Lesson, size: int, metrics) -> Iterator[Row]:
    style, cache = PageStyle(), Cache()
    cold = seconds(lambda: list(engrave(lesson, style, metrics, Cache()).sheets))
    layout = engrave(lesson, style, metrics, cache)
    times = []
    for command in list(commands(lesson, max(1, size // 60))):

        def edit(command: SetFinger = command) -> None:
            nonlocal lesson, layout
            lesson = apply(command, lesson).lesson
            layout = engrave(lesson, style, metrics, cache, layout)
            assert layout.systems[layout.index[command.measure][0]].block.items

        times.append(1e3 * seconds(edit))
    text = f"{size} measures"
    yield Row("page.cold", text, 1e3 * cold / size, "ms/measure", 1.0)
    yield Row("edit.to_layout_p95", text, percentile(times, 95), "ms", 16)
    yield Row("edit.to_layout_max", text, max(times), "ms", 33)


def typed() -> Iterator[Row]:
    """Real key events on the window: until the new layout is there, and the longest stall."""
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance() or QApplication([])
    for size in (24, 500):
        times = [ms for key, ms in _pressed(app, long_lesson(size), ENTRY * 12) if key.isdigit()]
        text = f"{size} measures"
        yield Row("edit.key_to_layout_p95", text, percentile(times, 95), "ms", 16)
        yield Row("edit.key_to_layout_p99", text, percentile(times, 99), "ms", 33)
    keys = _random_keys(2000)
    stalls = [ms for _, ms in _pressed(app, demo(), keys, settle=True)]
    yield Row("edit.stall_p99", "2000 random keys", percentile(stalls, 99), "ms", 30)
    yield Row("edit.stall_max", "2000 random keys", max(stalls), "ms", 30)


# Frets, fingers and values here and there: on the tab and on the staff.
ENTRY = (
    "Ctrl+Right",
    "3",
    "Right",
    "2",
    "E",
    "Down",
    "1",
    "Ctrl+Up",
    "4",
    "Ctrl+Down",
    "Right",
    "0",
)
SKIPPED = {"Space", "Shift+Space", "G"}  # these open the sound output or leave the sheet


def _random_keys(count: int) -> tuple[str, ...]:
    bench = _bench(demo())
    focuses = ("on the sheet", "on the tab", "on the staff")
    keys = [
        key
        for action in bench.table.actions
        if action.focus in focuses and not action.title.endswith("…")
        for key in action.keys
        if key not in SKIPPED
    ]
    bench.window.close()
    return tuple(Random(7).choices([*keys, *["Ctrl+Z"] * 4], k=count))


def _bench(lesson: Lesson):
    from app.asking import Asking
    from app.bench import build_bench

    class Leaving(Asking):
        def save_first(self, title: str):
            return "leave"

    built = build_bench(lesson, Leaving(), "light")
    built.window.resize(1280, 800)
    built.window.show()
    built.window.focus_sheet()
    return built


def _pressed(
    app, lesson: Lesson, keys: tuple[str, ...], settle: bool = False
) -> Iterator[tuple[str, float]]:
    """Each key and its milliseconds; with `settle` painting and what follows later count too."""
    from PySide6.QtGui import QKeySequence
    from PySide6.QtTest import QTest

    from app.tidying import Tidying

    built = _bench(lesson)
    tidying = Tidying(built.session, lambda: False)  # as in the program
    app.processEvents()
    for key in keys:
        combination = QKeySequence(key)[0]

        def press(combination=combination) -> None:
            QTest.keyClick(built.sheet, combination.key(), combination.keyboardModifiers())
            _ = built.session.layout

        if settle:
            yield key, 1e3 * seconds(press)
            yield key, 1e3 * seconds(app.processEvents)
        else:
            yield key, 1e3 * seconds(press)
            app.processEvents()
    tidying.finish()
    built.window.close()
