"""The worker process: told changes, stopped, killed, closed, never left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest

from app.jobs import Worker
from app.thinking.questions import Fingering, Fingers, Prices
from core.edit import SetFinger, apply
from core.model import Finger, walk
from tests import build
from tests.app.thinking.test_mind import TUNE

LIMIT_MS = 30_000  # a broken worker fails the test; nothing is timed
ROOT = Path(__file__).parents[2]


@pytest.fixture
def worker(qtbot) -> Iterator[Worker]:
    made = Worker()
    yield made
    made.close()


def answer(qtbot, worker: Worker, lesson, question) -> object:
    with qtbot.waitSignal(worker.answered, timeout=LIMIT_MS) as found:
        serial = worker.ask(lesson, question)
    assert found.args[0] == serial
    return found.args[1]


def first_note(lesson):
    measure = next(iter(walk.measures(lesson.arrangement)))
    return measure, next(note for _, note in walk.notes(measure))


def alive(pid: int) -> bool:
    """Whether a process runs; one that is dead but not yet buried does not."""
    stat = Path(f"/proc/{pid}/stat")
    try:
        return stat.read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_it_starts_with_the_first_question_and_stays(qtbot, worker):
    assert worker.pid == 0
    lesson = build.lesson(*TUNE)
    answer(qtbot, worker, lesson, Fingers())
    first = worker.pid
    assert first
    answer(qtbot, worker, lesson, Fingers())
    assert worker.pid == first


def test_it_is_told_what_changes(qtbot, worker):
    lesson = build.lesson(*TUNE)
    before = answer(qtbot, worker, lesson, Fingers())
    measure, note = first_note(lesson)
    changed = apply(SetFinger(measure.id, note.id, Finger.LITTLE), lesson).lesson
    after = answer(qtbot, worker, changed, Fingers())
    assert isinstance(before, Fingering)
    assert isinstance(after, Fingering)
    assert note.id in before.fingers
    assert note.id not in after.fingers
    back = answer(qtbot, worker, lesson, Fingers())
    assert back == before


def test_what_it_cannot_answer_comes_back_as_a_sentence(qtbot, worker):
    with qtbot.waitSignal(worker.refused, timeout=LIMIT_MS) as found:
        worker.ask(build.lesson(*TUNE), Prices(10_000, 1))
    assert found.args[1] == "That measure is no longer there."
    assert worker.pid


def test_a_question_under_way_is_given_up_and_the_next_is_answered(qtbot, worker):
    # Few measures, each in many neighbourhoods: making all of them alike takes seconds, so that the
    # question is surely under way when it is given up.
    order = Random(1)
    lesson = build.lesson([order.choice((*TUNE[0], *TUNE[1])) for _ in range(1000)])
    with qtbot.waitSignal(worker.told, timeout=LIMIT_MS):
        long = worker.ask(lesson, Fingers(alike=True))  # tells when it begins with twins
    with qtbot.waitSignal(worker.given_up, timeout=LIMIT_MS) as found:
        worker.stop(long)
    assert found.args == [long]
    pid = worker.pid
    measure, _ = first_note(lesson)
    assert isinstance(answer(qtbot, worker, lesson, Fingers(frozenset({measure.id}))), Fingering)
    assert worker.pid == pid, "the same process goes on"


def test_a_question_is_given_up_before_it_is_begun(qtbot, worker):
    lesson = build.lesson(*TUNE)
    first = worker.ask(lesson, Fingers())
    second = worker.ask(lesson, Fingers())
    with qtbot.waitSignal(worker.given_up, timeout=LIMIT_MS) as found:
        worker.stop(second)
    assert found.args == [second]
    assert first != second


def test_after_a_crash_it_says_so_once_and_starts_again(qtbot, worker):
    lesson = build.lesson(*TUNE)
    answer(qtbot, worker, lesson, Fingers())
    first = worker.pid
    with qtbot.waitSignal(worker.died, timeout=LIMIT_MS) as found:
        os.kill(first, signal.SIGKILL)
    assert "starts again when you next ask" in found.args[0]
    assert worker.pid == 0
    assert isinstance(answer(qtbot, worker, lesson, Fingers()), Fingering)
    assert worker.pid not in (0, first)


def test_a_process_that_cannot_start_is_told(qtbot, worker, monkeypatch, tmp_path):
    lesson = build.lesson(*TUNE)
    with monkeypatch.context() as changed:
        changed.setattr(sys, "executable", str(tmp_path / "no-such-program"))
        with qtbot.waitSignal(worker.died, timeout=LIMIT_MS):
            worker.ask(lesson, Fingers())
    assert isinstance(answer(qtbot, worker, lesson, Fingers()), Fingering)


def test_an_interrupt_of_the_terminal_does_not_end_it(qtbot, worker):
    lesson = build.lesson(*TUNE)
    answer(qtbot, worker, lesson, Fingers())
    pid = worker.pid
    os.kill(pid, signal.SIGINT)
    answer(qtbot, worker, lesson, Fingers())
    assert worker.pid == pid


def test_closing_ends_it_at_once_even_while_it_thinks(qtbot, worker):
    lesson = build.lesson(*[TUNE[0]] * 60)
    with qtbot.waitSignal(worker.told, timeout=LIMIT_MS):
        worker.ask(lesson, Fingers(alike=True))
    pid = worker.pid
    worker.close()
    assert not alive(pid)


BENCH = """
import sys
from PySide6.QtCore import QCoreApplication
from app.jobs import Worker
from app.thinking.questions import Fingers
from tests import build
from tests.app.thinking.test_mind import TUNE
app = QCoreApplication([])
worker = Worker()
worker.told.connect(lambda *_: print(worker.pid, flush=True))
worker.ask(build.lesson(*[TUNE[0]] * 60), Fingers(alike=True))
app.exec()
"""


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks at the processes in /proc")
def test_no_worker_outlives_a_bench_that_is_killed():
    bench = subprocess.Popen(
        [sys.executable, "-c", BENCH], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    try:
        assert bench.stdout is not None
        pid = int(bench.stdout.readline())  # comes while the worker is in the midst of it
        assert alive(pid)
    finally:
        bench.kill()
        bench.wait()
        if bench.stdout is not None:
            bench.stdout.close()
    while alive(pid):  # hangs, and so fails, if it stays
        time.sleep(0.01)
