"""Selecting, copying, clearing, pasting, taking from a source, transposing."""

from __future__ import annotations

import pytest

from core.edit import (
    AddSpan,
    ClearSelection,
    Clip,
    CopyMeasures,
    Paste,
    Selection,
    Transpose,
    copy,
    set_tuning,
)
from core.model import EditRefused, Key, Lesson, Measure, Metre, Pitch, Span
from tests.core.edit.kit import Q, do, event, ids, lesson, measure, note, refused, told

ONE = lesson(
    "C4s2f1!1:quarter D4s2f3:quarter E4s1f0:half | A2s5f0:whole", "r:whole | r:whole", "r:whole"
)


def within(of: Lesson, start: int, end: int, first: int = 0, last: int = 0) -> Selection:
    """Quarters of the first and the last measure."""
    return Selection(ids(of)[first], start * Q, ids(of)[last], end * Q)


def rows(of: Lesson) -> list[str]:
    return [told(of, index) for index in range(len(ids(of)))]


def test_a_clip_holds_what_begins_in_the_selection() -> None:
    clip = copy(ONE, within(ONE, 1, 3))
    assert [(p.voice, p.offset, p.event.id) for p in clip.pieces] == [
        (0, 0, event(ONE, 1).id), (0, Q, event(ONE, 2).id),
    ]  # fmt: skip
    both = copy(ONE, within(ONE, 0, 4))
    assert [p.voice for p in both.pieces] == [0, 0, 0, 1]
    with pytest.raises(EditRefused, match="Nothing is selected"):
        copy(ONE, within(ONE, 3, 4))


def test_pasting_over_and_into() -> None:
    clip = copy(ONE, within(ONE, 0, 2))
    over = do(Paste(ids(ONE)[1], Q, clip), ONE)
    assert told(over, 1) == (
        "r:quarter s2f1!1:quarter s2f3:quarter r:quarter | r:quarter s5f0:half.~"
    )
    assert told(over, 2) == "r:whole | s5f0:quarter"


def test_pasting_one_voice_into_another() -> None:
    clip = copy(ONE, Selection(ids(ONE)[0], 0, ids(ONE)[0], 4 * Q, (0,)))
    done = do(Paste(ids(ONE)[1], 0, clip, voice=1), ONE)
    assert told(done, 1) == "r:whole | s2f1!1:quarter s2f3:quarter s1f0:half"
    pushed = do(Paste(ids(ONE)[1], 0, clip, mode="insert"), ONE)
    assert told(pushed, 1) == "s2f1!1:quarter s2f3:quarter s1f0:half r:whole | r:whole"
    assert "no voice 5" in refused(Paste(ids(ONE)[1], 0, clip, voice=4), ONE)
    assert refused(Paste(ids(ONE)[1], 0, Clip(())), ONE) == (
        "There is nothing to paste; copy something first."
    )
    assert "no moment before" in refused(Paste(ids(ONE)[1], -1, clip), ONE)


def test_pasting_goes_on_over_barlines_and_past_the_end() -> None:
    clip = copy(ONE, Selection(ids(ONE)[0], 0, ids(ONE)[0], 4 * Q, (0,)))
    done = do(Paste(ids(ONE)[2], 3 * Q, clip), ONE)
    assert rows(done)[2:] == ["r:half r:quarter s2f1!1:quarter", "s2f3:quarter s1f0:half"]
    across = do(Paste(ids(ONE)[1], Q, copy(ONE, within(ONE, 2, 3)), voice=0), ONE)
    assert told(across, 1).startswith("r:quarter s1f0:half")
    held = do(Paste(ids(ONE)[1], 3 * Q, copy(ONE, within(ONE, 2, 3))), ONE)
    assert told(held, 1).split(" | ")[0] == "r:half r:quarter s1f0:quarter~"
    assert told(held, 2) == "s1f0:quarter r:quarter r:half"


