"""Nothing lost: a killed bench's changes are offered again, a closed one's are not."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

import resources
from app.asking import Asking
from app.bench import DEMO, begin, read_or_kept
from app.files import LARGE_BYTES
from app.reading import read
from app.safekeeping import Safekeeping
from core.edit import SetTitle, apply
from core.model import BadInput, Lesson
from core.store import Journal, journal_path, load, save
from tests import build
from tests.app.conftest import Driver
from tests.bench.music import long_lesson


@pytest.fixture
def keeping(bench: Driver, tmp_path: Path) -> Safekeeping:
    return made(bench, tmp_path)


def made(bench: Driver, tmp_path: Path) -> Safekeeping:
    made = Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")
    bench.files.opened_lesson.connect(made.offer)
    bench.files.rescue = made.rescue
    return made


def test_nothing_is_written_before_the_first_change(keeping, tmp_path):
    assert not (tmp_path / "state").exists()


def test_a_change_is_kept_and_a_good_end_forgets_it(bench, keeping, tmp_path):
    bench.session.apply(SetTitle("Kept"))
    assert [p.name for p in (tmp_path / "state").glob("*.journal")] == [
        "unsaved-1.footstool.journal"
    ]
    keeping.finish()
    assert list((tmp_path / "state").iterdir()) == []


def test_saving_moves_the_journal_beside_the_file_and_empties_it(bench, keeping, tmp_path):
    bench.session.apply(SetTitle("Kept"))
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    bench.session.mark_saved(bench.lesson(), path)
    assert list((tmp_path / "state").iterdir()) == []
    assert not journal_path(path).exists()
    bench.session.apply(SetTitle("Kept again"))
    assert journal_path(path).exists()
    keeping.finish()


def test_undo_back_to_the_file_needs_no_journal(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    bench.session.mark_saved(bench.lesson(), path)
    bench.session.apply(SetTitle("Kept"))
    bench.session.undo()
    assert not journal_path(path).exists()


def test_a_second_bench_does_not_take_what_a_live_one_has_open(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    bench.files.open(path)
    bench.session.apply(SetTitle("Mine"))
    other = Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")
    assert other.offer(path) is False
    assert bench.answers.asked == []
    keeping.finish()


def test_a_journal_that_cannot_be_written_is_told_once_and_work_goes_on(bench, tmp_path):
    state = tmp_path / "state"
    state.write_text("a file where the folder should be")
    alive = made(bench, tmp_path)
    bench.session.apply(SetTitle("One"))
    first = bench.message()
    bench.session.apply(SetTitle("Two"))
    assert bench.lesson().title == "Two"
    assert "kept safe" in first
    alive.finish()


KILLED = """
    import os, signal, sys
    from pathlib import Path
    from PySide6.QtWidgets import QApplication
    app = QApplication([])
    from app.asking import Asking
    from app.bench import build_bench
    from app.reading import read
    from app.safekeeping import Safekeeping
    from core.edit import SetTitle
    path = Path(sys.argv[1]) if sys.argv[1] else None
    bench = build_bench(read(Path(sys.argv[2])).lesson, Asking())
    keeping = Safekeeping(bench.session, bench.messages, bench.asking, Path(sys.argv[3]))
    if path is not None:
        bench.files.open(path)
    bench.session.apply(SetTitle("Written just before the end"))
    os.kill(os.getpid(), signal.SIGKILL)
"""


def killed(path: str, lesson: Path, state: Path) -> None:
    """Run a bench that is killed right after an edit."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(KILLED), path, str(lesson), str(state)],
        check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        timeout=120,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
