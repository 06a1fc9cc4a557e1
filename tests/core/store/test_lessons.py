"""Saving and loading: whole or not at all, and one sentence for whatever cannot be read."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings

from core.formats import lesson_json
from core.model import BadInput
from core.store import files as files_module
from core.store import load, save
from core.store.files import read_whole
from tests import build
from tests.strategies import lessons

TUNE = build.lesson(["E4:half G4:half | C3:whole", "A4:whole"], title="A small tune")
NEEDS_POSIX = pytest.mark.skipif(os.name != "posix", reason="permissions and links of POSIX")


@settings(max_examples=25, deadline=None)
@given(lessons())
def test_loading_what_was_saved_gives_the_same_lesson(lesson) -> None:
    folder = Path(os.environ["PYTEST_FOLDER"])
    save(lesson, folder / "tune.footstool")
    again = load(folder / "tune.footstool")
    assert again == lesson
    assert again.next_id == lesson.next_id


@pytest.fixture(autouse=True)
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTEST_FOLDER", str(tmp_path))


def test_saving_leaves_nothing_but_the_lesson(tmp_path: Path) -> None:
    path = tmp_path / "tune.footstool"
    save(TUNE, path)
    save(TUNE, path)
    assert [p.name for p in tmp_path.iterdir()] == ["tune.footstool"]


@NEEDS_POSIX
def test_saving_keeps_permissions(tmp_path: Path) -> None:
    path = tmp_path / "tune.footstool"
    save(TUNE, path)
    fresh = tmp_path / "plain"
    fresh.touch()
    assert path.stat().st_mode == fresh.stat().st_mode, "a new file follows the umask"
    path.chmod(0o640)
    save(TUNE, path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


@NEEDS_POSIX
def test_saving_through_a_link_keeps_the_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.footstool", tmp_path / "link.footstool"
    save(TUNE, real)
    link.symlink_to(real)
    save(build.lesson(["C4:whole"]), link)
    assert link.is_symlink()
    assert load(real) == build.lesson(["C4:whole"])


@pytest.mark.parametrize("step", ["write", "flush", "replace"])
def test_a_failing_disk_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = tmp_path / "tune.footstool"
    save(TUNE, path)
    before = path.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    target = {"write": (files_module, "_write_new"), "flush": (os, "fsync"),
              "replace": (os, "replace")}[step]  # fmt: skip
    monkeypatch.setattr(*target, fail)
    with pytest.raises(BadInput, match=r"tune\.footstool cannot be written: no space left"):
        save(build.lesson(["C4:whole"]), path)
    monkeypatch.undo()
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["tune.footstool"]


def test_saving_where_no_file_can_be(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no such folder"):
        save(TUNE, tmp_path / "nowhere" / "tune.footstool")
    with pytest.raises(BadInput, match="is not a plain file"):
        save(TUNE, tmp_path)
    with pytest.raises(BadInput, match="cannot be written"):
        save(TUNE, tmp_path / ("x" * 300 + ".footstool"))


def test_loading_what_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There is no file"):
        load(tmp_path / "tune.footstool")
    with pytest.raises(BadInput, match="is a folder"):
        load(tmp_path)
    with pytest.raises(BadInput, match="cannot be read"):
        load(Path("a\0b"))


@NEEDS_POSIX
def test_a_device_is_refused_and_not_read_for_ever() -> None:
    with pytest.raises(BadInput, match="is not a plain file"):
        load(Path("/dev/zero"))


def test_a_file_over_the_limit_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large.footstool"
    with path.open("wb") as file:
        file.truncate(lesson_json.MOST_BYTES + 1)  # sparse: takes no room
    with pytest.raises(BadInput, match=r"large\.footstool is too large: more than 64 MiB"):
        load(path)
    assert read_whole(path, lesson_json.MOST_BYTES + 1)[:1] == b"\0"


def test_a_lesson_of_a_newer_footstool(tmp_path: Path) -> None:
    path = tmp_path / "new.footstool"
    path.write_bytes(lesson_json.write(TUNE).replace(b'"version": 1', b'"version": 99'))
    with pytest.raises(BadInput, match=r"new\.footstool was written by a newer Footstool"):
        load(path)


def test_every_truncation_is_refused_with_a_sentence(tmp_path: Path) -> None:
    data = lesson_json.write(TUNE)
    path = tmp_path / "cut.footstool"
    for length in range(len(data.rstrip())):
        path.write_bytes(data[:length])
        with pytest.raises(BadInput, match=r"^cut\.footstool (cannot be opened|is not|is empty)"):
            load(path)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs /proc, which takes no files")
def test_a_folder_that_takes_no_files_is_not_said_to_be_missing() -> None:
    with pytest.raises(BadInput, match="the folder /proc takes no new files"):
        save(build.lesson(["E4:whole"]), Path("/proc/tune.footstool"))
