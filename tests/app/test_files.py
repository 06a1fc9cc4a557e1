"""Opening, saving, exporting and closing, by menu and key."""

from __future__ import annotations

from time import sleep

import pytest

from app.reading import Opened
from core.formats import lesson_json
from core.model import BadInput
from core.model.validate import problems
from core.store import load, save
from tests import build


@pytest.fixture
def other(tmp_path):
    path = tmp_path / "other.footstool"
    save(build.lesson(["C4s5f15:whole"], title="Other"), path)
    return path


def test_open_by_key_shows_the_lesson(bench, other):
    bench.answers.path = other
    bench.press("Ctrl+O")
    assert bench.lesson().title == "Other"
    assert bench.session.path == other
    assert "Other" in bench.window.windowTitle()
    assert not bench.session.modified


def test_a_broken_file_leaves_the_open_lesson_alone(bench, tmp_path):
    path = tmp_path / "broken.footstool"
    path.write_text('{"format": "footstool.lesson", "version": 1, ')
    before = bench.lesson()
    bench.answers.path = path
    bench.press("Ctrl+O")
    assert "broken.footstool" in bench.message()
    assert bench.lesson() is before


def test_a_field_that_would_be_lost_is_told_on_opening(bench, other):
    other.write_bytes(other.read_bytes().replace(b'"notes"', b'"nootes"', 1))
    bench.answers.path = other
    bench.press("Ctrl+O")
    ((told,),) = bench.answers.told
    assert f'{other.name} has a field that this Footstool does not know: "nootes"' in told
    assert not bench.session.modified


def test_save_as_save_and_reopen(bench, tmp_path):
    path = tmp_path / "mine.footstool"
    bench.answers.path = path
    bench.press("3")
    assert bench.session.modified
    assert "not saved" in bench.label("saved")
    bench.press("Ctrl+S")
    assert "Save as" in bench.answers.asked
    assert load(path) == bench.lesson()
    assert not bench.session.modified
    assert bench.label("saved") == "saved: mine.footstool"
    bench.answers.asked.clear()
    bench.press("5", "Ctrl+S")
    assert bench.answers.asked == []
    assert load(path) == bench.lesson()


def test_undo_back_to_the_saved_state_is_saved(bench, tmp_path):
    bench.answers.path = tmp_path / "mine.footstool"
    bench.press("Ctrl+S", "3")
    assert bench.session.modified
    bench.press("Ctrl+Z")
    assert not bench.session.modified


def test_save_into_a_missing_folder_is_a_sentence(bench, tmp_path):
    bench.answers.path = tmp_path / "nowhere" / "mine.footstool"
    bench.press("3", "Ctrl+S")
    assert "no such folder" in bench.message()
    assert bench.session.modified


@pytest.mark.parametrize(("answer", "closed"), [("stay", False), ("leave", True)])
def test_closing_asks_when_something_would_be_lost(bench, answer, closed):
    bench.press("3")
    bench.answers.first = answer
    bench.window.close()
    assert bench.answers.asked == ["save first"]
    assert bench.window.isHidden() is closed


def test_closing_saves_when_told_to(bench, tmp_path):
    bench.answers.path = tmp_path / "mine.footstool"
    bench.answers.first = "save"
    bench.press("3")
    bench.window.close()
    assert bench.window.isHidden()
    assert load(tmp_path / "mine.footstool") == bench.lesson()


def test_closing_asks_nothing_when_nothing_changed(bench):
    bench.window.close()
    assert bench.answers.asked == []


def test_a_field_still_being_written_is_saved_too(bench, tmp_path):
    bench.answers.path = tmp_path / "mine.footstool"
    bench.window.choose("credit")
    field = bench.window.credit.fields["credit"]
    field.setFocus()
    bench.type("Trad")
    bench.press("Ctrl+S")
    assert load(tmp_path / "mine.footstool").source.credit == "Trad"


def test_an_import_tells_what_it_did_and_is_not_yet_saved(bench):
    lesson = build.lesson(["E4:whole"], title="Found")
    bench.files.show(Opened(lesson, ("2 trills left out (measures 3, 5).",), foreign=True), None)
    assert bench.answers.told == [("2 trills left out (measures 3, 5).",)]
    assert bench.session.modified
    assert bench.session.path is None
    assert bench.label("saved") == "not saved yet"


