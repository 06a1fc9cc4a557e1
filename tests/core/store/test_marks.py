"""Marks of lessons with unsaved work beside them: found, latest first, and never in the way."""

from __future__ import annotations

import os
from pathlib import Path

from core.store import journal_path, mark, marked, unmark


def with_journal(path: Path, when: int) -> Path:
    journal_path(path).write_bytes(b"kept")
    os.utime(journal_path(path), (when, when))
    return path


def test_what_is_marked_is_found_the_latest_first(tmp_path: Path) -> None:
    state = tmp_path / "state"
    old = with_journal(tmp_path / "old.footstool", 1_000)
    new = with_journal(tmp_path / "nëw tune.footstool", 2_000)
    for path in (new, old, old):
        mark(state, path)
    assert marked(state) == [new, old]
    unmark(state, new)
    assert marked(state) == [old]


def test_a_mark_without_a_journal_goes(tmp_path: Path) -> None:
    mark(tmp_path / "state", tmp_path / "a.footstool")
    assert marked(tmp_path / "state") == []
    assert list((tmp_path / "state").iterdir()) == []


def test_what_is_no_mark_or_no_folder_is_passed_over(tmp_path: Path) -> None:
    assert marked(tmp_path / "none") == []
    (tmp_path / "beside-1").write_bytes(b"\0\xff")
    (tmp_path / "beside-2").mkdir()
    assert marked(tmp_path) == []
    (tmp_path / "file").write_text("no folder")
    mark(tmp_path / "file", tmp_path / "a.footstool")
    unmark(tmp_path / "file", tmp_path / "a.footstool")
