"""Files read with a limit and written whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from core.model import BadInput


def read_whole(path: Path, most_bytes: int) -> bytes:
    """The bytes of a plain file of at most `most_bytes`; raises BadInput with a sentence."""
    try:
        with path.open("rb") as file:
            facts = os.fstat(file.fileno())
            if not stat.S_ISREG(facts.st_mode):
                raise BadInput(f"{path} is not a plain file.")
            data = b"" if facts.st_size > most_bytes else file.read(most_bytes + 1)
    except FileNotFoundError as error:
        raise BadInput(f"There is no file {path}.") from error
    except IsADirectoryError as error:
        raise BadInput(f"{path} is a folder; name the file in it.") from error
    except (OSError, ValueError) as error:
        raise BadInput(f"{path} cannot be read: {reason(error)}.") from error
    if facts.st_size > most_bytes or len(data) > most_bytes:
        raise BadInput(f"{path.name} is too large: more than {most_bytes // 2**20} MiB.")
    return data


def write_atomically(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file beside its place, flush it to the disk, then put it there in one step.

    `data` may come in pieces; what making them raises is passed on, and nothing is written.
    A file that is there keeps its permissions; a link keeps pointing to what it pointed to.
    Raises BadInput with a sentence, and then the old file is as it was.
    """
    target = Path(os.path.realpath(path))
    try:
        mode = _mode_of(target)
        temporary = target.with_name(f".footstool-{secrets.token_hex(6)}.part")
        try:
            _write_new(temporary, [data] if isinstance(data, bytes) else data, mode)
            os.replace(temporary, target)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
        _flush_folder(target.parent)
    except FileNotFoundError as error:
        folder = target.parent
        why = f"there is no such folder as {folder}; make it first, or choose another"
        if folder.is_dir():  # such as /proc, whose files no program makes
            why = f"the folder {folder} takes no new files; choose another"
        raise BadInput(f"{path} cannot be written: {why}.") from error
    except (OSError, ValueError) as error:
        raise BadInput(f"{path} cannot be written: {reason(error)}.") from error


def reason(error: Exception) -> str:
    """The system's reason in its own words, without the path and the number."""
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:].rstrip(".")


def _mode_of(target: Path) -> int | None:
    """The permissions of the file to be replaced, None where there is none."""
    try:
        facts = target.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(facts.st_mode):
        raise BadInput(f"{target} is not a plain file and is not overwritten.")
    if not os.access(target, os.W_OK):
        raise BadInput(f"{target} is write-protected.")
    return stat.S_IMODE(facts.st_mode)


def _write_new(path: Path, pieces: Iterable[bytes], mode: int | None) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with open(handle, "wb") as file:
        file.writelines(pieces)
        file.flush()
        os.fsync(file.fileno())
    if mode is not None:
        path.chmod(mode)


def _flush_folder(folder: Path) -> None:
    """Make the new name itself durable, on systems where folders can be flushed."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
