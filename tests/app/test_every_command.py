"""Every action that writes, by its real key and by its menu: the music, the caret, undo and redo.

The cases stand in tests/app/writing_cases.py, drafting_cases.py and sign_cases.py. Tests at
the end prove that no action of the table, no word of the sign line and no command that the window
can carry out is without a case.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QPushButton

import app
from app.actions import Focus
from app.signs.word import normal
from app.signs.words import WORDS
from core import edit
from core.edit import COMMANDS, Command, Together
from core.model import Lesson
from core.model.validate import problems
from tests import build
from tests.app.case import TUNE, Case, lesson
from tests.app.drafting_cases import DRAFTING
from tests.app.shorthand import form, music, place
from tests.app.sign_cases import SIGNS
from tests.app.sign_shorthand import lines, piece
from tests.app.writing_cases import WRITING

CASES = (*WRITING, *DRAFTING, *SIGNS)

# What walks, selects, looks, listens, asks or chooses, and leaves the lesson as it is.
LEAVE_IT = {
    *(f"go-{where}" for where in (
        "right", "left", "down", "up", "to-tab", "to-staff", "next-beat", "last-beat",
        "next-measure", "last-measure", "line-down", "line-up", "line-start", "line-end",
        "next-section", "last-section", "start", "end",
    )),
    "voice", "voice-1", "voice-2", "voice-3", "voice-4", "insert-mode", "next",
    "copy", "copy-tab", "source-part", "source-show",
    *(f"select-{what}" for what in (
        "right", "left", "next-measure", "last-measure", "to-end", "to-start", "measure",
        "section", "all", "voice", "nothing",
    )),
    *(f"finger-{figure}" for figure in range(5, 10)),
    *(f"strip-{what}" for what in ("right", "left", "next", "last", "enter")),
    "lines", "pages", "line", "larger", "smaller", "fit", "text-larger", "text-smaller",
    "look-system", "look-light", "look-dark",
    "hear-loop", "hear-count_in", "hear-click",
    *(f"focus-{part}" for part in ("job-card", "form-strip", "sheet", "panel", "listening-bar")),
    "keys", "about",
}  # fmt: skip
# Sound is tested in test_hearing.py, files in test_files.py: both need something put in place of
# the device or the question.
OTHER_TESTS = {
    "hear", "hear-any", "hear-measure", "hear-section", "hear-piece", "strip-hear",
    "new", "open", "demo", "save", "save-as", "kit", "pdf", "midi", "wav", "wav-piece", "score",
    "stop-job", "quit",
}  # fmt: skip
HISTORY = {"undo", "redo"}
# These ask the worker for fingers and write what comes back later, not at the caret.
BY_THE_WORKER = {
    "suggest", "suggest-fingers", "suggest-places", "suggest-piece", "stop-suggesting", "follow",
    "level", "next-way", "why-not", "next-clash",
}  # fmt: skip
WORKER_COMMANDS = {"TakeSuggestions", "SetPlace"}
# Edits that are not made at the caret: the caret stays through undo and redo (tests below).
ELSEWHERE = {
    "faster", "slower", "page-names-1", "page-names-2", "page-names-3", "page-names-4",
    "page-sounding", "page-shape_sheet", "page-staves-1", "page-staves-2", "page-staves-3",
    "page-paper-1", "page-paper-2", "page-large_print", "page-phrase_lines", "page-beat_dots",
}  # fmt: skip

# Commands no key, menu or panel carries out, and why.
NO_WAY_YET = {
    "AddWaiver",
    "RemoveWaiver",  # the red pen brings them, with its remarks to let stand
    "SetSources",  # a source comes in with its file
    "ToggleMark",  # the sign line knows whether a mark stands there, and gives SetMark
}


class Watched:
    """The bench of the module with a lesson opened, and the names of the commands carried out."""

    def __init__(self, bench, monkeypatch) -> None:
        self.bench = bench
        self.commands: list[str] = []
        apply = bench.session.apply

        def watched(command: Command, initiator: object = None, amend: bool = False):
            change = apply(command, initiator, amend)
            self.commands += names(command)
            return change

        monkeypatch.setattr(bench.session, "apply", watched)

    def open(self, case: Case) -> None:
        """Open the case's lesson and walk to where it begins."""
        self.bench.session.open(lesson(case), None)
        self.bench.press("F4", *case.walk.split())
        for words in case.before:
            self.bench.press(";")
            self.bench.answer(words)
        assert self.place() == case.start
        self.commands.clear()

    def place(self) -> str:
        return place(self.bench.session.outline, self.bench.writing.caret)

    def go_on(self, case: Case) -> None:
        """The keys after the action's own."""
        self.bench.press(*case.then.split())
        if case.answer is not None:
            self.bench.answer(case.answer)

    def check(self, case: Case) -> None:
        """What the action has done."""
        bench = self.bench
        assert " ".join(self.commands) == case.commands, bench.message()
        assert tuple(music(bench.lesson())) == case.music
        assert not case.form or form(bench.lesson()) == case.form
        assert (lines(bench.lesson()), piece(bench.lesson())) == (case.lines, case.piece)
        assert self.place() == case.end
        assert not problems(bench.lesson())

    def walk_away(self) -> None:
        """To the other end of the piece, and from the tab to the staff or back."""
        bench, here = self.bench, self.place()
        bench.press("F4", "Ctrl+Up" if bench.writing.caret.on == "tab" else "Ctrl+Down")
        bench.press("Ctrl+Home" if bench.writing.caret.onset else "Ctrl+End")
        assert self.place() != here


