"""The journal: played back it is the lesson, cut anywhere it is an earlier lesson."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.edit.base import apply
from core.edit.change import Change, difference
from core.edit.history import History
from core.model import BadInput, EditRefused, Lesson
from core.store import Journal, journal_path, load, recover, recover_unsaved, save, unsaved_path
from core.store import journal as journal_module
from core.store.records import FORMAT, VERSION, Chain, Start, record, replay
from tests import build
from tests.moves import random_command
from tests.strategies import lessons

TUNE = build.lesson(["E4:half G4:half | C3:whole", "A4:whole"], ["C4:whole"], title="A small tune")


def written(states: Sequence[Lesson]) -> bytes:
    """The journal of a lesson that went through these states."""
    chain = Chain()
    lines = [chain.line(Start(FORMAT, VERSION, states[0]))]
    for before, after in pairwise(states):
        lines.append(chain.line(record(difference(before, after, "Edit"), after)))
    return b"".join(lines)


def titled(lesson: Lesson, title: str) -> Lesson:
    return structs.replace(lesson, title=title)


def same(one: Lesson, other: Lesson) -> bool:
    return one == other and one.next_id == other.next_id


@settings(max_examples=10, deadline=None)
@given(st.lists(lessons(), min_size=1, max_size=4))
def test_played_back_a_journal_passes_through_every_state(states: list[Lesson]) -> None:
    """Whole lessons in place of each other: the largest changes there can be."""
    found = replay(written(states))
    assert len(found) == len(states)
    assert all(map(same, found, states))


def small_steps(lesson: Lesson) -> list[Lesson]:
    """One change of each kind a journal knows, one after the other."""
    steps = [lesson, titled(lesson, "Another title")]

    def rearranged(**values: object) -> None:
        now = steps[-1]
        arrangement = structs.replace(now.arrangement, **values)
        steps.append(structs.replace(now, arrangement=arrangement))

    first, *others = lesson.arrangement.sections
    rearranged(instrument=structs.replace(lesson.arrangement.instrument, capo=2), spans=())
    changed = structs.replace(first.measures[0], counted=not first.measures[0].counted)
    rearranged(sections=(structs.replace(first, measures=(changed, *first.measures[1:])), *others))
    added = structs.replace(first.measures[0], id=lesson.next_id, voices=((),), others=())
    grown = structs.replace(first, measures=(*first.measures, added), endings=(), letter="Q")
    steps[-1] = structs.replace(steps[-1], next_id=lesson.next_id + 1)
    rearranged(sections=(grown, *others))
    rearranged(sections=(*others, structs.replace(grown, measures=grown.measures[::-1])))
    rearranged(sections=(structs.replace(grown, measures=grown.measures[1:]),))
    return steps


@settings(max_examples=30, deadline=None)
@given(lessons())
def test_each_kind_of_change_is_played_back(lesson: Lesson) -> None:
    steps = small_steps(lesson)
    found = replay(written(steps))
    assert len(found) == len(steps)
    assert all(map(same, found, steps))


@settings(max_examples=25, deadline=None)
@given(lessons(most_sections=1), st.integers(0, 10**6))
def test_commands_undo_and_redo_are_played_back(lesson: Lesson, seed: int) -> None:
    states, changes = walked(lesson, Random(seed), steps=15)
    chain = Chain()
    lines = [chain.line(Start(FORMAT, VERSION, lesson))]
    lines += [chain.line(record(c, after)) for c, after in zip(changes, states[1:], strict=True)]
    found = replay(b"".join(lines))
    assert len(found) == len(states)
    assert all(map(same, found, states))
    torn = b"".join(lines)[: -len(lines[-1]) // 2 or None]
    assert [*map(same, replay(torn), states)] == [True] * (len(states) - 1)


def walked(lesson: Lesson, random: Random, steps: int) -> tuple[list[Lesson], list[Change]]:
    """What a teacher might do: random commands, now and then undone and redone."""
    states, changes, history = [lesson], [], History()
    for _ in range(steps):
        before = states[-1]
        kind = random.randrange(4)
        try:
            if kind == 0:
                history, edit = history.undo(before)
            elif kind == 1:
                history, edit = history.redo(before)
            else:
                command = random_command(random, before)
                edit = apply(command, before)
                history = history.record(command.label, before)
        except EditRefused:
            continue
        if not edit.change.empty:
            states.append(edit.lesson)
            changes.append(edit.change)
    return states, changes


def test_a_line_holds_only_what_changed() -> None:
    lesson = build.lesson(["C4:whole"] * 1000)
    section = lesson.arrangement.sections[0]
    changed = structs.replace(section.measures[500], counted=False)
    measures = (*section.measures[:500], changed, *section.measures[501:])
    arrangement = structs.replace(
        lesson.arrangement, sections=(structs.replace(section, measures=measures),)
    )
    after = structs.replace(lesson, arrangement=arrangement)
    entry = record(difference(lesson, after, "Edit"), after)
    assert entry.measures == (changed,)
    assert entry.frames is None
    assert entry.fields == {}
    assert len(Chain().line(entry)) < 300


def test_cut_at_every_byte_a_journal_is_an_earlier_state() -> None:
    steps = small_steps(TUNE)
    data = written(steps)
    ends = [n + 1 for n, byte in enumerate(data) if byte == 10]
    assert len(ends) == len(steps)
    for length in range(len(data) + 1):
        found = replay(data[:length])
        assert len(found) == sum(end <= length for end in ends)
        assert all(map(same, found, steps))


def test_a_changed_byte_ends_the_journal_before_it() -> None:
    steps = small_steps(TUNE)
    data = written(steps)
    for at in range(len(data)):
        damaged = data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
        found = replay(damaged)
        assert len(found) == data.count(b"\n", 0, at)
        assert all(map(same, found, steps))


def test_lines_of_another_journal_do_not_count() -> None:
    one, other = written([TUNE, titled(TUNE, "one")]), written([TUNE, titled(TUNE, "other")])
    mixed = one + other.splitlines(keepends=True)[1]
    assert [lesson.title for lesson in replay(mixed)] == [TUNE.title, "one"]
    skipped = one.splitlines(keepends=True)[0] + written(small_steps(TUNE)).splitlines(True)[2]
    assert [lesson.title for lesson in replay(skipped)] == [TUNE.title]


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200))
def test_anything_at_all_is_read_without_an_error(data: bytes) -> None:
    assert replay(data) == []


def test_a_journal_of_a_newer_footstool_is_left_alone() -> None:
    line = Chain().line(Start(FORMAT, VERSION + 1, TUNE))
    assert replay(line) == []


class Bench:
    """A session as the window has it: a lesson, its file and its journal."""

    def __init__(self, path: Path, lesson: Lesson) -> None:
        self.lesson = lesson
        self.journal = Journal(path, lesson)

    def edit(self, title: str) -> None:
        updated = titled(self.lesson, title)
        self.journal.append(difference(self.lesson, updated, "Title"), updated)
        self.lesson = updated


@pytest.fixture
def path(tmp_path: Path) -> Path:
    save(TUNE, tmp_path / "tune.footstool")
    return tmp_path / "tune.footstool"


def test_opening_a_lesson_leaves_nothing_beside_it(path: Path) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.journal.append(Change("Nothing"), TUNE)
    assert not journal_path(path).exists()
    assert recover(path) is None


def test_a_killed_session_is_recovered(path: Path) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.edit("one")
    bench.edit("two")
    assert journal_path(path).name == "tune.footstool.journal"
    recovered = recover(path)
    assert recovered is not None
    assert same(recovered, bench.lesson)
    assert same(load(path), TUNE), "recovering changes no file"
    bench.journal.close()


def test_a_saved_session_has_nothing_to_recover(path: Path) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.edit("one")
    save(bench.lesson, path)
    assert recover(path) is None, "killed between saving and forgetting the journal"
    bench.journal.saved(bench.lesson)
    assert not journal_path(path).exists()
    bench.edit("two")
    assert recover(path) == bench.lesson
    bench.journal.close()


def test_a_lost_or_broken_lesson_file_is_made_good_by_the_journal(path: Path) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.edit("one")
    bench.journal.close()
    path.write_bytes(path.read_bytes()[:40])
    assert recover(path) == bench.lesson
    path.unlink()
    assert recover(path) == bench.lesson


def test_a_session_after_recovery_keeps_the_torn_journal_until_its_first_change(
    path: Path,
) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.edit("one")
    bench.journal.close()
    with journal_path(path).open("ab") as file:
        file.write(b"2 0123")
    again = recover(path)
    assert again == bench.lesson
    second = Bench(journal_path(path), again)
    assert recover(path) == again
    second.edit("two")
    assert recover(path) == second.lesson
    second.journal.close()


def test_a_long_journal_is_compacted(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_module, "COMPACT_BYTES", 2000)
    bench = Bench(journal_path(path), TUNE)
    for number in range(200):
        bench.edit(f"title {number}")
        assert journal_path(path).stat().st_size < 2000 + 2000
    bench.journal.sync()
    bench.journal.close()
    assert recover(path) == bench.lesson


def test_a_full_disk_is_told_once_and_the_next_change_begins_anew(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = Bench(journal_path(path), TUNE)
    bench.edit("one")
    real_write = os.write

    def half(handle: int, data: bytes) -> int:
        real_write(handle, bytes(data)[: len(data) // 2])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "write", half)
    with pytest.raises(BadInput, match=r"no space left on device\. Save soon"):
        bench.edit("two")
    monkeypatch.undo()
    assert recover(path) == bench.lesson, "what was there before the disk filled up"
    bench.lesson = titled(bench.lesson, "two")
    bench.edit("three")
    assert recover(path) == bench.lesson
    bench.journal.close()


def test_a_lesson_without_a_file_has_its_journal_in_the_state_folder(tmp_path: Path) -> None:
    state = tmp_path / "state"
    first = Bench(unsaved_path(state), TUNE)
    first.edit("one")
    second = Bench(unsaved_path(state), TUNE)
    second.edit("two")
    assert [lesson.title for _, lesson in recover_unsaved(state)] == ["one", "two"]
    first.journal.saved(first.lesson)
    assert [p.name for p, _ in recover_unsaved(state)] == ["unsaved-2.footstool.journal"]
    second.journal.close()


def test_an_unsound_state_is_passed_over(path: Path) -> None:
    broken = structs.replace(TUNE, next_id=1)
    journal_path(path).write_bytes(written([TUNE, titled(TUNE, "one"), broken]))
    recovered = recover(path)
    assert recovered is not None
    assert recovered.title == "one"


_KILLED = """
import os, signal, sys
from pathlib import Path
from msgspec import structs
from core.edit.change import difference
from core.store import Journal, journal_path, load

path = Path(sys.argv[1])
lesson = load(path)
journal = Journal(journal_path(path), lesson)
for number in range(int(sys.argv[2])):
    updated = structs.replace(lesson, title=f"title {number}")
    journal.append(difference(lesson, updated, "Title"), updated)
    lesson = updated
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is of POSIX")
def test_every_change_before_a_kill_is_there_after_it(path: Path) -> None:
    killed = subprocess.run(
        [sys.executable, "-c", _KILLED, str(path), "40"],
        cwd=Path(__file__).parents[3], check=False, timeout=60,
    )  # fmt: skip
    assert killed.returncode == -9
    assert recover(path) == titled(TUNE, "title 39")
