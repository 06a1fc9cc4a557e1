"""Large files are read and laid out beside the window; what cannot be read changes nothing."""

from __future__ import annotations

from app.files import LARGE_BYTES
from core.formats import musicxml_write
from core.store import save
from tests import build
from tests.bench.music import long_lesson


def test_a_large_lesson_is_opened_beside_the_window(bench, qtbot, tmp_path):
    path = tmp_path / "long.footstool"
    save(long_lesson(300), path)
    assert path.stat().st_size > LARGE_BYTES
    before = bench.lesson()
    bench.answers.path = path
    bench.press("Ctrl+O")
    assert bench.lesson() is before
    bench.press("Right")
    qtbot.waitUntil(lambda: bench.session.path == path, timeout=20_000)
    assert len(bench.session.outline.measures) == 300
    caret = bench.writing.caret
    bench.press("Ctrl+Right", "3")
    assert bench.writing.caret.measure != caret.measure
    assert bench.session.layout.index.keys() == bench.session.outline.index.keys()


def test_edits_made_meanwhile_are_asked_about(bench, qtbot, tmp_path):
    path = tmp_path / "long.footstool"
    save(long_lesson(200), path)
    bench.answers.path = path
    bench.press("Ctrl+O")
    bench.press("3")
    edited = bench.lesson()
    qtbot.waitUntil(lambda: "save first" in bench.answers.asked, timeout=20_000)
    assert bench.lesson() is edited


def test_a_large_broken_file_leaves_the_open_lesson_alone(bench, qtbot, tmp_path):
    path = tmp_path / "broken.footstool"
    path.write_bytes(b'{"format": "footstool.lesson", "version": 1, "x": "' + b"x" * LARGE_BYTES)
    before = bench.lesson()
    bench.answers.path = path
    bench.press("Ctrl+O")
    qtbot.waitUntil(lambda: "broken.footstool" in bench.message(), timeout=20_000)
    assert bench.lesson() is before


def test_a_large_score_comes_in(bench, qtbot, tmp_path):
    path = tmp_path / "score.musicxml"
    path.write_bytes(musicxml_write.write(build.lesson(["C4:quarter E4:quarter G4:half"] * 200)))
    assert path.stat().st_size > LARGE_BYTES
    bench.answers.path = path
    bench.press("Ctrl+O")
    qtbot.waitUntil(lambda: len(bench.session.outline.measures) == 200, timeout=20_000)
    assert bench.session.path is None