@pytest.mark.parametrize(
    ("name", "suffix", "start"),
    [("pdf", ".pdf", b"%PDF-"), ("midi", ".mid", b"MThd"), ("score", ".musicxml", b"<?xml"),
     ("wav", ".wav", b"RIFF"), ("wav-piece", ".wav", b"RIFF")],
)  # fmt: skip
def test_exports_are_made_beside_the_window(bench, qtbot, tmp_path, name, suffix, start):
    pytest.importorskip("core.formats.musicxml_write")
    path = tmp_path / f"out{suffix}"
    bench.answers.path = path
    with qtbot.waitSignal(bench.jobs.ended, timeout=60_000):
        bench.table[name].run()
    assert path.read_bytes().startswith(start)
    assert path.name in bench.message()


def test_the_kit_fills_a_folder(bench, qtbot, tmp_path):
    pytest.importorskip("core.formats.musicxml_write")
    bench.answers.path = tmp_path / "kit"
    with qtbot.waitSignal(bench.jobs.ended, timeout=60_000):
        bench.press("Ctrl+K")
    names = {p.suffix for p in (tmp_path / "kit").iterdir()}
    assert {".pdf", ".mid", ".wav", ".musicxml", ".footstool", ".txt"} <= names
    found = next((tmp_path / "kit").glob("*.footstool"))
    assert lesson_json.read(found.read_bytes()) == bench.lesson()


def test_a_job_can_be_stopped_and_leaves_nothing(bench, qtbot, tmp_path):
    def work(tell):
        for _ in range(100_000):
            tell("a step")
            sleep(0.001)
        return "never"

    bench.jobs.start("Long work", work)
    qtbot.waitUntil(bench.window.work.stop.isVisible)
    with qtbot.waitSignal(bench.jobs.stopped, timeout=5_000):
        bench.window.work.stop.click()
    qtbot.waitUntil(lambda: not bench.window.work.stop.isVisible())
    assert "Stopped" in bench.message()


def test_a_second_job_waits_its_turn(bench, qtbot):
    from threading import Event

    gate = Event()
    bench.jobs.start("One", lambda tell: gate.wait(5) and "one")
    with bench.messages.guarded():
        bench.jobs.start("Two", str)
    assert "still being made" in bench.message()
    with qtbot.waitSignal(bench.jobs.ended, timeout=5_000):
        gate.set()


def test_a_failing_job_is_a_sentence(bench, qtbot):
    def work(tell):
        raise BadInput("The sound would last 4.0 hours; a WAV file here holds three.")

    with qtbot.waitSignal(bench.jobs.ended, timeout=5_000):
        bench.jobs.start("Sound", work)
    assert "4.0 hours" in bench.message()


SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><work><work-title>A found tune</work-title></work>
<part-list><score-part id="P1"><part-name>Voice</part-name></score-part>
<score-part id="P2"><part-name>Viol</part-name></score-part>
<score-part id="P3"><part-name>Bass</part-name></score-part></part-list>
{parts}</score-partwise>"""

PART = """<part id="{id}"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>2</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>2</duration>
<voice>1</voice><type>half</type></note></measure></part>"""


def test_a_score_of_several_parts_comes_in_with_places_and_a_report(bench, tmp_path):
    parts = "".join(
        PART.format(id=i, step=s, octave=o)
        for i, s, o in (("P1", "E", 4), ("P2", "C", 4), ("P3", "A", 2))
    )
    path = tmp_path / "found.musicxml"
    path.write_text(SCORE.format(parts=parts), encoding="utf-8")
    bench.answers.path = path
    bench.press("Ctrl+O")
    assert bench.lesson().title == "A found tune"
    measure = bench.session.outline.measures[0]
    assert [str(row[0].notes[0].pitch) for row in measure.voices] == ["E4", "A2"]
    places = [row[0].notes[0].place for row in measure.voices]
    assert all(place is not None and not place.firm for place in places)
    report = " ".join(bench.answers.told[0])
    assert "Viol is left out" in report
    assert "2 notes had no place" in report
    assert bench.session.modified
    assert bench.session.path is None


def test_a_hostile_score_is_refused_in_a_sentence(bench, tmp_path):
    path = tmp_path / "bomb.xml"
    path.write_text('<!DOCTYPE a [<!ENTITY b "b">]><score-partwise>&b;</score-partwise>')
    before = bench.lesson()
    bench.answers.path = path
    bench.press("Ctrl+O")
    assert "bomb.xml" in bench.message()
    assert bench.lesson() is before


def test_a_new_lesson_is_begun_from_nothing(bench):
    bench.press("Ctrl+N")
    assert not problems(bench.lesson())
    assert [m.id for m in bench.session.outline.measures] == [2]
    bench.press("0", "Right", "1")
    assert len(bench.session.outline.measures[0].voices[0]) == 2
    assert bench.session.modified