def test_after_a_kill_the_changes_of_a_lesson_file_are_offered(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    killed(str(path), path, tmp_path / "state")
    bench.files.open(path)
    assert bench.answers.asked == ["keep Written just before the end"]
    assert bench.lesson().title == "Written just before the end"
    assert bench.session.modified
    assert load(path).title != bench.lesson().title
    bench.session.apply(SetTitle("And on"))
    assert journal_path(path).exists()
    keeping.finish()


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
@pytest.mark.parametrize("keep", [True, False])
def test_after_a_kill_a_lesson_without_a_file_is_offered(bench, keeping, tmp_path, keep):
    path = tmp_path / "source.footstool"
    save(bench.lesson(), path)
    killed("", path, tmp_path / "state")
    bench.answers.keep = keep
    assert keeping.offer_unsaved() is keep
    assert (bench.lesson().title == "Written just before the end") is keep
    keeping.finish()
    assert not list((tmp_path / "state").glob("*.journal"))


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
@pytest.mark.parametrize("keep", [True, False])
def test_a_start_without_a_file_finds_what_was_kept_beside_one(bench, keeping, tmp_path, keep):
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    killed(str(path), path, tmp_path / "state")
    bench.answers.keep = keep
    begin(bench, keeping, read(path), None)
    assert bench.answers.asked == [f"keep Written just before the end, in {path},"]
    assert (bench.session.path == path) is keep
    assert (bench.lesson().title == "Written just before the end") is keep
    assert journal_path(path).exists() is keep
    if keep:
        bench.press("Ctrl+S")
        assert load(path).title == "Written just before the end"
    assert not list((tmp_path / "state").glob("beside-*"))
    keeping.finish()


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
def test_a_start_without_a_file_finds_what_was_kept_of_a_damaged_one(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    damaged(bench, path, tmp_path / "state")
    before = bench.lesson()
    bench.answers.keep = False
    begin(bench, keeping, read(resources.path(*DEMO)), None)
    assert bench.lesson() is before
    bench.answers.keep = True
    begin(bench, keeping, read(resources.path(*DEMO)), None)
    assert bench.lesson().title == "Written just before the end"
    assert bench.session.path is None
    keeping.finish()


def test_a_journal_of_a_live_bench_or_one_that_is_gone_is_not_offered(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    save(bench.lesson(), path)
    bench.files.open(path)
    bench.session.apply(SetTitle("Kept"))
    assert len(list((tmp_path / "state").glob("beside-*"))) == 1
    other = Safekeeping(bench.session, bench.messages, bench.answers, tmp_path / "state")
    assert not other.offer_beside()
    keeping.finish()
    (tmp_path / "state" / "beside-0").write_bytes(os.fsencode(tmp_path / "gone.footstool"))
    assert not other.offer_beside()
    assert bench.answers.asked == []
    assert not list((tmp_path / "state").iterdir())


def damaged(bench: Driver, path: Path, state: Path) -> bytes:
    """A lesson whose bench was killed after an edit, and whose file was then torn; what is left."""
    save(bench.lesson(), path)
    killed(str(path), path, state)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    return path.read_bytes()


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
def test_a_damaged_lesson_opens_from_what_was_kept_beside_it(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    torn = damaged(bench, path, tmp_path / "state")
    bench.answers.path = path
    bench.press("Ctrl+O")
    question = bench.answers.asked[-1]
    assert question.startswith("a.footstool cannot be opened")
    assert question.endswith("Open what was kept of a.footstool?")
    assert bench.lesson().title == "Written just before the end"
    assert bench.session.modified
    assert bench.session.path is None
    assert "not saved yet" in bench.message()
    # The damaged file stays; saving asks for a name, and then the journal has done its work.
    bench.answers.path = tmp_path / "mended.footstool"
    bench.press("3", "Ctrl+S")
    assert path.read_bytes() == torn
    assert load(tmp_path / "mended.footstool") == bench.lesson()
    assert not journal_path(path).exists()


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process by signal")
def test_what_was_kept_of_a_damaged_lesson_stays_when_it_is_left(bench, keeping, tmp_path):
    path = tmp_path / "a.footstool"
    damaged(bench, path, tmp_path / "state")
    before = bench.lesson()
    bench.answers.path, bench.answers.keep = path, False
    bench.press("Ctrl+O")
    assert bench.lesson() is before
    assert "a.footstool cannot be opened" in bench.message()
    assert journal_path(path).exists()
    # A damaged journal has nothing to offer: the sentence alone.
    journal_path(path).write_bytes(b"0 torn")
    bench.answers.asked.clear()
    bench.press("Ctrl+O")
    assert bench.answers.asked == ["open"]
    assert "a.footstool cannot be opened" in bench.message()


def test_a_large_damaged_lesson_is_offered_too(bench, keeping, qtbot, tmp_path):
    path = tmp_path / "long.footstool"
    lesson = long_lesson(300)
    save(lesson, path)
    edited = kept(path, lesson)
    path.write_bytes(path.read_bytes()[:-200])
    assert path.stat().st_size > LARGE_BYTES
    bench.answers.path = path
    bench.press("Ctrl+O")
    qtbot.waitUntil(lambda: bench.lesson().title == "Kept", timeout=20_000)
    assert bench.lesson() == edited
    assert bench.session.path is None


@pytest.mark.parametrize(("button", "taken"), [("Open what was kept", True), ("Leave it", False)])
def test_the_question_about_a_damaged_lesson_is_answered_by_keys(qtbot, button, taken):
    seen = []

    def press() -> None:
        box = QApplication.activeModalWidget()
        seen.extend((box.text(), box.informativeText()))
        found = next(b for b in box.buttons() if b.text() == button)
        found.setFocus()
        QTest.keyClick(found, Qt.Key.Key_Space)

    QTimer.singleShot(0, press)
    assert Asking().open_kept("a.footstool", "a.footstool cannot be opened.") is taken
    assert "kept beside it" in seen[0]
    assert "a.footstool itself stays as it is" in seen[1]


def test_a_damaged_file_on_the_command_line_is_opened_only_where_something_was_kept(tmp_path):
    path = tmp_path / "a.footstool"
    lesson = build.lesson(["C4:whole"])
    save(lesson, path)
    assert read_or_kept(path).lesson == lesson
    path.write_bytes(b"torn")
    with pytest.raises(BadInput, match=r"a\.footstool is not a Footstool lesson"):
        read_or_kept(path)
    kept(path, lesson)
    assert read_or_kept(path) is None


def kept(path: Path, lesson: Lesson) -> Lesson:
    """Leave a journal of one change beside a file; the lesson after it."""
    edit = apply(SetTitle("Kept"), lesson)
    journal = Journal(journal_path(path), lesson)
    journal.append(edit.change, edit.lesson)
    journal.close()
    return edit.lesson
