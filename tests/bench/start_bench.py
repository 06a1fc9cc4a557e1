"""From the start of the program to the first paint of its window, in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.bench.row import Row, median

# Runs the real `footstool demo` and leaves when the sheet was painted for the first time.
_PROGRAM = """
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from app.sheet.view import SheetView

painted = SheetView.paintEvent

def paint_and_leave(self, event):
    painted(self, event)
    QTimer.singleShot(0, QApplication.quit)

SheetView.paintEvent = paint_and_leave
from app.bench import open_bench
open_bench(None)
"""


def _seconds(code: str) -> float:
    """Wall-clock seconds of a fresh interpreter, start and end included."""
    root = Path(__file__).parents[2]
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code],
        check=True,
        cwd=root,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
    )
    return time.perf_counter() - start


def rows() -> Iterator[Row]:
    peer = median(lambda: _seconds("import PySide6.QtWidgets"), 3)
    paint = median(lambda: _seconds(_PROGRAM), 5)
    yield Row("start.first_paint", "the demo", paint, "s", 2.0, True, "Qt's import alone", peer)
    line = median(lambda: _seconds("from app.main import main; main(['--help'])"), 3)
    yield Row("start.command_line", "--help", line, "s", 0.6, True)
