"""A folder gets all its files or none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from core.kit.folder import fill
from core.model import BadInput


def silent(name: str) -> None:
    pass


def failing() -> Iterator[bytes]:
    yield b"half"
    raise BadInput("The sound would last too long.")


def test_files_come_in_pieces_and_their_sizes_are_told(tmp_path: Path) -> None:
    heard: list[str] = []
    parts = [("one", lambda: [b"a", b"bc"]), ("two", lambda: [b""])]
    assert fill(tmp_path / "deep" / "kit", parts, heard.append) == [3, 0]
    assert heard == ["one", "two"]
    assert (tmp_path / "deep" / "kit" / "one").read_bytes() == b"abc"
    assert [p.name for p in (tmp_path / "deep").iterdir()] == ["kit"]


def test_a_file_that_fails_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    folder = tmp_path / "kit"
    fill(folder, [("one", lambda: [b"old"])], silent)
    (folder / "mine.txt").write_text("a note of the teacher's")
    with pytest.raises(BadInput, match="too long"):
        fill(folder, [("one", lambda: [b"new"]), ("two", failing)], silent)
    assert sorted(p.name for p in folder.iterdir()) == ["mine.txt", "one"]
    assert (folder / "one").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["kit"]


def test_whoever_is_told_may_stop_the_work(tmp_path: Path) -> None:
    def stop(name: str) -> None:
        if name == "two":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fill(tmp_path / "kit", [("one", lambda: [b"1"]), ("two", lambda: [b"2"])], stop)
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "kit").write_text("mine")
    with pytest.raises(BadInput, match="is a file; the kit needs a folder"):
        fill(tmp_path / "kit", [("one", lambda: [b"1"])], silent)
    assert (tmp_path / "kit").read_text() == "mine"


def test_a_folder_in_a_file_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(BadInput, match="The kit cannot be written"):
        fill(tmp_path / "file" / "kit", [("one", lambda: [b"1"])], silent)