def names(command: Command) -> Iterator[str]:
    yield type(command).__name__
    if isinstance(command, Together):
        for inner in command.commands:
            yield from names(inner)


@pytest.fixture
def watched(qtbot, one_bench, monkeypatch) -> Watched:
    return Watched(one_bench, monkeypatch)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_key_and_menu_then_undo_and_redo(watched, case):
    bench = watched.bench
    action = bench.table[case.action]
    for key in action.keys:
        watched.open(case)
        before = bench.lesson()
        bench.press(key)
        watched.go_on(case)
        watched.check(case)
        after = bench.lesson()
        assert after != before
        watched.walk_away()
        bench.press("Ctrl+Z")
        assert bench.lesson() == before.with_ids_from(after)
        assert watched.place() == case.start
        watched.walk_away()
        bench.press("Ctrl+Shift+Z")
        assert bench.lesson() == after
        assert watched.place() == case.end
    if action.menu and case not in SIGNS[1:]:  # every sign word goes through the same menu row
        check_by_menu(watched, case)


def check_by_menu(watched: Watched, case: Case) -> None:
    """The same by the menus, and the other key of redo."""
    window, bench = watched.bench.window, watched.bench
    watched.open(case)
    window.findChild(QAction, case.action).trigger()
    watched.go_on(case)
    watched.check(case)
    watched.walk_away()
    window.findChild(QAction, "undo").trigger()
    assert watched.place() == case.start
    watched.walk_away()
    bench.press("Ctrl+Y")
    assert watched.place() == case.end


@pytest.mark.parametrize("name", sorted(LEAVE_IT))
def test_what_only_walks_looks_or_chooses_leaves_the_lesson(watched, name):
    bench = watched.bench
    action = bench.table[name]
    before = build.lesson(TUNE)
    bench.session.open(before, None)
    bench.press("F3" if action.focus is Focus.STRIP else "F4", "Esc")
    if action.focus is Focus.STAFF:
        bench.press("Ctrl+Up")
    for key in action.keys:
        bench.press(key)
    if not action.keys:
        bench.window.findChild(QAction, name).trigger()
    for dialog in bench.window.findChildren(QDialog):
        dialog.close()
    bench.window.activateWindow()  # as a window manager does when a dialogue closes
    assert QTest.qWaitForWindowActive(bench.window)
    assert bench.lesson() is before
    assert not watched.commands
    assert not bench.session.history.done


# ------------------------------------------------------------------ the panels


FIELDS = (
    ("title", "SetTitle", lambda found: found.title),
    ("credit", "SetSourceCard", lambda found: found.source.credit),
    ("composer", "SetSourceCard", lambda found: found.source.composer),
    ("year", "SetSourceCard", lambda found: found.source.year),
    ("edition", "SetSourceCard", lambda found: found.source.edition),
    ("rights", "SetSourceCard", lambda found: found.source.rights),
    ("notes", "SetSourceCard", lambda found: found.source.notes),
    ("student", "SetBrief", lambda found: found.brief.student),
    ("goal", "SetBrief", lambda found: found.brief.goal),
)


def check_caret_stays(watched: Watched, before, expected: str) -> None:
    """Undo and redo of what was written in a panel leave the caret where it has been walked to."""
    bench = watched.bench
    assert watched.place() == expected
    after = bench.lesson()
    watched.walk_away()
    away = watched.place()
    bench.press("Ctrl+Z")
    assert bench.lesson() == before.with_ids_from(after)
    assert watched.place() == away
    bench.press("Ctrl+Shift+Z")
    assert bench.lesson() == after
    assert watched.place() == away


def opened(watched: Watched) -> Lesson:
    watched.open(Case("", "", "Ctrl+Right", "2 0 s1", (), ""))
    return watched.bench.lesson()


