"""What the pages show is chosen in the menu, kept with the lesson, and printed."""

from __future__ import annotations

from msgspec import structs
from pypdf import PdfReader

from app.main import main
from app.reading import read
from core.display.items import Text
from core.formats import lesson_json, musicxml_write
from core.model import Instrument, Lesson, Pitch
from core.page.staff import diatonic_at
from tests import build
from tests.app.conftest import TUNE
from tests.core.page.cases import CASES
from tests.core.page.kit import items


def words(bench) -> set[str]:
    return {i.text for _, i in items(bench.session.layout) if isinstance(i, Text)}


def choose(bench, title: str) -> None:
    """The row of the Page menu with that title, as a click runs it."""
    menus = [a.menu() for a in bench.window.menuBar().actions()]
    menu = next(m for m in menus if m is not None and m.title() == "Page")
    menu.aboutToShow.emit()
    next(a for a in menu.actions() if a.text().replace("&", "") == title).trigger()


def ticked(bench) -> list[str]:
    menus = [a.menu() for a in bench.window.menuBar().actions()]
    menu = next(m for m in menus if m is not None and m.title() == "Page")
    menu.aboutToShow.emit()
    return [a.text().replace("&", "") for a in menu.actions() if a.isChecked()]


def test_note_names_are_chosen_kept_and_undone(make_bench):

    bench = make_bench(build.lesson(*TUNE))
    assert "No note names" in ticked(bench)
    choose(bench, "Syllables, fixed do")
    assert {"mi", "fa", "sol"} <= words(bench)
    assert "Syllables, fixed do" in ticked(bench)
    kept: Lesson = lesson_json.read(lesson_json.write(bench.session.lesson))
    assert kept.settings.names == "fixed do"
    bench.press("Ctrl+Z")
    assert "mi" not in words(bench)
    choose(bench, "Note letters in the heads")
    assert bench.session.layout.style.staff_mm == 10


def test_entry_by_name_agrees_with_the_staff_under_a_capo(make_bench):
    """The staff shows what is fingered, so P C writes what is drawn as a C, and sounds a D."""
    lesson = build.lesson(["r:whole"])
    arrangement = structs.replace(lesson.arrangement, instrument=Instrument(capo=2))
    bench = make_bench(structs.replace(lesson, arrangement=arrangement))
    bench.press("Ctrl+Up", "Home", "P", "C")
    measure = bench.session.outline.measures[0]
    note = measure.voices[0][0].notes[0]
    assert str(note.pitch) == "D4"
    _, box = bench.session.layout.where(note.id)
    system = bench.session.layout.systems[0]
    y = (box.top + box.bottom) / 2 - system.y
    assert diatonic_at(y) == Pitch.parse("C4").diatonic
    assert "C4 (sounds D4)" in bench.sheet.accessibleDescription()
    choose(bench, "Under a capo write what sounds, not what is fingered")
    assert "D4, no place" in bench.sheet.accessibleDescription()


def test_the_shape_sheet_is_a_page_but_not_part_of_the_lines(make_bench):
    bench = make_bench(CASES["three_endings"]())
    choose(bench, "Chord shapes on a sheet at the end")
    assert len(bench.session.layout.sheets) == 1
    bench.press("Ctrl+2")
    assert len(bench.session.layout.sheets) == 2
    assert "Chord shapes" in {
        i.text for b in bench.session.layout.sheets[-1].blocks for i in b.items
        if isinstance(i, Text)
    }  # fmt: skip
    bench.press("Right", "Down", "End")


def test_the_command_line_says_what_pages_show(tmp_path, capsys):
    lesson = tmp_path / "tune.footstool"
    lesson.write_bytes(lesson_json.write(CASES["three_endings"]()))
    target = tmp_path / "tune.musicxml"
    assert main(["convert", str(lesson), str(target)]) == 0
    again = tmp_path / "again.footstool"
    arguments = ["convert", str(lesson), str(again), "--names", "movable-do", "--shapes"]
    assert main(arguments) == 0
    settings = lesson_json.read(again.read_bytes()).settings
    assert (settings.names, settings.shape_sheet) == ("movable do", True)
    assert main(["convert", str(again), str(again), "--names", "none", "--no-shapes"]) == 0
    settings = lesson_json.read(again.read_bytes()).settings
    assert (settings.names, settings.shape_sheet) == ("", False)
    pdf = tmp_path / "tune.pdf"
    assert main(["convert", str(lesson), str(pdf), "--shapes"]) == 0
    pages = [page.extract_text() for page in PdfReader(pdf).pages]
    assert len(pages) == 2
    assert "Chord shapes" in pages[1]
    assert "measure 2" in pages[1]


def test_staves_of_the_pages_leave_the_lines_of_the_bench_alone(bench):
    choose(bench, "Tab alone")
    assert bench.session.layout.style.staves == "staff and tab"
    bench.press("Ctrl+2")
    assert bench.session.layout.style.staves == "tab"
    choose(bench, "Large print")
    assert bench.session.layout.style.staff_mm == 10.0
    bench.press("Ctrl+1")
    assert bench.session.layout.style.staff_mm < 10.0


def test_a_score_without_tab_still_gets_pages_with_tab(tmp_path):
    plain = build.lesson(["E4:quarter G4:half."])
    settings = structs.replace(plain.settings, staves="staff")
    path = tmp_path / "plain.musicxml"
    path.write_bytes(musicxml_write.write(structs.replace(plain, settings=settings)))
    assert read(path).lesson.settings.staves == "staff and tab"


def test_the_command_line_chooses_staves_paper_and_size(tmp_path):
    lesson, again = tmp_path / "tune.footstool", tmp_path / "again.footstool"
    lesson.write_bytes(lesson_json.write(CASES["three_endings"]()))
    arguments = ["convert", str(lesson), str(again), "--staves", "tab", "--paper", "letter"]
    assert main([*arguments, "--large-print"]) == 0
    settings = lesson_json.read(again.read_bytes()).settings
    assert (settings.staves, settings.paper, settings.large_print) == ("tab", "Letter", True)
