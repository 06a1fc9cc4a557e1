"""What holds for every command, whatever the lesson."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core import edit
from core.edit import History
from core.formats import lesson_json
from core.model import EditRefused, Label, Lesson, Origin, walk
from core.model.validate import problems
from tests import build, everything, strategies
from tests.moves import MOVES, play, random_command

quick = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
randoms = st.randoms(use_true_random=False)


def test_the_random_commands_know_every_command() -> None:
    assert set(MOVES) == {command.__name__ for command in edit.COMMANDS}


@quick
@given(strategies.lessons(), randoms)
def test_what_a_command_leaves_is_sound_and_can_be_saved(lesson: Lesson, random: Random) -> None:
    for command, done in play(random, lesson, 12):
        assert problems(done.lesson) == [], command
        again = lesson_json.read(lesson_json.write(done.lesson))
        assert again == done.lesson, command
        assert again.next_id == done.lesson.next_id


@quick
@given(strategies.lessons(), randoms)
def test_undo_and_redo_are_identity(lesson: Lesson, random: Random) -> None:
    states, history, current = [lesson], History(), lesson
    for command, done in play(random, lesson, 12):
        history = history.record(command.label, current)
        current = done.lesson
        states.append(current)
    for expected in reversed(states[:-1]):
        history, undone = history.undo(current)
        assert undone.lesson.next_id >= current.next_id
        current = undone.lesson
        assert current == expected
    for expected in states[1:]:
        history, redone = history.redo(current)
        current = redone.lesson
        assert current == expected
    assert current.next_id >= states[-1].next_id


@quick
@given(strategies.lessons(), randoms)
def test_a_change_lists_exactly_what_differs(lesson: Lesson, random: Random) -> None:
    before = lesson
    for command, done in play(random, lesson, 12):
        after, change = done.lesson, done.change
        old = {m.id: m for m in walk.measures(before.arrangement)}
        new = {m.id: m for m in walk.measures(after.arrangement)}
        assert set(change.inserted) == set(new) - set(old), command
        assert set(change.removed) == set(old) - set(new), command
        assert set(change.replaced) == {i for i in set(old) & set(new) if old[i] is not new[i]}
        assert {f for f in change.fields if "." not in f and f != "sections"} == {
            name
            for name in before.__struct_fields__
            if name not in ("arrangement", "next_id")
            and getattr(before, name) is not getattr(after, name)
        }
        assert change.label == command.label
        if change.empty:
            assert after == before, command
        before = after


WHOLE_PIECE = {
    "ClearSelection", "Paste", "Transpose", "TakeFromSource", "SetKey", "SetMetre",
    "SetInstrument", "DeleteMeasures", "JoinSection",
}  # fmt: skip


@quick
@given(strategies.lessons(), randoms)
def test_what_a_command_does_not_name_stays_the_same_object(lesson: Lesson, random: Random) -> None:
    before = lesson
    for command, done in play(random, lesson, 12):
        if type(command).__name__ not in WHOLE_PIECE and not done.change.removed:
            # The measure itself, and the one before it where a tie is taken off.
            assert len(done.change.replaced) <= 2, command
        for section in before.arrangement.sections:
            twin = next((s for s in done.lesson.arrangement.sections if s.id == section.id), None)
            touched = {*done.change.replaced, *done.change.inserted, *done.change.removed}
            here = {m.id for m in section.measures} | {m.id for m in twin.measures} if twin else {0}
            if twin is not None and not here & touched and "sections" not in done.change.fields:
                assert twin.measures == section.measures
        before = done.lesson


@quick
@given(strategies.lessons(), randoms)
def test_ids_are_never_used_again(lesson: Lesson, random: Random) -> None:
    seen, before = set(walk.ids(lesson)), lesson
    for command, done in play(random, lesson, 12):
        fresh = set(walk.ids(done.lesson)) - set(walk.ids(before))
        assert not fresh & seen, command
        assert done.lesson.next_id >= before.next_id
        seen |= fresh
        before = done.lesson


@quick
@given(strategies.lessons(), randoms)
def test_a_refusal_is_a_sentence_and_touches_nothing(lesson: Lesson, random: Random) -> None:
    data = lesson_json.write(lesson)
    for _ in range(12):
        command = random_command(random, lesson)
        try:
            edit.apply(command, lesson)
        except EditRefused as refused:
            sentence = str(refused)
            assert sentence.endswith("."), sentence
            assert sentence[0].isupper(), sentence
            assert "\n" not in sentence
    assert lesson_json.write(lesson) == data


@pytest.mark.parametrize("command", edit.COMMANDS, ids=lambda c: c.__name__)
def test_every_command_succeeds_on_some_lesson(command: type) -> None:
    """The random commands reach what each command is for, not only its refusals."""
    for seed in range(100):
        random = Random(seed)
        lesson = _demo_like(random)
        try:
            done = random_command(random, lesson, only=(command.__name__,))
            assert done.label
            result = edit.apply(done, lesson)
        except (EditRefused, LookupError):
            continue
        if not result.change.empty:
            return
    raise AssertionError(f"{command.__name__} was always refused or did nothing")


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_two_thousand_random_edits(seed: int) -> None:
    """The monkey of core: sound after every step, saved and read back every hundred steps."""
    lesson = everything.lesson() if seed % 2 else build.lesson(_ROWS, _ROWS)
    random, history = Random(seed), History()
    first = lesson
    for step in range(2000):
        command = random_command(random, lesson)
        try:
            done = edit.apply(command, lesson)
        except EditRefused:
            continue
        assert problems(done.lesson) == [], (step, command)
        if step % 100 == 0:
            assert lesson_json.read(lesson_json.write(done.lesson)) == done.lesson
        history = history.record(command.label, lesson)
        lesson = done.lesson
        if len(list(walk.measures(lesson.arrangement))) > 300:
            lesson, history = first.with_ids_from(lesson), History()


_ROWS = (
    "C4s2f1!1:eighth@3:2 D4s2f3:eighth@3:2 C4:eighth@3:2 r:quarter E4s1f0:half | A2s5f0:whole",
    "E4s1f0:quarter~ E4s1f0:quarter C4+G4:half | C3s5f3:half",
)


def _demo_like(random: Random) -> Lesson:
    """A small lesson on which some commands were already carried out."""
    lesson = build.lesson(_ROWS, _ROWS)
    assert problems(lesson) == []
    places = {
        note.id: Label(lesson.arrangement.instrument.places(note.pitch.midi)[0], Origin.SUGGESTED)
        for measure in walk.measures(lesson.arrangement)
        for _, note in walk.notes(measure)
    }
    lesson = edit.Suggest(places).amend(lesson)
    preparing = ("KeepOtherVersion", "AddSpan", "AddMeasureMark", "SetEnding", "AddWaiver",
                 "SetAlternative", "PutFret", "SetSources")  # fmt: skip
    for name in preparing:
        try:
            lesson = edit.apply(random_command(random, lesson, only=(name,)), lesson).lesson
        except (EditRefused, LookupError):
            continue
    return lesson
