"""Suggesting, weighing and other ways in the window, by real keys."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QPushButton

from app import hand_side
from app.jobs import Worker
from core.edit import RemoveSpan, SetBrief, Suggest, apply
from core.formats import musicxml_write
from core.hand.levels import LEVELS
from core.model import Brief, Label, Origin, Place, walk
from tests import build
from tests.app.thinking import test_mind

LIMIT_MS = 30_000
TUNE = (test_mind.TUNE[0], [row.replace("half~ C4:half", "whole") for row in test_mind.TUNE[1]])


class Lasting(Worker):
    """One process for all benches of this module: starting it takes longer than most tests."""

    def close(self) -> None:
        if self.pid:
            for serial in list(self._open):
                self.stop(serial)

    def end(self) -> None:
        super().close()


@pytest.fixture(scope="module")
def lasting(qapp) -> Iterator[Lasting]:
    worker = Lasting()
    yield worker
    worker.end()


@pytest.fixture(autouse=True)
def one_worker(request, monkeypatch, lasting):
    if "own_worker" not in request.fixturenames:
        monkeypatch.setattr(hand_side, "Worker", lambda: lasting)


@pytest.fixture
def own_worker() -> None:
    """For tests that end theirs."""


@pytest.fixture
def bench(make_bench):
    return make_bench(build.lesson(*TUNE))


def notes(bench, measure: int | None = None):
    rows = list(walk.measures(bench.lesson().arrangement))
    wanted = rows if measure is None else rows[measure : measure + 1]
    return [note for m in wanted for _, note in walk.notes(m)]


def idle(bench, qtbot) -> None:
    qtbot.waitUntil(lambda: not bench.built.hand.suggesting.busy, timeout=LIMIT_MS)


def settled(bench, qtbot, done: Callable[[], bool]) -> None:
    qtbot.waitUntil(done, timeout=LIMIT_MS)


def suggest(bench, qtbot, key: str) -> None:
    bench.press(key)
    idle(bench, qtbot)


def labels(bench, measure: int | None = None):
    return [(n.place, n.finger) for n in notes(bench, measure)]


def test_the_measure_at_the_caret_gets_places_and_fingers_in_one_step(bench, qtbot):
    before = bench.lesson()
    suggest(bench, qtbot, "Shift+F")
    assert all(n.place is not None and n.finger is not None for n in notes(bench, 0))
    assert {n.finger.origin for n in notes(bench, 0)} == {Origin.SUGGESTED}
    assert all(n.place is None for n in notes(bench, 1)), "only what was asked for"
    assert "Fingers are suggested" in bench.message()
    suggested = bench.lesson()
    bench.press("Ctrl+Z")
    assert bench.lesson() == before
    bench.press("Ctrl+Shift+Z")
    assert bench.lesson() == suggested


def test_what_is_selected_gets_them(bench, qtbot):
    bench.press("A", "A")
    suggest(bench, qtbot, "Shift+F")
    assert all(n.finger is not None for m in (0, 1) for n in notes(bench, m))
    assert all(n.finger is None for n in notes(bench, 2))


def test_the_whole_piece_is_one_step_although_the_caret_comes_first(bench, qtbot):
    before = bench.lesson()
    suggest(bench, qtbot, "Ctrl+Shift+F")
    assert all(n.place is not None for n in notes(bench))
    assert len(bench.session.history.done) == 1
    assert bench.lesson().solver
    bench.press("Ctrl+Z")
    assert bench.lesson() == before


def test_the_measures_at_the_caret_come_first(bench, qtbot):
    order = [m.id for m in walk.measures(bench.lesson().arrangement)]
    changes = []
    bench.session.changed.connect(lambda change, _: changes.append(change))
    bench.press("Ctrl+End")
    suggest(bench, qtbot, "Ctrl+Shift+F")
    assert set(changes[0].replaced) <= set(order[-3:])
    assert order[-1] in changes[0].replaced
    assert {m for change in changes for m in change.replaced} == set(order)


def test_barres_are_suggested_and_what_hangs_on_a_barre_mark_follows(make_bench, qtbot):
    lesson = build.lesson(["F2+C3+F3+A3+C4+F4:whole", "E4:half F4:half | C3:whole"])
    bench = make_bench(apply(SetBrief(Brief(level=LEVELS[3])), lesson).lesson)
    suggest(bench, qtbot, "Ctrl+Shift+F")
    (barre,) = bench.lesson().arrangement.spans
    assert barre.suggested
    assert (barre.barre.fret, barre.barre.strings) == (1, 6)
    bench.session.apply(RemoveSpan(barre.id))
    assert bench.lesson().arrangement.spans == ()
    idle(bench, qtbot)
    (again,) = bench.lesson().arrangement.spans
    assert again.suggested
    bench.press("Ctrl+Home", "Shift+Return")
    (kept,) = bench.lesson().arrangement.spans
    assert not kept.suggested
    suggest(bench, qtbot, "Shift+F")
    assert bench.lesson().arrangement.spans == (kept,)


def test_a_score_gets_them_when_it_comes_in_without_a_step_in_the_history(bench, qtbot, tmp_path):
    path = tmp_path / "tune.musicxml"
    path.write_bytes(musicxml_write.write(build.lesson(*TUNE)))
    bench.answers.path, bench.answers.first = path, "leave"
    bench.press("Ctrl+O")
    settled(bench, qtbot, lambda: all(n.finger is not None for n in notes(bench)))
    idle(bench, qtbot)
    assert not bench.session.history.done
    assert not any(n.finger.firm or n.place.firm for n in notes(bench))


def test_opening_a_lesson_never_suggests(bench, qtbot, tmp_path):
    from core.store import save

    path = tmp_path / "tune.footstool"
    save(build.lesson(*TUNE), path)
    bench.answers.path, bench.answers.first = path, "leave"
    bench.press("Ctrl+O")
    assert not bench.built.hand.suggesting.busy


def test_what_is_pinned_stays_and_its_neighbours_follow_at_once(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    before = bench.lesson()
    bench.press("Ctrl+Up")
    note = bench.writing.note_id()
    old = next(n for n in notes(bench) if n.id == note).finger.value.value
    bench.press("4" if old != "4" else "3")
    idle(bench, qtbot)
    now = next(n for n in notes(bench) if n.id == note)
    assert now.finger.value.value != old
    assert now.finger.firm
    assert not any(n.finger.firm for n in notes(bench) if n.id != note)
    rows = zip(walk.measures(before.arrangement), walk.measures(bench.lesson().arrangement),
               strict=True)  # fmt: skip
    assert [a is b for a, b in rows][2:] == [True] * 5, "nothing changes farther off"
    bench.press("Ctrl+Z")
    assert bench.lesson() == before, "one step takes the pin and what followed it back"


def test_pinning_what_is_suggested_changes_nothing_else(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    bench.press("Ctrl+Up", "Return")
    assert not bench.built.hand.suggesting.busy


def test_following_can_be_switched_off(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    bench.built.table["follow"].run()
    bench.press("Ctrl+Up", "4")
    assert not bench.built.hand.suggesting.busy
    assert len([n for n in notes(bench) if n.finger.firm]) == 1


def test_without_suggestions_nothing_appears_by_itself(bench):
    bench.press("Ctrl+Up", "4")
    assert not bench.built.hand.suggesting.busy


def test_what_is_typed_meanwhile_is_never_written_over(bench, qtbot):
    bench.press("Ctrl+Up", "Ctrl+Shift+F")  # the answer is under way ...
    bench.press("4")  # ... while this is typed
    pinned = [n.id for n in notes(bench) if n.finger is not None and n.finger.firm]
    assert len(pinned) == 1
    settled(bench, qtbot, lambda: all(n.finger is not None for n in notes(bench)))
    idle(bench, qtbot)
    assert [n.id for n in notes(bench) if n.finger.firm] == pinned
    assert next(n for n in notes(bench) if n.id == pinned[0]).finger.value.value == "4"


def test_notes_written_meanwhile_are_fingered_too(bench, qtbot):
    bench.press("Ctrl+Shift+F")
    bench.press("Ctrl+End", "Right", "3")
    settled(bench, qtbot, lambda: all(n.finger is not None for n in notes(bench)))
    idle(bench, qtbot)
    assert all(n.finger is not None for n in notes(bench))


def test_the_next_way_goes_round_and_one_undo_takes_all_back(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    before = bench.lesson()
    seen = [labels(bench, 0)]
    with qtbot.waitSignal(bench.session.changed, timeout=LIMIT_MS):
        bench.press("Shift+W")
    assert "Way 2 of" in bench.message()
    count = int(bench.message().split(" of ")[1].split(",")[0])
    seen.append(labels(bench, 0))
    for _ in range(count - 2):
        bench.press("Shift+W")
        seen.append(labels(bench, 0))
    assert len({str(row) for row in seen}) == count, "each is another"
    assert labels(bench, 1) == [(n.place, n.finger) for n in _notes_of(before, 1)]
    bench.press("Ctrl+Z")
    assert bench.lesson() == before


def _notes_of(lesson, measure: int):
    return [n for _, n in walk.notes(list(walk.measures(lesson.arrangement))[measure])]


def test_a_chosen_way_stays_when_the_next_measure_is_edited(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    with qtbot.waitSignal(bench.session.changed, timeout=LIMIT_MS):
        bench.press("Shift+W")
    chosen = labels(bench, 0)
    bench.press("Ctrl+Right", "Ctrl+Up", "4")
    idle(bench, qtbot)
    assert labels(bench, 0) == chosen


def test_the_panel_prices_the_ways_to_play_a_note_and_pins_one(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    ways = bench.built.hand.ways
    bench.press("Ctrl+Up")
    note = bench.writing.note_id()
    settled(bench, qtbot, lambda: ways.list.count() > 1)
    assert ways.list.item(0).text().startswith("easiest:")
    bench.press("F5")
    assert ways.list.hasFocus()
    bench.press("Down")
    settled(bench, qtbot, lambda: "It costs" in ways.reason.text() or "No" in ways.reason.text())
    row = bench.built.hand.weighing.rows[1]
    bench.press("Return")
    assert bench.sheet.hasFocus()
    pinned = next(n for n in notes(bench) if n.id == note)
    assert pinned.finger.firm
    assert pinned.place.firm
    assert (pinned.place.value.string, pinned.place.value.fret) == row.spot[:2]
    assert pinned.finger.value.value == str(row.spot.finger)


def test_pinning_a_tied_note_pins_the_one_that_is_struck(make_bench, qtbot):
    bench = make_bench(build.lesson(["C4:half~ C4:half | C3:whole"]))
    suggest(bench, qtbot, "Ctrl+Shift+F")
    bench.press("Ctrl+Up", "Right")  # on the second, which is not struck again
    ways = bench.built.hand.ways
    settled(bench, qtbot, lambda: ways.list.count() > 1)
    bench.press("F5", "Down", "Return")
    row = [n for n in notes(bench) if n.pitch.midi == 60]
    assert [n.place.firm for n in row] == [True, True]
    assert row[0].place == row[1].place
    assert row[0].finger.firm
    assert row[1].finger is None
    assert row[0].tied


def test_why_not_a_finger_is_answered_under_the_sheet(bench, qtbot):
    suggest(bench, qtbot, "Ctrl+Shift+F")
    bench.press("Ctrl+Up", "Shift+Y")
    assert "Why not which finger?" in bench.message()
    before = bench.lesson()
    bench.press("3")
    settled(bench, qtbot, lambda: "inger 3" in bench.message())
    assert bench.lesson() is before, "asking changes nothing"


def test_what_cannot_be_played_is_told_and_led_to(make_bench, qtbot):
    bench = make_bench(build.lesson(["C4:whole", "A4:whole | r:half F2:half"]))
    suggest(bench, qtbot, "Ctrl+Shift+F")
    assert "1 spot cannot be played as written" in bench.message()
    ways = bench.built.hand.ways
    told = " ".join(label.text() for label in ways.spots.findChildren(QLabel))
    assert "A4 held and F2 cannot be had together. Cheapest: let A4 go" in told
    bench.press("Shift+N")
    measure = list(walk.measures(bench.lesson().arrangement))[1]
    assert bench.writing.caret.measure == measure.id
    assert bench.writing.note_id() in {n.id for _, n in walk.notes(measure)}
    bench.press("Ctrl+Home")
    go = next(b for b in ways.spots.findChildren(QPushButton))
    QTest.mouseClick(go, Qt.MouseButton.LeftButton)
    assert bench.writing.caret.measure == measure.id
    # Mended by hand: the bass goes, and the remark with it.
    bench.press("Ctrl+Down")
    bench.press("Del")
    idle(bench, qtbot)
    assert ways.spots.isHidden()


def test_level_and_hand_are_set_in_their_panel(bench, qtbot):
    bench.press("Ctrl+L")
    level = bench.built.hand.level
    assert level.level.hasFocus()
    bench.press("Down")
    assert bench.lesson().brief.level.level == 2
    assert bench.lesson().brief.level.barre
    assert level.fret.value() == 9
    level.spans["14"].setFocus()
    level.spans["14"].selectAll()
    bench.type("95")
    bench.press("Return")
    assert bench.lesson().brief.hand.spans_mm == {"14": 95.0}
    level.age.setFocus()
    level.age.selectAll()
    bench.type("8")
    bench.press("Return")
    assert bench.lesson().brief.age == 8
    assert level.spans["12"].text() == "usual, 50 mm"
    bench.press("F4")
    bench.window.choose("fingers")
    assert "positions to 7, barre; measured spans" in bench.built.hand.ways.level.text()


@pytest.mark.parametrize("panel", ["ways", "level"])
def test_where_stretches_are_told_the_caution_stands(bench, panel):
    texts = [label.text() for label in getattr(bench.built.hand, panel).findChildren(QLabel)]
    assert any("teacher" in text and "doctor" in text and "stop" in text for text in texts)


@pytest.mark.usefixtures("own_worker")
def test_a_worker_that_dies_costs_a_sentence_and_nothing_else(bench, qtbot):
    suggest(bench, qtbot, "Shift+F")
    bench.press("Ctrl+Right")
    worker = bench.built.hand.worker
    before = bench.lesson()
    bench.press("Shift+F")
    os.kill(worker.pid, signal.SIGKILL)
    settled(bench, qtbot, lambda: "starts again when you next ask" in bench.message())
    assert bench.lesson() is before
    suggest(bench, qtbot, "Shift+F")
    assert all(n.finger is not None for n in notes(bench, 1))


def test_a_key_stops_it(make_bench, qtbot):
    bench = make_bench(build.lesson(*[TUNE[0]] * 60))
    with qtbot.waitSignal(bench.built.hand.suggesting.told, timeout=LIMIT_MS):
        bench.press("Ctrl+Shift+F")
    bench.press("Ctrl+.")
    assert "Stopped" in bench.message()
    assert not bench.built.hand.suggesting.busy


def test_a_long_answer_comes_in_parts_between_which_keys_act(make_bench, qtbot):
    bench = make_bench(build.lesson(*[TUNE[0]] * 12))
    landing = bench.built.hand.suggesting.landing
    bench.press("Ctrl+Up", "Ctrl+Shift+F")
    settled(bench, qtbot, lambda: landing.busy)
    assert any(n.finger is None for n in notes(bench)), "not all at once"
    bench.press("4")
    pinned = [n.id for n in notes(bench) if n.finger is not None and n.finger.firm]
    assert len(pinned) == 1
    idle(bench, qtbot)
    assert all(n.finger is not None for n in notes(bench))
    assert [n.id for n in notes(bench) if n.finger.firm] == pinned


def test_what_is_taken_back_while_it_lands_does_not_come_again(make_bench, qtbot):
    bench = make_bench(build.lesson(*[TUNE[0]] * 12))
    before = bench.lesson()
    landing = bench.built.hand.suggesting.landing
    bench.press("Ctrl+Shift+F")
    settled(bench, qtbot, lambda: landing.busy)
    bench.press("Ctrl+Z")
    assert bench.lesson() == before
    assert not bench.built.hand.suggesting.busy
    qtbot.wait(1)  # whatever was still to come is heard
    assert bench.lesson() == before


@pytest.mark.usefixtures("own_worker")
def test_closing_the_bench_ends_the_worker(bench, qtbot):
    suggest(bench, qtbot, "Shift+F")
    bench.answers.first = "leave"
    bench.window.close()
    assert bench.built.hand.worker.pid == 0


def test_long_work_is_shown_and_can_be_stopped(make_bench, qtbot):
    bench = make_bench(build.lesson(*[TUNE[0]] * 60))
    suggesting = bench.built.hand.suggesting
    with qtbot.waitSignal(suggesting.told, timeout=LIMIT_MS):
        bench.press("Ctrl+Shift+F")
    stop = next(
        b for b in bench.window.findChildren(QPushButton) if b.text() == "Stop" and b.isVisible()
    )
    QTest.mouseClick(stop, Qt.MouseButton.LeftButton)
    assert "Stopped" in bench.message()
    assert not suggesting.busy
    assert stop.isHidden() or not stop.isVisible()


def test_where_everything_is_set_it_says_so(make_bench, qtbot):
    bench = make_bench(build.lesson(["C4s2f1!1:half E4s1f0!0:half"]))
    before = bench.lesson()
    suggest(bench, qtbot, "Shift+F")
    assert "what is set stays" in bench.message()
    assert bench.lesson() is before
    assert not bench.session.history.done


def test_the_caret_stays_on_its_note_when_that_changes_its_string(make_bench, qtbot):
    lesson = build.lesson(["C4:half E4:half | C3:whole"])
    note = next(n for m in walk.measures(lesson.arrangement) for _, n in walk.notes(m))
    far = Suggest({note.id: Label(Place(4, 10), Origin.SUGGESTED)}).amend(lesson)
    bench = make_bench(far)
    bench.press("Ctrl+Home", "Ctrl+Up", "Ctrl+Down")
    assert bench.writing.caret.string == 4
    suggest(bench, qtbot, "Shift+F")
    assert bench.writing.note_id() == note.id
    assert bench.writing.caret.on == "tab"
    assert bench.writing.caret.string == 2


def test_places_may_stay_while_fingers_are_suggested(make_bench, qtbot):
    bench = make_bench(build.lesson(["C4:half E4:half | C3:whole"]))
    suggest(bench, qtbot, "Shift+F")
    bench.press("Ctrl+Up", "Shift+Down")  # the melody note goes to string 3: pinned there
    idle(bench, qtbot)
    places = [n.place.value for n in notes(bench)]
    bench.built.table["suggest-fingers"].run()
    idle(bench, qtbot)
    assert [n.place.value for n in notes(bench)] == places


def test_suggestions_never_touch_what_is_firm(make_bench, qtbot):
    lesson = build.lesson(["C4s2f1!4:half E4:half | C3s5f3:whole"])
    bench = make_bench(lesson)
    suggest(bench, qtbot, "Shift+F")
    firm = [n for n in notes(bench) if n.finger is not None and n.finger.firm]
    assert [n.finger.value.value for n in firm] == ["4"]
    assert Suggest({}).amend(lesson) is lesson
