"""A folder that receives several files together, each of them whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from core.model import BadInput

Part = tuple[str, Callable[[], Iterable[bytes]]]
"""A file name, and what gives its bytes, in pieces, when asked."""


def fill(folder: Path, parts: Sequence[Part], tell: Callable[[str], None]) -> list[int]:
    """Make every file in a temporary folder beside `folder`, then put all of them in their place.

    `tell` hears the name of each file before it is made, and may raise to stop. Files of `folder`
    with other names are left alone. When anything fails, `folder` is as it was. Returns the sizes
    in bytes; raises BadInput with a sentence where the folder cannot be written.
    """
    try:
        _check(folder)
        folder.parent.mkdir(parents=True, exist_ok=True)
        workshop = Path(tempfile.mkdtemp(prefix=".footstool-kit-", dir=folder.parent))
        try:
            sizes = [_make(workshop / name, pieces, tell) for name, pieces in parts]
            folder.mkdir(exist_ok=True)
            for name, _ in parts:
                os.replace(workshop / name, folder / name)
        finally:
            shutil.rmtree(workshop, ignore_errors=True)
    except OSError as error:
        why = (error.strerror or str(error)).rstrip(".")
        why = why[:1].lower() + why[1:]
        if isinstance(error, FileNotFoundError) and folder.parent.is_dir():
            why = f"{folder.parent} takes no new folder; choose another place"
        raise BadInput(f"The kit cannot be written to {folder}: {why}.") from error
    return sizes


def _check(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise BadInput(f"{folder} is a file; the kit needs a folder.")
    if folder.is_dir() and not os.access(folder, os.W_OK):
        raise BadInput(f"The folder {folder} is write-protected.")


def _make(path: Path, pieces: Callable[[], Iterable[bytes]], tell: Callable[[str], None]) -> int:
    tell(path.name)
    with path.open("xb") as file:
        for piece in pieces():
            file.write(piece)
        file.flush()
        os.fsync(file.fileno())
        return file.tell()
