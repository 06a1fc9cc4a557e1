"""Where unsaved work lies beside lesson files: one small file in the state folder for each.

A bench that is killed leaves its journal beside the lesson; the mark is how a plain start, which
names no file, finds it again. Nothing here raises: without a mark the work is still offered when
the lesson itself is opened.
"""

from __future__ import annotations

import os
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

from core.model import BadInput
from core.store.files import write_atomically
from core.store.journal import journal_path

MOST_BYTES = 16 * 1024


def mark(state_folder: Path, lesson: Path) -> None:
    """Note that a journal lies beside a lesson file."""
    with suppress(OSError, BadInput):
        state_folder.mkdir(parents=True, exist_ok=True)
        write_atomically(_mark(state_folder, lesson), os.fsencode(lesson.absolute()))


def unmark(state_folder: Path, lesson: Path) -> None:
    """The journal beside a lesson file is not needed any more."""
    with suppress(OSError):
        _mark(state_folder, lesson).unlink(missing_ok=True)


def marked(state_folder: Path) -> list[Path]:
    """The lesson files beside which a journal still lies, the latest first; other marks go."""
    found: list[tuple[float, Path]] = []
    for place in state_folder.glob("beside-*"):
        with suppress(OSError, ValueError):
            with place.open("rb") as file:
                lesson = Path(os.fsdecode(file.read(MOST_BYTES)))
            journal = journal_path(lesson)
            if journal.is_file():
                found.append((journal.stat().st_mtime, lesson))
            else:
                place.unlink(missing_ok=True)
    return [lesson for _, lesson in sorted(found, reverse=True)]


def _mark(state_folder: Path, lesson: Path) -> Path:
    name = blake2b(os.fsencode(lesson.absolute()), digest_size=8).hexdigest()
    return state_folder / f"beside-{name}"
