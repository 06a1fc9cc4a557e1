"""The real window on a real (virtual) X display, in a process of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent

SCRIPT = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer, qInstallMessageHandler
from PySide6.QtTest import QTest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
import app.bench as bench

noise = []
qInstallMessageHandler(lambda kind, where, text: noise.append(text))
app = QApplication(["footstool"])
made = []
build = bench.build_bench
bench.build_bench = lambda *rest: made.append(build(*rest)) or made[-1]

def drive():
    try:
        steps(made[0])
    except BaseException as error:
        print("failed", repr(error))
        app.exit(3)
        raise

def steps(built):
    built.window.activateWindow()
    QTest.qWaitForWindowActive(built.window, 5000)
    before = built.session.lesson
    QTest.keyClick(built.sheet, Qt.Key.Key_Right)
    QTest.keyClick(built.sheet, Qt.Key.Key_3)
    assert built.session.lesson != before, "the key did not reach the lesson"
    QTest.keyClick(built.window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert built.session.lesson == before, "undo did not take it back"
    app.screens()[0].grabWindow(0).save(sys.argv[1])
    print(app.platformName(), built.window.isVisible(), built.window.windowTitle())
    built.window.close()

QTimer.singleShot(1500, drive)
code = bench.open_bench(None)
print("noise", [n for n in noise if "propagateSizeHints" not in n])
sys.exit(code)
"""


@pytest.mark.xvfb
@pytest.mark.skipif(shutil.which("xvfb-run") is None, reason="Xvfb is not installed")
def test_the_bench_opens_on_a_display(tmp_path):
    picture = tmp_path / "bench.png"
    environment = {**os.environ, "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(ROOT)}
    # XDG Base Directory Specification 0.8: never the settings and the work of whoever tests.
    environment |= {f"XDG_{n}_HOME": str(tmp_path / n) for n in ("CONFIG", "STATE")}
    done = subprocess.run(
        ["xvfb-run", "-a", "-s", "-screen 0 1280x800x24", sys.executable, "-c", SCRIPT,
         str(picture)],
        env=environment, capture_output=True, text=True, timeout=90, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "xcb True Rowing Home at Lantern Time" in done.stdout
    assert "noise []" in done.stdout, done.stdout
    assert picture.stat().st_size > 20_000
    assert "look=system" in (tmp_path / "CONFIG" / "footstool" / "bench.ini").read_text()
