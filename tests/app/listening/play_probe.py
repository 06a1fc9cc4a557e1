"""Run in a process of its own: plays one tune through the real player and prints what happened."""

from __future__ import annotations

import sys
from itertools import pairwise

from PySide6.QtCore import QCoreApplication, QTimer
from PySide6.QtGui import QGuiApplication

from app.listening import Player
from core.sound import Plan, timeline
from core.sound.timeline import Timeline
from tests import build


def tune(rate: int = 48_000) -> Timeline:
    """About four seconds with distinct notes in two voices, and a click."""
    lesson = build.lesson(
        ["A4s1f5:quarter C4s2f1:quarter E4s1f0:half | A2s5f0:whole",
         "G4s1f3:eighth F4s1f1:eighth D4s2f3:quarter B3s2f0:half | E2s6f0:half G2s6f3:half"]
    )  # fmt: skip
    return timeline(lesson, Plan(per_minute=120, count_in=1), rate)


def main() -> int:
    app = QGuiApplication(sys.argv)
    player = Player()
    line = tune()
    moves: list[tuple[int, int]] = []
    player.moved.connect(lambda measure, ticks, occurrence: moves.append((occurrence, ticks)))
    player.failed.connect(lambda sentence: (print("failed", sentence), app.exit(1)))
    player.started.connect(lambda: print("started"))
    player.stopped.connect(lambda: QTimer.singleShot(1500, QCoreApplication.quit))
    QTimer.singleShot(0, lambda: player.play(line))
    QTimer.singleShot(40_000, lambda: app.exit(2))
    code = app.exec()
    player.close()
    forward = all(a <= b for a, b in pairwise(moves))
    print("moves", len(moves), "forward" if forward else "backward", moves[-1:])
    return code


if __name__ == "__main__":
    raise SystemExit(main())
