"""Saving and loading lesson files."""

from __future__ import annotations

from pathlib import Path

from core.formats import lesson_json
from core.model import Lesson
from core.store.files import read_whole, write_atomically

SUFFIX = ".footstool"


def save(lesson: Lesson, path: Path) -> None:
    """Write the lesson file; whatever happens, `path` holds the old lesson or the new one.

    Raises BadInput when the place cannot be written.
    """
    write_atomically(path, lesson_json.write(lesson))


def load(path: Path) -> Lesson:
    """Read and validate a lesson file; raises BadInput with a sentence that names it."""
    return lesson_json.read(read_whole(path, lesson_json.MOST_BYTES), path.name)
