"""Fingers, suggestions and the signs of one note."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from msgspec import structs

from core.edit import (
    Command,
    ExchangeAlternative,
    PinMeasure,
    PinSuggestion,
    RefuseSuggestion,
    SetAccidental,
    SetAlternative,
    SetBend,
    SetFinger,
    SetHarmonic,
    SetNoteSign,
    SetPlucking,
    SetSubstitute,
    Suggest,
    TakeSuggestions,
)
from core.model import (
    EditRefused,
    Finger,
    Fingering,
    Harmonic,
    Label,
    Lesson,
    Note,
    Origin,
    Pitch,
    Place,
    Pluck,
)
from core.model.validate import problems
from tests.core.edit.kit import do, ids, lesson, measure, note, refused, told


def one() -> Lesson:
    return lesson("C4s2f1:half E4s1f0:half")


HERE, NOTE = ids(one())[0], note(one()).id

EFFECTS: list[tuple[Command, Callable[[Note], object], object]] = [
    (SetFinger(HERE, NOTE, Finger.INDEX), lambda n: n.finger, Label(Finger.INDEX)),
    (SetFinger(HERE, NOTE, Finger.THUMB), lambda n: n.finger, Label(Finger.THUMB)),
    (SetPlucking(HERE, NOTE, Pluck.M), lambda n: n.plucking, Label(Pluck.M)),
    (SetSubstitute(HERE, NOTE, Finger.RING), lambda n: n.substitute, Finger.RING),
    (SetNoteSign(HERE, NOTE, "let_ring"), lambda n: n.let_ring, True),
    (SetNoteSign(HERE, NOTE, "circled"), lambda n: n.circled, True),
    (SetNoteSign(HERE, NOTE, "guide"), lambda n: n.guide, True),
    (SetNoteSign(HERE, NOTE, "small"), lambda n: n.small, True),
    (SetAccidental(HERE, NOTE, "courtesy"), lambda n: n.accidental, "courtesy"),
    (SetBend(HERE, NOTE, 1.0), lambda n: n.bend, 1.0),
]


@pytest.mark.parametrize(("command", "look", "expected"), EFFECTS, ids=lambda x: type(x).__name__)
def test_effects(command: Command, look: Callable[[Note], object], expected: object) -> None:
    done = do(command, one())
    assert look(note(done)) == expected
    assert do(command, done) is done  # once more changes nothing
    missing = structs.replace(command, note=999)
    assert refused(missing, one()) == "The note is no longer there in measure 1."


def test_none_leaves_it_open_again() -> None:
    fingered = do(SetPlucking(HERE, NOTE, Pluck.P), do(SetFinger(HERE, NOTE, Finger.RING), one()))
    done = do(SetFinger(HERE, NOTE, None), do(SetPlucking(HERE, NOTE, None), fingered))
    assert done == one()


def test_signs_that_need_a_string() -> None:
    bare = lesson("C4:half")
    place, number = ids(bare)[0], note(bare).id
    assert "no string yet" in refused(SetNoteSign(place, number, "circled"), bare)
    assert "no string yet" in refused(SetHarmonic(place, number, Harmonic()), bare)


def test_bends_have_limits() -> None:
    assert "at most 12 semitones" in refused(SetBend(HERE, NOTE, 13.0), one())
    assert "at most 12 semitones" in refused(SetBend(HERE, NOTE, float("nan")), one())


@pytest.mark.parametrize(
    ("harmonic", "place", "pitch"),
    [
        # Partials 2, 3 and 4 of string 2 (B3): nodes at frets 12, 7 and 5 (check-values section 5).
        (Harmonic("natural", 12), "s2f0", "B4"),
        (Harmonic("natural", 7), "s2f0", "F#5"),
        (Harmonic("natural", 5), "s2f0", "B5"),
        # An octave above the stopped C, touched twelve frets higher.
        (Harmonic("artificial", 13), "s2f1", "C5"),
    ],
)
def test_harmonics(harmonic: Harmonic, place: str, pitch: str) -> None:
    done = do(SetHarmonic(HERE, NOTE, harmonic), one())
    assert (str(note(done).place.value), str(note(done).pitch)) == (place, pitch)
    assert note(done).harmonic == harmonic
    back = do(SetHarmonic(HERE, NOTE, None), done)
    assert note(back).harmonic is None


def test_what_no_harmonic_sounds_at() -> None:
    sentence = refused(SetHarmonic(HERE, NOTE, Harmonic("natural", 6)), one())
    assert sentence == "In measure 1 no harmonic sounds 6 frets above the stopped note."


def test_a_second_fingering_kept_beside_the_first() -> None:
    other = Fingering(Place(3, 5), Finger.LITTLE, "keeps string 2 free")
    kept = do(SetAlternative(HERE, NOTE, other), one())
    assert note(kept).alternative == other
    taken = do(ExchangeAlternative(HERE, NOTE), kept)
    assert told(taken) == "s3f5!4:half s1f0:half"
    assert note(taken).alternative == Fingering(Place(2, 1), None, "keeps string 2 free")
    assert do(SetAlternative(HERE, NOTE, None), kept) == one()
    wrong = SetAlternative(HERE, NOTE, Fingering(Place(3, 4)))
    assert (
        refused(wrong, one())
        == "In measure 1 string 3, fret 4 does not sound C4; choose a place that does."
    )
    assert "has no alternative" in refused(ExchangeAlternative(HERE, NOTE), one())


# ------------------------------------------------------------------------------- suggestions


def suggestion(place: Place, finger: Finger = Finger.INDEX) -> Suggest:
    return Suggest(
        {NOTE: Label(place, Origin.SUGGESTED)}, {NOTE: Label(finger, Origin.SUGGESTED)}, "3"
    )


def test_suggestions_fill_what_is_open() -> None:
    bare = lesson("C4:half E4s1f0:half")
    amended = suggestion(Place(2, 1)).amend(bare)
    assert note(amended).place == Label(Place(2, 1), Origin.SUGGESTED)
    assert note(amended).finger == Label(Finger.INDEX, Origin.SUGGESTED)
    assert amended.solver == "3"
    assert problems(amended) == []
    assert suggestion(Place(2, 1)).amend(amended) is amended
    later = suggestion(Place(3, 5)).amend(amended)
    assert note(later).place.value == Place(3, 5)


def test_suggestions_never_overwrite_nor_sound_another_pitch() -> None:
    assert note(suggestion(Place(3, 5)).amend(one())).place == Label(Place(2, 1))
    bare = lesson("C4:half E4s1f0:half")
    assert note(suggestion(Place(2, 2)).amend(bare)).place is None
    assert note(suggestion(Place(9, 2)).amend(bare)).place is None


def test_suggestions_for_a_measure_that_changed_are_dropped() -> None:
    bare = lesson("C4:half E4s1f0:half")
    asked = structs.replace(suggestion(Place(2, 1)), asked=(measure(bare),))
    assert note(asked.amend(bare)).place is not None
    changed = do(SetFinger(HERE, note(bare, 1).id, Finger.OPEN), bare)
    assert asked.amend(changed) is changed


def test_taking_suggestions_is_a_step_that_a_change_meanwhile_refuses() -> None:
    bare = lesson("C4:half E4s1f0:half")
    found = structs.replace(suggestion(Place(2, 1)), asked=(measure(bare),))
    taken = do(TakeSuggestions(found), bare)
    assert taken == found.amend(bare)
    assert TakeSuggestions(found, "other way").label == "other way"
    changed = do(SetFinger(HERE, note(bare, 1).id, Finger.OPEN), bare)
    with pytest.raises(EditRefused, match="changed while the fingers were worked out"):
        TakeSuggestions(found).apply(changed)


def test_what_cannot_be_played_loses_its_suggestions_and_keeps_its_pins() -> None:
    bare = suggestion(Place(2, 1)).amend(lesson("C4:half E4s1f0:half"))
    dropped = Suggest({}, dropped=frozenset({NOTE, note(bare, 1).id})).amend(bare)
    assert (note(dropped).place, note(dropped).finger) == (None, None)
    assert note(dropped, 1).place == Label(Place(1, 0))


def test_pinning_and_refusing() -> None:
    bare = suggestion(Place(2, 1)).amend(lesson("C4:half E4s1f0:half"))
    pinned = do(PinSuggestion(HERE, NOTE), bare)
    assert (note(pinned).place, note(pinned).finger) == (Label(Place(2, 1)), Label(Finger.INDEX))
    only = do(PinSuggestion(HERE, NOTE, ("finger",)), bare)
    assert not note(only).place.firm
    gone = do(RefuseSuggestion(HERE, NOTE, ("finger",)), bare)
    assert note(gone).finger is None
    assert note(gone).place is not None
    assert do(RefuseSuggestion(HERE, NOTE), pinned) is pinned
    assert do(PinMeasure(HERE), bare) == pinned
    assert do(PinMeasure(HERE), pinned) is pinned


def test_pitch_of_the_examples() -> None:
    # String 2 fret 1 is C4 in the usual tuning (check-values section 1).
    assert note(one()).pitch == Pitch.parse("C4")
