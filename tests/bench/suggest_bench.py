"""From a key to the suggestion on the screen, through the real worker process and window."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from app.thinking.mind import Mind
from app.thinking.questions import Fingers, OtherWays, Prices
from core.model import Lesson, walk
from tests.bench.edit_bench import _bench
from tests.bench.music import long_lesson
from tests.bench.row import Row, median, percentile, seconds

GOAL_MS, WORKER_MS = 100, 40
SECTION = 16
TIMES = 15


def open_lesson(measures: int) -> Lesson:
    """The demo's music with every place and finger open."""
    from msgspec import structs

    lesson = long_lesson(measures)

    def bare(measure):
        rows = tuple(
            tuple(
                structs.replace(
                    e,
                    notes=tuple(structs.replace(n, place=None, finger=None) for n in e.notes),
                )
                for e in row
            )
            for row in measure.voices
        )
        return structs.replace(measure, voices=rows)

    sections = tuple(
        structs.replace(s, measures=tuple(bare(m) for m in s.measures))
        for s in lesson.arrangement.sections
    )
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    return structs.replace(lesson, arrangement=arrangement)


def rows() -> Iterator[Row]:
    for size in (24, 400):
        lesson = open_lesson(size)
        yield from in_the_worker(lesson, size)
        yield from on_the_screen(lesson, size)


def in_the_worker(lesson: Lesson, size: int) -> Iterator[Row]:
    """What the answers themselves cost, without pipes and window."""
    text = f"{size} measures"
    ids = [m.id for m in walk.measures(lesson.arrangement)]
    section = frozenset(ids[4 : 4 + SECTION])
    mind = Mind()
    mind.learn(lesson)

    def answer(question) -> Callable[[], object]:
        return lambda: mind.answer(question, lambda _: None)

    yield Row("suggest.section_cold", text, 1e3 * seconds(answer(Fingers(section))), "ms")
    warm = 1e3 * median(answer(Fingers(section)), TIMES)
    yield Row("suggest.section", text, warm, "ms", WORKER_MS)
    measure = next(iter(m for m in walk.measures(lesson.arrangement) if m.id == ids[6]))
    note = next(n for _, n in walk.notes(measure))
    prices = 1e3 * median(answer(Prices(measure.id, note.id)), TIMES)
    yield Row("suggest.prices", text, prices, "ms", 50)
    ways = 1e3 * median(answer(OtherWays(frozenset({measure.id}))), 5)
    yield Row("suggest.other_ways", text, ways, "ms")


def on_the_screen(lesson: Lesson, size: int) -> Iterator[Row]:
    """A real key on the window, until the answer has landed and is painted."""
    from PySide6.QtCore import QEventLoop
    from PySide6.QtGui import QKeySequence
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance() or QApplication([])
    built = _bench(lesson)
    text = f"{size} measures"
    suggesting = built.hand.suggesting

    def press(*keys: str) -> None:
        for key in keys:
            combination = QKeySequence(key)[0]
            QTest.keyClick(built.sheet, combination.key(), combination.keyboardModifiers())

    def landed() -> None:
        while suggesting.busy:  # idle as the program is, so that the worker has the machine
            app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        app.processEvents()

    def shown(key: str) -> float:
        def work() -> None:
            press(key)
            landed()

        return 1e3 * seconds(work)

    yield Row("suggest.first_key", text, shown("Shift+F"), "ms")  # starts the process too
    stalls, times = [], []
    for _ in range(TIMES):
        press("Ctrl+Home", *["A"] * SECTION)
        app.processEvents()
        times.append(shown("Shift+F"))
        press("Ctrl+Z")
        stalls.append(1e3 * seconds(lambda: press("Shift+F")))
        landed()
        press("Ctrl+Z")
    yield Row("suggest.key_to_screen_p50", f"16 of {text}", percentile(times, 50), "ms", GOAL_MS)
    yield Row("suggest.key_to_screen_p95", f"16 of {text}", percentile(times, 95), "ms", GOAL_MS)
    yield Row("suggest.key_itself_p95", f"16 of {text}", percentile(stalls, 95), "ms", 16)
    press("Ctrl+Home", "Esc")
    shown("Ctrl+Shift+F")
    pins = []
    press("Ctrl+Up")
    for number in range(TIMES):
        pins.append(shown("34"[number % 2]))
    yield Row("suggest.pin_to_screen_p50", text, percentile(pins, 50), "ms", GOAL_MS)
    yield Row("suggest.pin_to_screen_p95", text, percentile(pins, 95), "ms", GOAL_MS)
    built.window.close()
