"""Which parts become melody and bass, and the octave: asked, answered, obeyed."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox

from app.main import main
from app.score_choices import ScoreChoices, ScoreQuestion, in_doubt, playable
from core.formats.imported import OctaveDecision, PartChoice, PartInfo, Report
from core.model import walk
from core.store import load


def pitches(bench) -> list[list[str]]:
    measure = next(walk.measures(bench.lesson().arrangement))
    return [[str(n.pitch) for e in row for n in e.notes] for row in measure.voices]


def test_the_highest_and_the_lowest_part_unless_chosen(bench, trio):
    bench.files.open(trio)
    assert bench.answers.asked == ["how to read trio.musicxml"]
    assert pitches(bench) == [["C5"], ["C3"]]


def test_the_chosen_parts_are_taken(bench, trio):
    bench.answers.choices = ScoreChoices(PartChoice(1, 2))
    bench.files.open(trio)
    assert pitches(bench) == [["A3"], ["C3"]]
    assert [part.name for part in bench.lesson().sources[0].parts] == ["Treble", "Mean", "Ground"]


def test_the_chosen_octave_is_taken(bench, trio):
    bench.answers.choices = ScoreChoices(octave=-1)
    bench.files.open(trio)
    assert pitches(bench) == [["C4"], ["C2"]]


def test_leaving_it_unopened_leaves_the_open_lesson(bench, trio):
    before = bench.lesson()
    bench.answers.choices = None
    bench.files.open(trio)
    assert bench.lesson() is before


PARTS = (
    PartInfo(0, "Treble", 12, 72.0, 60, 79, "melody"),
    PartInfo(1, "Mean", 8, 57.0, 52, 62),
    PartInfo(2, "Ground", 4, 45.0, 40, 50, "bass"),
)


def test_the_question_comes_with_the_readers_answer(qtbot):
    question = ScoreQuestion(None, "trio.musicxml", Report(PARTS))
    qtbot.addWidget(question)
    assert question.choices == ScoreChoices(PartChoice(0, 2), None)


def test_the_question_can_be_answered_otherwise(qtbot):
    report = Report(PARTS, (OctaveDecision("Treble", 0, "a plain clef."),))
    question = ScoreQuestion(None, "trio.musicxml", report)
    qtbot.addWidget(question)
    question.show()
    for name, keys in (("Melody", "Down"), ("Bass", "Home"), ("How high it sounds", "Down")):
        boxes = question.findChildren(QComboBox)
        box = next(b for b in boxes if b.accessibleName() == name)
        for key in keys.split():
            QTest.keyClick(box, QKeySequence(key)[0].key())
    assert question.choices == ScoreChoices(PartChoice(1, None), -1)


def test_what_the_reader_decided_is_said_and_stays_unless_changed(qtbot):
    report = Report(PARTS[:1], (OctaveDecision("Treble", -1, "a guitar part.", sure=False),))
    question = ScoreQuestion(None, "lute.musicxml", report)
    qtbot.addWidget(question)
    (box,) = question.findChildren(QComboBox)
    assert box.currentText() == "an octave below what is written (so the file was read)"
    assert box.count() == 4
    assert question.choices == ScoreChoices()
    box.setCurrentIndex(box.findText("at the pitch that is written"))
    assert question.choices == ScoreChoices(octave=0)


def test_a_box_shows_the_arrow_that_says_it_opens(qtbot):
    question = ScoreQuestion(None, "trio.musicxml", Report(PARTS))
    qtbot.addWidget(question)
    question.show()
    box = question.findChildren(QComboBox)[0]
    picture = box.grab().toImage()
    ground = picture.pixelColor(box.width() - 20, 5)
    middle = picture.pixelColor(box.width() - 12, box.height() // 2)
    assert abs(middle.lightness() - ground.lightness()) > 100


def test_one_part_with_a_sure_octave_asks_nothing():
    sure = OctaveDecision("Guitar", -1, "the octave clef says how it sounds.")
    unsure = OctaveDecision("Guitar", -1, "a plain clef.", sure=False)
    assert not in_doubt(Report(PARTS[:1], (sure,)))
    assert in_doubt(Report(PARTS[:1], (unsure,)))
    assert playable(Report((PartInfo(0, "Tab", 4, 50.0, 40, 60, "tablature"),))) == []


@pytest.mark.parametrize(
    ("parts", "octave", "expected"),
    [
        ("", [], [["C5"], ["C3"]]),
        ("2,3", [], [["A3"], ["C3"]]),
        ("2", ["--octave", "-1"], [["A2"]]),
    ],
)
def test_the_command_line_chooses_too(trio, tmp_path, parts, octave, expected):
    target = tmp_path / "out.footstool"
    chosen = ["--parts", parts] if parts else []
    assert main(["convert", str(trio), str(target), *chosen, *octave]) == 0
    measure = next(walk.measures(load(target).arrangement))
    assert [[str(n.pitch) for e in row for n in e.notes] for row in measure.voices] == expected


@pytest.mark.parametrize("parts", ["9", "1,2,3", "melody", "0"])
def test_parts_that_are_not_there_are_one_sentence(trio, tmp_path, capsys, parts):
    target = tmp_path / "out.footstool"
    assert main(["convert", str(trio), str(target), "--parts", parts]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not target.exists()
