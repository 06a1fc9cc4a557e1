"""What the pages show is chosen in the menu, kept with the lesson, and printed."""

from __future__ import annotations

from msgspec import structs

from core.display.items import Text
from core.formats import lesson_json
from core.model import Instrument, Lesson, Pitch
from core.page.staff import diatonic_at
from tests import build
from tests.app.conftest import TUNE
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
