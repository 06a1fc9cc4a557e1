"""Plays a short piece with the real player and ends: ``python -m tests.app.listening.play_piece``.

Exit code 0 when it was played to its end, 1 with a sentence when it failed, 2 when it took too
long. Run by ``test_pulse.py`` in a process of its own.
"""

from __future__ import annotations

import os
import sys

from core.sound import Plan, timeline
from core.sound.timeline import Timeline
from tests import build

TUNE = build.lesson(
    ["A2s5f0:quarter C3s5f3:quarter E3s4f2:quarter A3s3f2:quarter",
     "B3s2f0:quarter E4s1f0:quarter A4s1f5:quarter E2s6f0:quarter"]
)  # fmt: skip
PER_MINUTE = 120
DRAIN_MS = 2500  # a null sink holds more than a second


def line() -> Timeline:
    """What is played."""
    return timeline(TUNE, Plan(per_minute=PER_MINUTE))


def main() -> int:
    """Play; the exit code of the process."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import QTimer
    from PySide6.QtGui import QGuiApplication

    from app.listening import Player

    application = QGuiApplication(sys.argv[:1])
    player = Player()
    moments: list[tuple[int, int]] = []
    player.moved.connect(lambda measure, ticks, _: moments.append((measure, ticks)))

    def refuse(sentence: str) -> None:
        print(sentence, file=sys.stderr)
        application.exit(1)

    player.failed.connect(refuse)
    player.stopped.connect(lambda: QTimer.singleShot(DRAIN_MS, application.quit))
    QTimer.singleShot(40_000, lambda: application.exit(2))
    player.play(line())
    code = application.exec()
    player.close()
    if code == 0 and (len(moments) < 10 or moments != sorted(moments)):
        print(f"the playhead stood still or went back: {moments[:20]}", file=sys.stderr)
        return 3
    return code


if __name__ == "__main__":
    sys.exit(main())
