"""Every key of the sheet through real key events: what it does to the lesson, and the caret."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QCoreApplication

from core.model import Base, Fermata, Finger, Length, Place, Value, walk
from core.model.validate import problems
from tests import build


def measure(bench, index: int):
    return list(walk.measures(bench.lesson().arrangement))[index]


def first(bench, voice: int = 0, index: int = 0, number: int = 0):
    return measure(bench, number).voices[voice][index]


def test_walks_events_measures_and_ends(bench):
    caret = lambda: bench.writing.caret  # noqa: E731
    m1, m2, m3 = (m.id for m in walk.measures(bench.lesson().arrangement))
    quarter = Value(Base.QUARTER).ticks
    bench.press("Right")
    assert (caret().measure, caret().onset) == (m1, quarter)
    bench.press("Right", "Right")
    assert (caret().measure, caret().onset) == (m2, 0)
    bench.press("Left")
    assert (caret().measure, caret().onset) == (m1, 2 * quarter)
    bench.press("Ctrl+Right", "Ctrl+Right")
    assert caret().measure == m3
    bench.press("Ctrl+Left", "Ctrl+PgUp")
    assert (caret().measure, caret().onset) == (m1, 0)
    bench.press("Ctrl+PgDown")
    assert caret().measure == m3
    bench.press("Ctrl+Home")
    assert (caret().measure, caret().onset) == (m1, 0)
    bench.press("Ctrl+End")
    assert (caret().measure, caret().onset) == (m3, 4 * quarter)  # where the piece goes on
    bench.press("Home")
    assert caret().measure == m1
    bench.press("End")
    assert caret().measure == m3


def test_climbs_strings_and_crosses_to_the_staff(bench):
    bench.press("Down", "Down")
    assert (bench.writing.caret.on, bench.writing.caret.string) == ("tab", 3)
    bench.press("Up", "Up", "Up")
    assert bench.writing.caret.on == "staff"
    bench.press("Down")
    assert (bench.writing.caret.on, bench.writing.caret.string) == ("tab", 1)
    bench.press("Ctrl+Up")
    assert bench.writing.caret.on == "staff"
    bench.press("Ctrl+Down")
    assert (bench.writing.caret.on, bench.writing.caret.string) == ("tab", 1)


def test_a_figure_on_the_tab_is_a_fret(bench):
    bench.press("3")
    assert first(bench).notes[-1].place.value == Place(1, 3)
    assert first(bench).notes[-1].place.firm


@pytest.mark.parametrize(
    ("keys", "fret"), [("X2", 12), ("X5", 15), ("X0", 10), ("X9", 19), ("12", 2), ("3", 3)]
)
def test_a_figure_is_a_whole_fret_and_x_before_it_makes_it_ten_more(bench, keys, fret):
    bench.press(*keys)
    assert first(bench).notes[-1].place.value.fret == fret


def test_a_fret_of_two_figures_is_one_step_to_undo_and_can_be_left(bench):
    before = bench.lesson()
    bench.press("X")
    assert "Fret 10" in bench.message()
    bench.press("Escape")
    assert bench.message() == ""
    assert bench.lesson() is before
    bench.press("X", "2", "Ctrl+Z")
    assert bench.lesson() == before


def test_a_fret_off_the_neck_is_refused(bench):
    bench.press("X", "X", "1")
    assert "no fret 21" in bench.message()
    assert not bench.session.history.done


def test_a_figure_on_the_staff_is_a_finger_and_goes_on(bench):
    bench.press("Ctrl+Home", "Ctrl+Up", "Right", "Right")
    assert bench.writing.note_id() == measure(bench, 0).voices[0][2].notes[0].id
    bench.press("4")
    assert first(bench, index=2).notes[0].finger.value is Finger.LITTLE
    # The next note that needs a finger: the A4 of the next measure, which has no place yet.
    assert bench.writing.note_id() == measure(bench, 1).voices[0][0].notes[0].id


def test_there_is_no_sixth_finger(bench):
    bench.press("Ctrl+Up", "6")
    assert "no finger 6" in bench.message()
    assert not bench.session.history.done


@pytest.mark.parametrize(
    ("key", "base"),
    [("H", Base.HALF), ("Q", Base.QUARTER), ("E", Base.EIGHTH), ("S", Base.SIXTEENTH),
     ("T", Base.THIRTY_SECOND), ("W", Base.WHOLE)],
)  # fmt: skip
def test_letters_set_the_value(bench, key, base):
    bench.press("Right", "Right", key)
    assert first(bench, index=2).value == Value(base)
    assert not problems(bench.lesson())


def test_dot_rest_tie_and_fermata(bench):
    bench.press(".")
    assert first(bench).value == Value(Base.QUARTER, 1)
    bench.press("Ctrl+Z", "F")
    assert any(isinstance(m, Fermata) for m in first(bench).marks)
    assert any(isinstance(m, Fermata) for m in first(bench, voice=1).marks)
    bench.press("Right", "1", "Left", "1", "L")
    assert first(bench).notes[0].tied
    bench.press("R")
    assert first(bench).is_rest


def test_delete_and_close_up(bench):
    bench.press("Right", "Del")
    assert first(bench, index=1).is_rest
    bench.press("Backspace")
    assert len(measure(bench, 0).voices[0]) == 2
    bench.window.refresh_map()
    assert bench.window.job_card.row("notes").state == "1 measure short"


def test_new_measure_gets_notes_by_keys_alone(bench):
    bench.press("M", "Q", "0", "1", "H", "3")
    new = measure(bench, 1)
    assert [e.value.base for e in new.voices[0]] == [Base.QUARTER, Base.QUARTER, Base.HALF]
    assert [e.notes[0].place.value.fret for e in new.voices[0]] == [0, 1, 3]
    assert new.filled_ticks(0) == new.ticks
    assert not problems(bench.lesson())


def test_the_other_voice_gets_its_own_notes(bench):
    bench.press("M", "V", "Down", "Down", "Down", "Down", "W", "3")
    new = measure(bench, 1)
    assert new.voices[1][0].notes[0].place.value == Place(5, 3)


def test_measures_are_added_written_again_and_deleted(bench):
    bench.press("Shift+M")
    assert not any(measure(bench, 0).voices)
    bench.press("Ctrl+Del", "Ctrl+Home", "Shift+R")
    assert [e.value for e in measure(bench, 1).voices[0]] == [
        e.value for e in measure(bench, 0).voices[0]
    ]
    assert bench.writing.caret.measure == measure(bench, 1).id


def test_fill_up_and_trim(bench):
    bench.press("M", "H", "0", "C")
    assert measure(bench, 1).filled_ticks(0) == measure(bench, 1).ticks


def test_note_by_name(bench):
    bench.press("M", "P", "A")
    note = measure(bench, 1).voices[0][0].notes[0]
    assert note.pitch.step == "A"
    assert note.place is None
    bench.press("P", "Escape")
    assert bench.message() == ""


def test_semitones_and_strings(bench):
    bench.press("Right", "Alt+Up")
    assert str(first(bench, index=1).notes[0].pitch) == "F#4"
    bench.press("Shift+Down")
    assert first(bench, index=1).notes[0].place.value == Place(2, 7)
    assert bench.writing.caret.string == 2


def test_a_section_begins_here_and_is_named(bench):
    bench.press("Ctrl+Right", "G")
    assert len(bench.lesson().arrangement.sections) == 3
    row = bench.window.form.rows[1]
    assert row.letter.hasFocus()
    bench.type("X")
    bench.press("Return")
    assert bench.lesson().arrangement.sections[1].letter == "X"
    row = bench.window.form.rows[1]
    row.times.setFocus()
    bench.press("Up")
    assert bench.lesson().arrangement.sections[1].times == 2


def test_undo_and_redo_bring_the_caret_back(bench):
    bench.press("Right", "3", "Ctrl+End")
    bench.press("Ctrl+Z")
    assert bench.writing.caret.onset == Value(Base.QUARTER).ticks
    assert first(bench, index=1).notes[0].place.value.fret == 1
    bench.press("Ctrl+Home", "Ctrl+Shift+Z")
    assert bench.writing.caret.onset == Value(Base.QUARTER).ticks
    assert first(bench, index=1).notes[0].place.value.fret == 3


def test_undo_takes_everything_back(bench):
    before = bench.lesson()
    bench.press("3", "Right", "E", "Right", "R", "M", "0", "Shift+R", "F", ".", "Ctrl+Del")
    steps = len(bench.session.history.done)
    assert steps >= 8
    for _ in range(steps):
        bench.press("Ctrl+Z")
    assert bench.lesson() == before


def test_a_refusal_is_a_sentence_and_changes_nothing(bench):
    before = bench.lesson()
    bench.press("Down", "Del")
    assert bench.message()
    assert bench.lesson() is before


def test_keep_what_is_suggested(make_bench):
    from core.hand.places import with_places

    lesson, _ = with_places(build.lesson(["E4:quarter G4:quarter A4:half"]))
    bench = make_bench(lesson)
    bench.press("Ctrl+Up", "Return")
    assert first(bench).notes[0].place.firm
    assert not first(bench, index=1).notes[0].place.firm
    bench.press("Shift+Return")
    assert first(bench, index=1).notes[0].place.firm


def test_one_edit_is_one_signal(bench, qtbot):
    seen = []
    bench.session.changed.connect(lambda change, who: seen.append(change))
    bench.press("3")
    assert len(seen) == 1
    assert seen[0].replaced == (measure(bench, 0).id,)


def test_pickup_of_its_own_length_has_an_end(make_bench):
    from msgspec import structs

    lesson = build.lesson(["E4s1f0:quarter"])
    section = lesson.arrangement.sections[0]
    pickup = structs.replace(
        section.measures[0], own_length=Length(Value(Base.QUARTER).ticks), counted=False
    )
    section = structs.replace(section, measures=(pickup,))
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    bench = make_bench(structs.replace(lesson, arrangement=arrangement))
    bench.press("Right")
    assert bench.writing.caret.onset == Value(Base.QUARTER).ticks
    bench.press("Right")
    assert bench.writing.caret.onset == Value(Base.QUARTER).ticks


def test_what_was_said_of_one_key_is_over_with_the_next(bench):
    bench.press("Ctrl+Up", "7")
    assert "no finger 7" in bench.message()
    bench.press("Right")
    assert bench.message() == ""
    assert "second beat" in bench.window.status.place
    bench.built.messages.failed("The file could not be written.")
    bench.press("Right")
    assert bench.message() == "The file could not be written."  # stays until it is dismissed


def test_notes_written_over_by_a_longer_value_are_told(bench):
    bench.press("W")
    assert bench.message() == "2 notes after it written over; Ctrl+Z brings them back."
    bench.press("Ctrl+Z", "H")
    assert bench.message() == "1 note after it written over; Ctrl+Z brings it back."
    bench.press("Q")
    assert bench.message() == ""


def test_the_bench_keeps_its_height_when_a_long_sentence_is_said(bench):
    sheet, status = bench.sheet, bench.window.status
    before = sheet.height()
    bench.built.messages.note("A sentence that needs two lines beside the words of the entry. " * 2)
    QCoreApplication.processEvents()
    assert sheet.height() == before
    assert status.height() >= 2 * status.fontMetrics().lineSpacing()
