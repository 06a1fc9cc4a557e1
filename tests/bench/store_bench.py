"""Saving and loading, in memory and on disk."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from core.formats import lesson_json
from core.store import load, save
from tests.bench.music import long_lesson
from tests.bench.row import Row, median


def rows() -> Iterator[Row]:
    lesson = long_lesson(500)
    data = lesson_json.write(lesson)
    size = f"500 measures, {len(data) // 1024} kB"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.footstool"
        yield Row("store.save", size, 1e3 * median(lambda: save(lesson, path)), "ms", 150)
        yield Row("store.load", size, 1e3 * median(lambda: load(path)), "ms", 300)