def test_lines_are_pasted_along() -> None:
    one = do(AddSpan(Span(0, "slur", event(ONE).id, event(ONE, 1).id)), ONE)
    done = do(Paste(ids(one)[2], 0, copy(one, within(one, 0, 2))), one)
    slur = done.arrangement.spans[1]
    assert (slur.start, slur.end) == (event(done, 0, 2).id, event(done, 1, 2).id)


def test_places_that_sound_otherwise_are_left_open() -> None:
    clip = copy(ONE, Selection(ids(ONE)[0], 0, ids(ONE)[0], 4 * Q, (1,)))
    high = (*ONE.arrangement.instrument.strings[:4], Pitch.parse("G2"), Pitch.parse("D2"))
    other = do(set_tuning(ONE, high), ONE)
    done = do(Paste(ids(other)[2], 0, clip, voice=0), other)
    assert told(done, 2) == "A2:whole"


def test_clearing_and_cutting() -> None:
    cleared = do(ClearSelection(within(ONE, 0, 2)), ONE)
    assert told(cleared) == "r:quarter r:quarter s1f0:half | r:whole"
    cut = do(ClearSelection(within(ONE, 1, 4), close_up=True), ONE)
    assert told(cut) == "s2f1!1:quarter | s5f0:whole"
    assert do(ClearSelection(within(ONE, 0, 4, 1, 1)), ONE) is ONE  # rests stay rests
    two = do(ClearSelection(within(ONE, 2, 1, 0, 1)), ONE)
    assert told(two) == "s2f1!1:quarter s2f3:quarter r:half | s5f0:whole"


def test_copying_measures() -> None:
    one = do(AddSpan(Span(0, "slur", event(ONE).id, event(ONE, 1).id)), ONE)
    done = do(CopyMeasures(ids(one)[0], ids(one)[1], ids(one)[2]), one)
    assert rows(done)[3:] == rows(one)[:2]
    assert [measure(done, n).same_as for n in (3, 4)] == ids(one)[:2]
    assert len(done.arrangement.spans) == 2


@pytest.mark.parametrize(
    ("by", "along", "after", "spelled"),
    [
        (12, False, "s2f13!1:quarter s2f15:quarter s1f12:half", "C5 D5 E5"),
        (2, False, "s2f3!1:quarter s2f5:quarter s1f2:half", "D4 E4 F#4"),
        (-1, False, "s2f0:quarter s2f2:quarter Eb4:half", "B3 Db4 Eb4"),
        (2, True, "s2f5!1:quarter s2f6:quarter s1f3:half", "E4 F4 G4"),
        (-1, True, "s2f0:quarter s2f1:quarter D4:half", "B3 C4 D4"),
    ],
)
def test_transposing(by: int, along: bool, after: str, spelled: str) -> None:
    done = do(Transpose(Selection(ids(ONE)[0], 0, ids(ONE)[0], 4 * Q, (0,)), by, along), ONE)
    assert told(done).split(" | ")[0] == after
    assert " ".join(str(note(done, n).pitch) for n in range(3)) == spelled


def test_ties_go_along_where_both_notes_do() -> None:
    one = lesson("C4:half C4:half~", "C4:half~ C4:half")
    everything = within(one, 0, 4, 0, 1)
    done = do(Transpose(everything, 12), one)
    assert rows(done) == ["C5:half C5:half~", "C5:half~ C5:half"]
    apart = do(Transpose(within(one, 0, 4), 12), one)
    assert rows(apart) == ["C5:half C5:half", "C4:half~ C4:half"]


def test_what_is_not_transposed() -> None:
    assert "No note is selected" in refused(Transpose(within(ONE, 0, 4, 2, 2), 12), ONE)
    assert "at most 48" in refused(Transpose(within(ONE, 0, 4), 60), ONE)
    assert do(Transpose(within(ONE, 0, 4), 0), ONE) is ONE
    low = lesson("C0:whole")
    sentence = refused(Transpose(within(low, 0, 4), -36), low)
    assert sentence == "In measure 1 a note would be out of all range; transpose by less."


def test_keys_of_the_examples() -> None:
    assert measure(ONE).key == Key(0)
    assert isinstance(measure(ONE), Measure)
    assert measure(ONE).metre == Metre.parse("4/4")
