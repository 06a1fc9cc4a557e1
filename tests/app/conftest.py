"""A built bench to drive with real key events, and noise as failure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QPointF, Qt
from PySide6.QtGui import QKeySequence, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QLabel, QWidget

from app.asking import Answer, Asking, Report
from app.bench import Built, build_bench, new_player
from app.caret import Caret
from app.score_choices import ScoreChoices
from core.formats.imported import Report as ScoreReport
from core.model import Lesson
from tests import build

TUNE = (
    [
        "E4s1f0:quarter F4s1f1!1:quarter G4s1f3:half | C3s5f3:whole",
        "A4:half C5s1f8:half | A2:whole",
    ],
    ["E4s1f0:half D4s2f3:half"],
)


PART = """<part id="{id}"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>4</duration>
<type>whole</type></note></measure></part>"""


class Answers(Asking):
    """Answers as a test says, and remembers what was asked and told."""

    def __init__(self) -> None:
        super().__init__()
        self.path: Path | None = None
        self.first: Answer = "stay"
        self.keep = True
        self.choices: ScoreChoices | None = ScoreChoices()
        self.asked: list[str] = []
        self.told: list[tuple[str, ...]] = []

    def file_to_open(self, folder: Path) -> Path | None:
        self.asked.append("open")
        return self.path

    def file_to_write(self, title: str, proposed: Path, kind: str) -> Path | None:
        self.asked.append(title)
        return self.path

    def folder(self, title: str, proposed: Path) -> Path | None:
        self.asked.append(title)
        return self.path

    def save_first(self, title: str) -> Answer:
        self.asked.append("save first")
        return self.first

    def score_choices(self, name: str, report: ScoreReport) -> ScoreChoices | None:
        self.asked.append(f"how to read {name}")
        return self.choices

    def keep_recovered(self, title: str) -> bool:
        self.asked.append(f"keep {title}")
        return self.keep

    def open_kept(self, name: str, why: str) -> bool:
        self.asked.append(f"{why} Open what was kept of {name}?")
        return self.keep

    def tell(self, title: str, heading: str, sentences: Sequence[str]) -> QDialog:
        self.told.append(tuple(sentences))
        return Report(self.parent, title, heading, sentences)


class Driver:
    """Presses keys on whatever has the focus."""

    def __init__(self, built: Built, answers: Answers) -> None:
        self.built = built
        self.answers = answers

    def __getattr__(self, name: str) -> object:
        return getattr(self.built, name)

    @property
    def focused(self) -> QWidget:
        found = self.built.window.focusWidget()
        assert found is not None
        return found

    def press(self, *keys: str) -> None:
        """Press keys one after another: ``Ctrl+Right``, ``Q``, ``3``."""
        for key in keys:
            combination = QKeySequence(key)[0]
            QTest.keyClick(self.focused, combination.key(), combination.keyboardModifiers())

    def type(self, text: str) -> None:
        """Write a text into the field that has the focus."""
        QTest.keyClicks(self.focused, text)

    def click(self, caret: Caret, shift: bool = False) -> None:
        """Click where that caret would be drawn."""
        modifier = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
        spot = self.built.sheet.on_screen(caret).center().toPoint()
        QTest.mouseClick(self.built.sheet.viewport(), Qt.MouseButton.LeftButton, modifier, spot)

    def drag(self, start: Caret, end: Caret) -> None:
        """Press at one caret, move in two steps, let go at the other."""
        sheet = self.built.sheet
        first, last = (sheet.on_screen(c).center().toPoint() for c in (start, end))
        QTest.mousePress(sheet.viewport(), Qt.MouseButton.LeftButton, pos=first)
        for spot in ((first + last) / 2, last):
            moved = QMouseEvent(
                QMouseEvent.Type.MouseMove, QPointF(spot),
                sheet.viewport().mapToGlobal(QPointF(spot)), Qt.MouseButton.NoButton,
                Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
            )  # fmt: skip
            QCoreApplication.sendEvent(sheet.viewport(), moved)
        QTest.mouseRelease(sheet.viewport(), Qt.MouseButton.LeftButton, pos=last)

    def answer(self, text: str) -> int:
        """Type an answer and Return; how many keys that were."""
        self.type(text)
        self.press("Return")
        return len(text) + 1

    def lesson(self) -> Lesson:
        return self.built.session.lesson

    def label(self, name: str) -> str:
        """What a label of the window says, by its object name."""
        return self.built.window.findChild(QLabel, name).text()

    def message(self) -> str:
        return self.built.window.status.message


@pytest.fixture(scope="module")
def one_bench(qapp) -> Iterator[Driver]:
    """One bench for all tests of a module: each opens its lesson in it."""
    answers = Answers()
    built = build_bench(build.lesson(*TUNE), answers, "light")
    built.window.resize(1280, 800)
    built.window.show()
    assert QTest.qWaitForWindowActive(built.window)
    yield Driver(built, answers)
    answers.first = "leave"
    built.window.close()
    built.window.deleteLater()


@pytest.fixture
def make_bench(qtbot) -> Iterator[Callable[..., Driver]]:
    made: list[Driver] = []

    def make(lesson: Lesson | None = None, player: Callable[[], object] = new_player) -> Driver:
        answers = Answers()
        built = build_bench(lesson or build.lesson(*TUNE), answers, "light", player)
        qtbot.addWidget(built.window, before_close_func=lambda _: None)
        built.window.resize(1280, 800)
        built.window.show()
        built.window.focus_sheet()
        qtbot.waitUntil(built.sheet.hasFocus)
        made.append(Driver(built, answers))
        return made[-1]

    yield make
    for driver in made:
        driver.answers.first = "leave"
        driver.built.window.close()


@pytest.fixture
def bench(make_bench: Callable[..., Driver]) -> Driver:
    return make_bench()


@pytest.fixture
def trio(tmp_path: Path) -> Path:
    """A score of three parts with one note each."""
    names = (("P1", "Treble", "C", 5), ("P2", "Mean", "A", 3), ("P3", "Ground", "C", 3))
    listed = "".join(
        f'<score-part id="{i}"><part-name>{n}</part-name></score-part>' for i, n, _, _ in names
    )
    parts = "".join(PART.format(id=i, step=s, octave=o) for i, _, s, o in names)
    path = tmp_path / "trio.musicxml"
    path.write_text(
        f'<score-partwise version="4.0"><part-list>{listed}</part-list>{parts}</score-partwise>',
        "utf-8",
    )
    return path


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/tests/app/" in str(item.path) and "qtbot" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.qt_log_level_fail("WARNING"))
            if item.get_closest_marker("qt_log_ignore") is None:
                item.add_marker(pytest.mark.qt_log_ignore("propagateSizeHints"))
