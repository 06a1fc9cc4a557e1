"""What the window shows first: unsaved work, the file of the command line, or the demo."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bench import begin
from app.reading import read
from app.safekeeping import Safekeeping
from core.edit import SetTitle
from core.store import save
from tests import build

DEMO = "Rowing Home at Lantern Time"


@pytest.fixture
def keeping(bench, tmp_path) -> Safekeeping:
    return Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")


@pytest.fixture
def file(tmp_path) -> Path:
    path = tmp_path / "mine.footstool"
    save(build.lesson(["C4s2f1:whole"], title="Mine"), path)
    return path


def leave_unsaved(bench, tmp_path) -> None:
    """A journal as a bench that was killed leaves it."""
    other = Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")
    bench.session.apply(SetTitle("Lost and found"))
    found = next((tmp_path / "state").glob("*.journal")).read_bytes()
    other.finish()
    (tmp_path / "state" / "unsaved-1.footstool.journal").write_bytes(found)
    bench.session.open(build.lesson(["E4s1f0:whole"], title="Empty"), None)


def test_the_file_is_opened(bench, keeping, file):
    begin(bench, keeping, read(file), file)
    assert bench.lesson().title == "Mine"
    assert bench.session.path == file


@pytest.mark.parametrize("wanted", [True, False])
def test_unsaved_work_is_offered_before_the_file(bench, tmp_path, file, wanted):
    leave_unsaved(bench, tmp_path)
    keeping = Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")
    bench.answers.keep = wanted
    begin(bench, keeping, read(file), file)
    assert "keep Lost and found" in bench.answers.asked
    assert bench.lesson().title == ("Lost and found" if wanted else "Mine")
    assert ("mine.footstool was not opened" in bench.message()) is wanted
    keeping.finish()


def test_a_score_that_is_left_unopened_leaves_the_demo(bench, keeping, trio):
    bench.answers.choices = None
    begin(bench, keeping, read(trio), trio)
    assert bench.answers.asked == ["how to read trio.musicxml"]
    assert bench.lesson().title == DEMO
