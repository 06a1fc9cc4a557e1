"""Saving and loading, in memory and on disk."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from msgspec import structs

from core.edit.change import difference
from core.formats import lesson_json
from core.model import Lesson
from core.store import Journal, load, save
from core.store.records import replay
from tests.bench.music import long_lesson
from tests.bench.row import Row, median, percentile, seconds


def rows() -> Iterator[Row]:
    lesson = long_lesson(500)
    data = lesson_json.write(lesson)
    size = f"500 measures, {len(data) // 1024} kB"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.footstool"
        yield Row("store.save", size, 1e3 * median(lambda: save(lesson, path)), "ms", 150)
        yield from _journal(lesson, Path(folder))
        yield Row("store.load", size, 1e3 * median(lambda: load(path)), "ms", 300)


def _journal(lesson: Lesson, folder: Path) -> Iterator[Row]:
    """One changed measure written down, and a journal of a thousand changes played back."""
    journal = Journal(folder / "long.journal", lesson)
    section = lesson.arrangement.sections[0]
    figures = []
    for number in range(1000):
        measures = list(section.measures)
        at = number % len(measures)
        measures[at] = structs.replace(measures[at], counted=not measures[at].counted)
        section = structs.replace(section, measures=tuple(measures))
        sections = (section, *lesson.arrangement.sections[1:])
        arrangement = structs.replace(lesson.arrangement, sections=sections)
        updated = structs.replace(lesson, arrangement=arrangement)
        change = difference(lesson, updated, "Edit")
        lesson = updated
        figures.append(1e3 * seconds(partial(journal.append, change, updated)))
    journal.close()
    size = "500 measures"
    yield Row("store.journal-change", size, percentile(figures, 95), "ms", 2)
    data = journal.path.read_bytes()
    yield Row(
        "store.journal-replay", "1000 changes", 1e3 * median(lambda: replay(data)), "ms", 1000
    )
