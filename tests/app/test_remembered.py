"""The bench opens as it was closed: its look, its text, its window; in a file of the test's own."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSize

from app.look import Look
from app.remembered import FIRST_SIZE, Remembered
from tests.app.conftest import Driver

SCREEN = QSize(1920, 1080)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "settings" / "bench.ini"


def test_the_first_day(file: Path) -> None:
    first = Remembered(file)
    assert (first.choice, first.percent, first.size(SCREEN)) == ("system", 100, FIRST_SIZE)
    assert not file.exists()


def test_what_was_chosen_is_there_again(bench: Driver, file: Path) -> None:
    bench.table["look-dark"].run()
    bench.press("Ctrl+Alt++")
    bench.window.resize(1100, 720)
    Remembered(file).keep(bench.look, bench.window)
    again = Remembered(file)
    assert (again.choice, again.percent, again.size(SCREEN)) == ("dark", 110, QSize(1100, 720))
    look = Look(again.choice, again.percent)
    assert (look.choice, look.percent, look.theme) == ("dark", 110, bench.look.theme)
    bench.look.scale_text(100)


def test_the_window_is_no_larger_than_the_screen(bench: Driver, file: Path) -> None:
    bench.window.resize(1500, 900)
    Remembered(file).keep(bench.look, bench.window)
    assert Remembered(file).size(QSize(1024, 700)) == QSize(1024, 700)


@pytest.mark.parametrize(
    "text",
    ["", "not an ini file \x00", "[General]\nlook=purple\ntext_percent=abc\nwindow_width=-5\n",
     "[General]\ntext_percent=1, 2\nwindow_width=99999999999\nwindow_height=0\n"],
)  # fmt: skip
def test_a_damaged_file_is_passed_over(file: Path, text: str) -> None:
    file.parent.mkdir()
    file.write_text(text)
    found = Remembered(file)
    assert (found.choice, found.percent, found.size(SCREEN)) == ("system", 100, FIRST_SIZE)


def test_a_folder_that_cannot_be_written_is_passed_over(bench: Driver, tmp_path: Path) -> None:
    (tmp_path / "settings").write_text("a file where the folder should be")
    Remembered(tmp_path / "settings" / "bench.ini").keep(bench.look, bench.window)