@pytest.mark.parametrize(("name", "command", "value"), FIELDS, ids=[row[0] for row in FIELDS])
def test_a_field_of_the_credit_panel(watched, name, command, value):
    bench = watched.bench
    before = opened(watched)
    bench.window.choose("credit")
    bench.press("F5")
    field = bench.window.credit.fields[name]
    for _ in range(len(FIELDS)):
        if not field.hasFocus():
            bench.press("Tab")
    assert field.hasFocus()
    bench.press("Ctrl+A")
    bench.type("A word")
    bench.press("Return")
    assert value(bench.lesson()) == "A word"
    assert watched.commands == [command]
    check_caret_stays(watched, before, "2 0 s1")


@pytest.mark.parametrize(
    ("field", "keys", "expected"),
    [("letter", "C", "A 2, C 1"), ("title", "Refrain", "A 2, B Refrain 1"),
     ("times", "Up", "A 2, B 1 x2")],
)  # fmt: skip
def test_a_field_of_the_form_panel(watched, field, keys, expected):
    bench = watched.bench
    before = opened(watched)
    bench.window.choose("form")
    widget = getattr(bench.window.form.rows[1], field)
    widget.setFocus()
    if field == "times":
        bench.press(keys)
    else:
        bench.press("Ctrl+A")
        bench.type(keys)
        bench.press("Return")
    assert form(bench.lesson()) == expected
    assert watched.commands == ["SetSection"]
    check_caret_stays(watched, before, "2 0 s1")


def test_sections_are_joined_by_their_button(watched):
    bench = watched.bench
    before = opened(watched)
    bench.window.choose("form")
    row = bench.window.form.rows[1]
    button = next(b for b in row.findChildren(QPushButton) if "Join" in b.text())
    button.setFocus()
    bench.press("Space")
    assert form(bench.lesson()) == "A 3"
    assert watched.commands == ["JoinSection"]
    check_caret_stays(watched, before, "2 0 s1")


@pytest.mark.parametrize(("name", "percent"), [("faster", 75), ("slower", 65)])
def test_the_practice_tempo(watched, name, percent):
    bench = watched.bench
    before = opened(watched)
    bench.press(bench.table[name].keys[0])
    assert bench.lesson().settings.practice_percent == percent
    assert watched.commands == ["SetSettings"]
    check_caret_stays(watched, before, "2 0 s1")


PAGE = (
    "page-names-2", "page-names-3", "page-names-4", "page-sounding", "page-shape_sheet",
    "page-staves-2", "page-staves-3", "page-paper-2", "page-large_print", "page-phrase_lines",
    "page-beat_dots",
)  # fmt: skip


@pytest.mark.parametrize("name", PAGE)
def test_what_the_pages_show(watched, name):
    bench = watched.bench
    before = opened(watched)
    bench.window.findChild(QAction, name).trigger()
    assert bench.lesson().settings != before.settings
    assert watched.commands == ["SetSettings"]
    check_caret_stays(watched, before, "2 0 s1")


def test_no_note_names_again(watched):
    bench = watched.bench
    opened(watched)
    for name in ("page-names-2", "page-names-1"):
        bench.window.findChild(QAction, name).trigger()
    assert not bench.lesson().settings.names
    bench.press("Ctrl+Z")
    assert bench.lesson().settings.names


PANELS = {"SetTitle", "SetSourceCard", "SetBrief", "SetSection", "JoinSection", "SetSettings"}


# ------------------------------------------------------------------ nothing is missing


def test_every_action_has_a_case_or_is_known_to_leave_the_lesson(one_bench):
    table = {action.id for action in one_bench.table.actions}
    cases = {case.action for case in CASES}
    others = LEAVE_IT | OTHER_TESTS | HISTORY | ELSEWHERE | BY_THE_WORKER
    assert cases | others == table
    assert not cases & others


def test_every_word_of_the_sign_line_has_a_case():
    tried = {normal(case.answer) for case in SIGNS}
    missing = [
        word.name
        for word in WORDS
        if not any(words == normal(word.name) or words.startswith(normal(word.name) + " ")
                   for words in tried)
    ]  # fmt: skip
    assert not missing


def test_every_command_the_window_names_has_a_case():
    every = {command.__name__ for command in COMMANDS}
    assert every <= set(edit.__all__)
    done = {name for case in CASES for name in case.commands.split()} | PANELS
    done |= WORKER_COMMANDS
    assert done == called_in_app() & every
    assert every - done == NO_WAY_YET


def called_in_app() -> set[str]:
    """Every name that something in app/ calls."""
    folder = Path(app.__file__).parent
    trees = (ast.parse(path.read_text("utf-8")) for path in folder.rglob("*.py"))
    return {
        node.func.id
        for tree in trees
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
