"""Tuning and capo, keeping the pitches or the places."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.edit import (
    KeepOtherVersion,
    SetHarmonic,
    SetInstrument,
    TurnToRest,
    set_capo,
    set_tuning,
)
from core.edit.base import find_note, with_measure, with_note
from core.model import (
    LOWERED_SIXTH,
    EditRefused,
    Finger,
    Harmonic,
    Instrument,
    Label,
    Origin,
    Pitch,
    Place,
)
from tests.core.edit.kit import do, event, ids, lesson, note, refused, told

LOWERED = tuple(map(Pitch.parse, LOWERED_SIXTH))
ONE = lesson("E2s6f0:quarter G2s6f3!3:quarter C4s2f1!1:quarter A3:quarter")


def test_lowering_the_sixth_string_keeping_pitches() -> None:
    # Common practice, no source: every note on the lowered string moves up two frets.
    done = do(set_tuning(ONE, LOWERED), ONE)
    assert told(done) == "s6f2:quarter s6f5!3:quarter s2f1!1:quarter A3:quarter"
    assert set_tuning(ONE, LOWERED).cannot_play(ONE) == ()


def test_lowering_the_sixth_string_keeping_places() -> None:
    command = set_tuning(ONE, LOWERED, "places")
    done = do(command, ONE)
    assert told(done) == told(ONE)
    assert [str(note(done, n).pitch) for n in range(4)] == ["D2", "F2", "C4", "A3"]
    assert command.cannot_play(ONE) == ()


def test_a_capo_keeping_places_transposes() -> None:
    done = do(set_capo(ONE, 2), ONE)
    assert [str(note(done, n).pitch) for n in range(3)] == ["F#2", "A2", "D4"]
    assert told(done).split()[:3] == told(ONE).split()[:3]
    assert do(set_capo(done, 0), done) == ONE


def test_a_capo_keeping_pitches_lists_what_cannot_be_played() -> None:
    command = set_capo(ONE, 3, "pitches")
    done = do(command, ONE)
    assert told(done) == "E2:quarter s6f0:quarter s3f2:quarter A3:quarter"
    assert note(done, 1).finger is None  # finger 3 has nothing to stop on an open string
    lost = command.cannot_play(ONE)
    assert [(u.measure, u.note, str(u.pitch)) for u in lost] == [(ids(ONE)[0], note(ONE).id, "E2")]
    assert lost[0].sentence == "In measure 1 E2 has no place in this tuning."


def test_two_notes_of_a_chord_never_share_a_string() -> None:
    # With string 1 a tone lower, E4 must move up to fret 2, and stays off string 2.
    one = lesson("C4s2f1+E4s1f0:whole")
    lower = (Pitch.parse("D4"), *one.arrangement.instrument.strings[1:])
    assert told(do(set_tuning(one, lower), one)) == "s2f1+s1f2:whole"
    # With string 1 a fourth higher there is no string left but the second, which is taken.
    high = (Pitch.parse("A4"), *one.arrangement.instrument.strings[1:])
    assert told(do(set_tuning(one, high), one)) == "s2f1+s3f9:whole"


def test_fewer_strings() -> None:
    four = Instrument(tuple(map(Pitch.parse, ("E4", "B3", "G3", "D3"))))
    for keep in ("pitches", "places"):
        done = do(SetInstrument(four, keep), ONE)
        assert told(done) == "E2:quarter G2:quarter s2f1!1:quarter A3:quarter"
        assert len(SetInstrument(four, keep).cannot_play(ONE)) == 2


def test_suggested_places_stay_suggested() -> None:
    one = lesson("E2:whole")
    moved = structs.replace(note(one), place=Label(Place(6, 0), Origin.SUGGESTED))
    at, _ = find_note(one, ids(one)[0], note(one).id)
    one = with_measure(one, at.found, with_note(at, moved))
    done = do(set_tuning(one, LOWERED), one)
    assert note(done).place == Label(Place(6, 2), Origin.SUGGESTED)


def test_harmonics_keep_their_node_or_lose_their_place() -> None:
    one = lesson("E2s6f0:whole")
    one = do(SetHarmonic(ids(one)[0], note(one).id, Harmonic()), one)
    kept = do(set_tuning(one, LOWERED, "places"), one)
    assert (str(note(kept).pitch), note(kept).harmonic) == ("D3", Harmonic())
    lost = do(set_tuning(one, LOWERED), one)
    assert (str(note(lost).pitch), note(lost).harmonic, note(lost).place) == ("E3", None, None)


def test_what_else_is_said_about_the_guitar_touches_no_note() -> None:
    small = structs.replace(ONE.arrangement.instrument, scale_mm=580.0, hand="left")
    done = do(SetInstrument(small), ONE)
    assert done.arrangement.sections is ONE.arrangement.sections
    assert do(SetInstrument(small), done) is done


def test_guitars_that_cannot_be() -> None:
    with pytest.raises(EditRefused, match="A capo stands at fret 0"):
        set_capo(ONE, 13)
    assert "1 to 24 frets" in refused(SetInstrument(Instrument(highest_fret=30)), ONE)
    assert "no fret is left" in refused(SetInstrument(Instrument(capo=12, highest_fret=12)), ONE)


def test_open_stays_open() -> None:
    one = lesson("E4s1f0!0:whole")
    done = do(set_capo(one, 2), one)
    assert note(done).finger == Label(Finger.OPEN)


def test_a_note_does_not_move_to_a_string_where_another_voice_sounds() -> None:
    two = lesson("r:quarter E4s1f0:half. | C4s2f1:whole")
    higher = tuple(map(Pitch.parse, ("F4", "B3", "G3", "D3", "A2", "E2")))
    done = do(set_tuning(two, higher), two)
    assert told(done) == "r:quarter s3f9:half. | s2f1:whole"


def test_what_an_other_version_loses_is_listed() -> None:
    one = lesson("E2s6f0:whole")
    kept = do(KeepOtherVersion(ids(one)[0], "easier"), one)
    rested = do(TurnToRest(ids(kept)[0], event(kept).id), kept)
    lost = set_capo(rested, 2, "pitches").cannot_play(rested)
    assert [item.sentence for item in lost] == ["In measure 1 E2 has no place in this tuning."]
