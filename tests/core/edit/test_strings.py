"""Selected notes to the next string, and the figure 0 at open strings."""

from __future__ import annotations

from core.edit import FigureOpenStrings, MoveStrings, Selection, SetTitle, Together
from tests.core.edit.kit import do, ids, lesson, refused, told

ONE = lesson("E4s1f0:quarter B3s2f0+G4s1f3:quarter A4:half | A2s5f0:whole")


def all_of(of) -> Selection:
    return Selection(ids(of)[0], 0, ids(of)[0], 10**9)


def test_notes_go_to_the_next_string_where_they_can() -> None:
    down = do(MoveStrings(all_of(ONE), 1), ONE)
    assert told(down) == "s2f5:quarter s3f4+s2f8:quarter A4:half | s6f5:whole"
    assert told(do(MoveStrings(all_of(ONE), -1), down)) == told(ONE)


def test_a_chord_that_would_meet_on_a_string_stays() -> None:
    chord = lesson("G4s1f3+E4s2f5:whole")
    assert "No selected note" in refused(MoveStrings(all_of(chord), -1), chord)
    one = lesson("E4s1f0+B3s2f0:half E4s1f0:half")
    # Up a string: B3 cannot sound on the first, nothing is above it; so nothing moves.
    assert "No selected note" in refused(MoveStrings(all_of(one), -1), one)


def test_open_strings_are_figured_once() -> None:
    done = do(FigureOpenStrings(all_of(ONE)), ONE)
    assert told(done) == "s1f0!0:quarter s2f0!0+s1f3:quarter A4:half | s5f0!0:whole"
    assert "no open string" in refused(FigureOpenStrings(all_of(done)), done)


def test_together_is_all_or_nothing() -> None:
    good = FigureOpenStrings(all_of(ONE))
    done = do(Together((SetTitle("Tune"), good), "both"), ONE)
    assert done.title == "Tune"
    assert "no open string" in refused(Together((good, good), "twice"), ONE)
