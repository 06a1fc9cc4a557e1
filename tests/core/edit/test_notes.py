"""Notes in and out."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.edit import (
    AddGrace,
    AddPitch,
    AddSpan,
    DeleteNote,
    MoveToString,
    MoveToVoice,
    PutFret,
    SetAlternative,
    SetMark,
    SetPitch,
    SetPlace,
    SetTie,
    SwapVoices,
)
from core.model import Dynamic, Fermata, Fingering, Instrument, Origin, Pitch, Place, Span, Value
from tests.core.edit.kit import Q, do, event, ids, lesson, measure, note, refused, told

EIGHTH, HALF = Value.parse("eighth"), Value.parse("half")


def test_a_fret_in_an_empty_measure_makes_a_quarter() -> None:
    one = lesson("")
    done = do(PutFret(ids(one)[0], 0, 0, 2, 1), one)
    assert told(done) == "s2f1:quarter"
    assert str(note(done).pitch) == "C4"
    assert note(done).place.origin is Origin.PINNED


def test_a_fret_is_spelled_by_the_key() -> None:
    # In F major fret 3 of string 3 is B flat, in B minor fret 2 of string 1 is F sharp
    # (key signatures, common practice).
    flat = lesson("", key="F major")
    assert str(note(do(PutFret(ids(flat)[0], 0, 0, 3, 3), flat)).pitch) == "Bb3"
    sharp = lesson("", key="B minor")
    assert str(note(do(PutFret(ids(sharp)[0], 0, 0, 1, 2), sharp)).pitch) == "F#4"


def test_a_fret_counts_from_the_capo() -> None:
    one = lesson("")
    capo = structs.replace(one.arrangement, instrument=Instrument(capo=2))
    one = structs.replace(one, arrangement=capo)
    assert str(note(do(PutFret(ids(one)[0], 0, 0, 1, 0), one)).pitch) == "F#4"
    assert "frets are 0 to 17" in refused(PutFret(ids(one)[0], 0, 0, 1, 18), one)


def test_a_fret_at_a_rest_takes_its_time_and_its_id() -> None:
    one = lesson("r:half r:half")
    done = do(PutFret(ids(one)[0], 0, 0, 1, 0), one)
    assert told(done) == "s1f0:half r:half"
    assert event(done).id == event(one).id
    shorter = do(PutFret(ids(one)[0], 0, 0, 1, 0, EIGHTH), one)
    assert told(shorter) == "s1f0:eighth r:eighth r:quarter r:half"


def test_a_fret_joins_the_chord_or_changes_the_note_on_its_string() -> None:
    one = lesson("E4s1f0!0:quarter")
    chord = do(PutFret(ids(one)[0], 0, 0, 2, 1), one)
    assert told(chord) == "s2f1+s1f0!0:quarter"  # lowest first
    other = do(PutFret(ids(one)[0], 0, 0, 1, 3), one)
    assert told(other) == "s1f3:quarter"  # finger 0 goes where the string is stopped
    stopped = lesson("G4s1f3!3:quarter")
    assert told(do(PutFret(ids(stopped)[0], 0, 0, 1, 5), stopped)) == "s1f5!3:quarter"
    assert note(do(PutFret(ids(one)[0], 0, 0, 1, 3), one)).id == note(one).id


def test_a_fret_places_the_note_that_waits_for_a_place() -> None:
    one = lesson("C4:quarter")
    done = do(PutFret(ids(one)[0], 0, 0, 2, 1), one)
    assert told(done) == "s2f1:quarter"


def test_overwriting_and_inserting_are_distinct() -> None:
    one = lesson("C4:quarter D4:quarter E4:half")
    over = do(PutFret(ids(one)[0], 0, Q, 1, 3, HALF, "overwrite"), one)
    assert told(over) == "C4:quarter s1f3:half r:quarter"
    pushed = do(PutFret(ids(one)[0], 0, Q, 1, 3, HALF, "insert"), one)
    assert told(pushed) == "C4:quarter s1f3:half D4:quarter E4:half"
    assert measure(pushed).length_ticks == 6 * Q  # over-full, and allowed


def test_a_note_inside_another_cuts_it() -> None:
    one = lesson("C4:whole")
    done = do(PutFret(ids(one)[0], 0, Q, 1, 3, Value.parse("quarter")), one)
    assert told(done) == "C4:quarter s1f3:quarter r:half"
    odd = do(PutFret(ids(one)[0], 0, Q + Q // 2, 1, 3, EIGHTH), one)
    assert told(odd) == "C4:quarter. s1f3:eighth r:half"
    assert "insert at its start" in refused(PutFret(ids(one)[0], 0, Q, 1, 3, HALF, "insert"), one)


def test_a_note_after_the_end_is_led_up_to_by_rests() -> None:
    one = lesson("C4:quarter")
    assert told(do(PutFret(ids(one)[0], 1, 2 * Q, 5, 0), one)) == "C4:quarter | r:half s5f0:quarter"
    assert told(do(PutFret(ids(one)[0], 0, 3 * Q, 5, 0), one)) == (
        "C4:quarter r:quarter r:quarter s5f0:quarter"
    )


def test_a_tuplet_is_not_cut_in_pieces_that_cannot_be_written() -> None:
    one = lesson("C4:quarter@3:2 D4:quarter@3:2 E4:quarter@3:2 r:half")
    done = do(PutFret(ids(one)[0], 0, 0, 1, 3, Value.parse("eighth@3:2"), "overwrite"), one)
    assert told(done) == "s1f3:eighth@3:2 r:eighth@3:2 D4:quarter@3:2 E4:quarter@3:2 r:half"
    odd = lesson("C4:16th@5:4 D4:half")
    sentence = refused(PutFret(ids(odd)[0], 0, Q // 7, 1, 3), odd)
    assert sentence == ("In measure 1 a tuplet would be cut; change or delete the tuplet first.")


@pytest.mark.parametrize(
    ("voice", "tick", "string", "fret", "told"),
    [
        (4, 0, 1, 0, "In measure 1 there can be no voice 5; a measure has at most 4."),
        (0, -1, 1, 0, "In measure 1 there is no moment before its start; choose one inside it."),
        (0, 0, 7, 0, "In measure 1 there is no string 7; strings are 1 to 6."),
        (0, 0, 1, 20, "In measure 1 there is no fret 20; frets are 0 to 19."),
        (0, 0, 1, -1, "In measure 1 there is no fret -1; frets are 0 to 19."),
    ],
)
def test_what_no_fret_can_be(voice: int, tick: int, string: int, fret: int, told: str) -> None:
    one = lesson("")
    assert refused(PutFret(ids(one)[0], voice, tick, string, fret), one) == told


def test_a_measure_that_is_gone() -> None:
    assert refused(PutFret(999, 0, 0, 1, 0), lesson("")) == (
        "That measure is no longer there; choose another."
    )


def test_a_pitch_waits_for_its_place() -> None:
    one = lesson("A3:half")
    done = do(AddPitch(ids(one)[0], 0, 0, Pitch.parse("C#4")), one)
    assert told(done) == "A3+C#4:half"
    assert "A3 is already sounding there" in refused(
        AddPitch(ids(one)[0], 0, 0, Pitch.parse("A3")), one
    )


def test_deleting_a_note_leaves_the_chord_or_a_rest() -> None:
    one = lesson("A3+C4:half D4:half")
    done = do(DeleteNote(ids(one)[0], note(one).id), one)
    assert told(done) == "C4:half D4:half"
    rest = do(DeleteNote(ids(one)[0], note(done).id), done)
    assert told(rest) == "r:half D4:half"
    assert "no longer there in measure 1" in refused(DeleteNote(ids(one)[0], 999), one)


def test_deleting_a_note_takes_its_ties_and_lines_along() -> None:
    one = lesson("C4:half~ C4:quarter D4:quarter")
    first, second, third = (note(one, n) for n in range(3))
    one = do(AddSpan(Span(0, "hammer-on", second.id, third.id)), one)
    one = do(AddSpan(Span(0, "slur", event(one).id, third.id)), one)
    done = do(DeleteNote(ids(one)[0], third.id), one)
    assert [(s.kind, s.end) for s in done.arrangement.spans] == [("slur", event(one, 2).id)]
    untied = do(DeleteNote(ids(one)[0], second.id), one)
    assert told(untied) == "C4:half r:quarter D4:quarter"
    assert not note(untied).tied
    assert first.tied


def test_a_tie_over_the_barline_is_taken_off_with_its_note() -> None:
    one = lesson("C4:whole~", "C4:half r:half")
    done = do(DeleteNote(ids(one)[1], note(one, 0, 1).id), one)
    assert told(done) == "C4:whole"


def test_a_fermata_stays_on_the_rest() -> None:
    one = lesson("C4:whole")
    one = do(SetMark(ids(one)[0], event(one).id, Fermata()), one)
    one = do(SetMark(ids(one)[0], event(one).id, Dynamic("p")), one)
    done = do(DeleteNote(ids(one)[0], note(one).id), one)
    assert event(done).marks == (Fermata(),)


def test_another_pitch_stays_on_the_string_where_it_can() -> None:
    one = lesson("C4s2f1!1:half")
    number = note(one).id
    assert told(do(SetPitch(ids(one)[0], number, Pitch.parse("D4")), one)) == "s2f3!1:half"
    assert told(do(SetPitch(ids(one)[0], number, Pitch.parse("A3")), one)) == "A3:half"
    same = do(SetPitch(ids(one)[0], number, Pitch.parse("B#3")), one)
    assert told(same) == "s2f1!1:half"
    assert str(note(same).pitch) == "B#3"


def test_another_place_for_the_same_pitch() -> None:
    one = lesson("C4s2f1!1:half")
    number = note(one).id
    assert told(do(SetPlace(ids(one)[0], number, Place(3, 5)), one)) == "s3f5!1:half"
    assert told(do(SetPlace(ids(one)[0], number, None), one)) == "C4:half"
    assert told(do(MoveToString(ids(one)[0], number, 4), one)) == "s4f10!1:half"
    assert "string 3, fret 4 does not sound C4" in refused(
        SetPlace(ids(one)[0], number, Place(3, 4)), one
    )
    assert "string 1 cannot sound C4" in refused(MoveToString(ids(one)[0], number, 1), one)


def test_a_moved_note_loses_what_belonged_to_its_former_place() -> None:
    one = lesson("C4s2f1!1:half")
    other = Fingering(Place(3, 5), None, "keeps string 2 free")
    one = do(SetAlternative(ids(one)[0], note(one).id, other), one)
    higher = do(SetPitch(ids(one)[0], note(one).id, Pitch.parse("D4")), one)
    assert note(higher).alternative is None


def test_ties() -> None:
    one = lesson("A3+C4:half C4:half", "C4:whole")
    tied = do(SetTie(ids(one)[0], event(one).id), one)
    assert [n.tied for n in event(tied).notes] == [False, True]
    over = do(SetTie(ids(one)[0], event(one, 1).id), one)
    assert note(over, 1).tied
    assert not note(do(SetTie(ids(one)[0], event(one).id, on=False), tied), 0).tied
    last = SetTie(ids(one)[1], event(one, 0, 1).id)
    assert "nothing follows C4 in the melody; write the note" in refused(last, one)
    other = lesson("A3:half B3+C4:half", "r:whole")
    assert refused(SetTie(ids(other)[0], event(other).id), other).endswith(
        "the next of the melody after A3 is B3 and C4; a tie needs the same pitch next."
    )
    rest = SetTie(ids(other)[0], event(other, 1).id)
    assert "the melody after B3 and C4 is a rest; a tie" in refused(rest, other)
    rest = lesson("r:half C4:half")
    assert "a rest cannot be tied" in refused(SetTie(ids(rest)[0], event(rest).id), rest)


def test_grace_notes() -> None:
    one = lesson("C4:whole")
    done = do(AddGrace(ids(one)[0], event(one).id, Pitch.parse("D4")), one)
    assert told(done) == "gD4:eighth C4:whole"
    assert measure(done).length_ticks == 4 * Q


def test_moving_to_another_voice() -> None:
    one = lesson("C4:half D4:half | r:half A2:half")
    done = do(MoveToVoice(ids(one)[0], event(one).id, 1), one)
    assert told(done) == "r:half D4:half | C4:half A2:half"
    assert event(done, 0, 0, 1).id == event(one).id
    fresh = do(MoveToVoice(ids(one)[0], event(one, 1).id, 2), one)
    assert told(fresh) == "C4:half r:half | r:half A2:half | r:half D4:half"
    sentence = refused(MoveToVoice(ids(one)[0], event(one, 1).id, 1), one)
    assert sentence == ("In measure 1 the bass has notes at that time; move or delete them first.")


def test_exchanging_voices() -> None:
    one = lesson("C4:whole | A2:half r:half")
    assert told(do(SwapVoices(ids(one)[0]), one)) == "A2:half r:half | C4:whole"
    single = lesson("C4:whole")
    down = do(SwapVoices(ids(single)[0]), single)
    assert told(down) == " | C4:whole"
    assert told(do(SwapVoices(ids(single)[0]), down)) == "C4:whole"
