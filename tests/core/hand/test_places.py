"""Quick places, checked against handbook places and shapes and against what a hand can do."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

import resources
from core.edit.base import map_events
from core.hand.places import SOLVER, suggest, with_places
from core.hand.reach import FINGERS, HAND_SPAN_MM, holdable, span_mm
from core.hand.sounding import Heard, heard
from core.hand.strokes import Limits, choices
from core.model import (
    LOWERED_SIXTH,
    Arrangement,
    Event,
    Grace,
    HandProfile,
    Harmonic,
    Instrument,
    Label,
    Lesson,
    LevelContract,
    Note,
    Origin,
    Pitch,
    Place,
    walk,
)
from core.store import load
from tests import build

LOWERED = Instrument(tuple(Pitch.parse(text) for text in LOWERED_SIXTH))
WHOLE_NECK = LevelContract(highest_fret=19)


def spelled(midis: list[int]) -> str:
    return "+".join(str(Pitch.from_midi(midi)) for midi in midis)


def placed(lesson: Lesson, contract: LevelContract | None = None) -> list[str | None]:
    """The suggested place of every note, in the order of voices."""
    found = suggest(lesson.arrangement, contract=contract)
    return [
        str(found.places[note.id].value) if note.id in found.places else None
        for measure in walk.measures(lesson.arrangement)
        for _, note in walk.notes(measure)
    ]


@pytest.mark.parametrize(
    ("pitch", "places"),
    [
        # Computed from the open strings E4 B3 G3 D3 A2 E2 (MIDI 64 59 55 50 45 40), frets 0 to 19.
        ("E4", "s1f0 s2f5 s3f9 s4f14 s5f19"),
        ("C4", "s2f1 s3f5 s4f10 s5f15"),
        ("A4", "s1f5 s2f10 s3f14 s4f19"),
    ],
)
def test_every_place_of_a_pitch(pitch: str, places: str) -> None:
    found = choices(Note(1, Pitch.parse(pitch)), Limits(Instrument(), 19, HAND_SPAN_MM))
    assert " ".join(map(str, found)) == places


OPEN_SHAPES = {
    # Chords in open position as handbooks print them (common practice; from memory), MIDI computed.
    "E": [40, 47, 52, 56, 59, 64],
    "Em": [40, 47, 52, 55, 59, 64],
    "E7": [40, 47, 50, 56, 59, 64],
    "A": [45, 52, 57, 61, 64],
    "Am": [45, 52, 57, 60, 64],
    "A7": [45, 52, 55, 61, 64],
    "D": [50, 57, 62, 66],
    "Dm": [50, 57, 62, 65],
    "D7": [50, 57, 60, 66],
    "G": [43, 47, 50, 55, 59, 67],
    "G7": [43, 47, 50, 55, 59, 65],
    "C": [48, 52, 55, 60, 64],
    "C7": [48, 52, 58, 60, 64],
    "F small": [53, 57, 60, 65],
    "Fmaj7": [53, 57, 60, 64],
    "F full": [41, 48, 53, 57, 60, 65],
    "Bm": [47, 54, 59, 62, 66],
    "Bm top": [54, 59, 62, 66],
    "B7": [47, 51, 57, 59, 66],
}

SHAPE_FRETS = {
    # Frets from the lowest string, `x` not played.
    "E": "022100", "Em": "022000", "E7": "020100", "A": "x02220", "Am": "x02210", "A7": "x02020",
    "D": "xx0232", "Dm": "xx0231", "D7": "xx0212", "G": "320003", "G7": "320001", "C": "x32010",
    "C7": "x32310", "F small": "xx3211", "Fmaj7": "xx3210", "F full": "133211", "Bm": "x24432",
    "Bm top": "xx4432", "B7": "x21202",
}  # fmt: skip


def frets(places: list[str | None]) -> str:
    table = {Place.parse(text).string: Place.parse(text).fret for text in places if text}
    return "".join(str(table.get(string, "x")) for string in range(6, 0, -1))


@pytest.mark.parametrize("name", OPEN_SHAPES)
def test_an_open_chord_gets_the_shape_of_the_handbooks(name: str) -> None:
    lesson = build.lesson([f"{spelled(OPEN_SHAPES[name])}:whole"])
    assert frets(placed(lesson)) == SHAPE_FRETS[name]


@pytest.mark.parametrize(
    ("midis", "shape"), [([38, 45, 50, 57, 62, 66], "000232"), ([43, 50, 55, 59, 67], "5x0003")]
)
def test_shapes_with_the_sixth_string_lowered(midis: list[int], shape: str) -> None:
    lesson = build.lesson([f"{spelled(midis)}:whole"], instrument=LOWERED)
    assert frets(placed(lesson)) == shape


@pytest.mark.parametrize(("pitch", "fret"), [("G2", 3), ("F#2", 2), ("E2", 0)])
def test_lowering_the_sixth_string_moves_its_notes_up_two_frets(pitch: str, fret: int) -> None:
    """A fact of the trade (common practice, no source)."""
    assert placed(build.lesson([f"{pitch}:whole"])) == [f"s6f{fret}"]
    assert placed(build.lesson([f"{pitch}:whole"], instrument=LOWERED)) == [f"s6f{fret + 2}"]


@pytest.mark.parametrize(
    ("pitches", "places"),
    [
        # Scales in first position (common practice; from memory), strings and frets.
        ("C3 D3 E3 F3 G3 A3 B3 C4", "s5f3 s4f0 s4f2 s4f3 s3f0 s3f2 s2f0 s2f1"),
        ("A2 B2 C3 D3 E3 F3 G#3 A3", "s5f0 s5f2 s5f3 s4f0 s4f2 s4f3 s3f1 s3f2"),
        ("E2 F#2 G2 A2 B2 C3 D#3 E3", "s6f0 s6f2 s6f3 s5f0 s5f2 s5f3 s4f1 s4f2"),
    ],
)
def test_scales_in_first_position(pitches: str, places: str) -> None:
    lesson = build.lesson([" ".join(f"{pitch}:eighth" for pitch in pitches.split())])
    assert placed(lesson) == places.split()


def test_a_ringing_note_keeps_its_string() -> None:
    """B3 is cheapest on the open second string; while D4 rings there it goes to the third."""
    lesson = build.lesson(["D4:half r:half | r:quarter B3:quarter r:half"])
    assert placed(lesson) == ["s2f3", "s3f4"]


def test_two_voices_that_strike_one_pitch_share_one_string() -> None:
    lesson = build.lesson(["G3:half r:half | G3:whole"])
    assert placed(lesson) == ["s3f0", "s3f0"]


def test_two_noteheads_of_one_chord_need_two_strings() -> None:
    lesson = build.lesson(["E4+E4:whole"])
    assert sorted(filter(None, placed(lesson))) == ["s1f0", "s2f5"]


def test_a_struck_pitch_may_take_the_string_it_still_rings_on() -> None:
    lesson = build.lesson(["r:half D3:half | D3:whole"])
    assert placed(lesson) == ["s4f0", "s4f0"]


def test_tied_notes_stay_on_one_string_across_the_bar() -> None:
    lesson = build.lesson(["r:half D4:half~ | r:whole", "D4:whole | B3:whole"])
    assert placed(lesson) == ["s2f3", "s2f3", "s3f4"]


def test_what_no_hand_can_place_stays_unplaced_and_is_listed() -> None:
    lesson = build.lesson(["E4:half C2:half", "E2+F2:whole"])
    updated, unplaced = with_places(lesson)
    waiting = [
        (note.id, str(note.pitch))
        for measure in walk.measures(updated.arrangement)
        for _, note in walk.notes(measure)
        if note.place is None
    ]
    assert [pitch for _, pitch in waiting] == ["C2", "F2"]
    assert sorted(unplaced) == sorted(number for number, _ in waiting)


def test_the_contract_bounds_the_frets() -> None:
    lesson = build.lesson(["C5:whole"])
    assert placed(lesson) == [None]
    assert placed(lesson, WHOLE_NECK) == ["s1f8"]


def test_the_capo_counts_frets_from_where_it_is() -> None:
    lesson = build.lesson(["G4:half E2:half"], instrument=Instrument(capo=2))
    assert placed(lesson) == ["s1f1", None]


def test_a_small_guitar_brings_far_frets_within_reach() -> None:
    """Frets 1 to 5 span 126.6 mm on 650 mm and 103.2 mm on 530 mm (computed)."""
    stretch = ["F2+A4:whole"]
    assert placed(build.lesson(stretch)) == ["s6f1", None]
    assert placed(build.lesson(stretch, instrument=Instrument(scale_mm=530))) == ["s6f1", "s1f5"]


def test_a_measured_hand_replaces_the_default_span() -> None:
    lesson = build.lesson(["F2+G#4:whole"])
    assert len(suggest(lesson.arrangement).places) == 2
    small = HandProfile({"14": 80.0})
    assert len(suggest(lesson.arrangement, hand=small).places) == 1


def test_firm_places_stand_and_the_others_make_way() -> None:
    lesson = build.lesson(["E4s2f5:half r:half | r:quarter B3:quarter r:half"])
    found = suggest(lesson.arrangement)
    assert [str(label.value) for label in found.places.values()] == ["s3f4"]


def test_a_place_that_a_later_firm_one_takes_is_not_suggested() -> None:
    lesson = build.lesson(["r:quarter E4s2f5:quarter r:half | B3:half r:half"])
    found = suggest(lesson.arrangement)
    assert [str(label.value) for label in found.places.values()] == ["s3f4"]


def test_only_the_asked_measures_get_places() -> None:
    lesson = build.lesson(["E4:whole", "F4:whole", "G4:whole"])
    second = lesson.arrangement.sections[0].measures[1]
    updated, unplaced = with_places(lesson, [second.id])
    assert unplaced == ()
    assert [walk.unplaced(m) for m in walk.measures(updated.arrangement)] == [1, 0, 1]
    before, after = lesson.arrangement.sections[0], updated.arrangement.sections[0]
    assert after.measures[0] is before.measures[0]
    assert after.measures[2] is before.measures[2]


def test_suggestions_say_who_made_them() -> None:
    updated, _ = with_places(build.lesson(["E4:half G4s1f3:half"]))
    assert updated.solver == SOLVER
    first, second = (
        note.place for _, note in walk.notes(updated.arrangement.sections[0].measures[0])
    )
    assert first == Label(Place(1, 0), Origin.SUGGESTED)
    assert second == Label(Place(1, 3), Origin.PINNED)


def test_asking_again_changes_nothing() -> None:
    once, _ = with_places(build.lesson(["E4:half G4:half | C3:whole"]))
    again, _ = with_places(once)
    assert again is once


@pytest.mark.parametrize(
    ("harmonic", "pitch", "place"),
    [
        # Harmonics 2, 3 and 4 of a string lie an octave, a twelfth and two octaves above it.
        (Harmonic("natural", 12), "E5", "s1f0"),
        (Harmonic("natural", 7), "B5", "s1f0"),
        (Harmonic("natural", 5), "G5", "s3f0"),
        (Harmonic("artificial", 14), "F#5", "s1f2 s5f5"),
    ],
)
def test_a_harmonic_is_placed_where_its_string_is_stopped(
    harmonic: Harmonic, pitch: str, place: str
) -> None:
    note = Note(1, Pitch.parse(pitch), harmonic=harmonic)
    found = choices(note, Limits(Instrument(), 5, HAND_SPAN_MM))
    assert " ".join(map(str, found)) == place


def test_a_grace_note_comes_before_its_note() -> None:
    lesson = build.lesson(["E4:quarter F4:quarter r:half"])
    measure = lesson.arrangement.sections[0].measures[0]
    grace = structs.replace(measure.voices[0][0], grace=Grace())
    events = (grace, *measure.voices[0][1:])
    section = structs.replace(
        lesson.arrangement.sections[0],
        measures=(structs.replace(measure, voices=(events,)),),
    )
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    assert [sound.start for sound in heard(arrangement)] == [(0, -1), (0, 0)]
    assert sorted(str(label.value) for label in suggest(arrangement).places.values()) == [
        "s1f0",
        "s1f1",
    ]


_VALUES = st.sampled_from(["quarter", "half", "eighth", "half."])


@st.composite
def two_voices(draw: st.DrawFn) -> Lesson:
    def row(low: int, high: int, most: int) -> str:
        events = []
        for _ in range(draw(st.integers(1, 5))):
            midis = draw(st.lists(st.integers(low, high), min_size=0, max_size=most, unique=True))
            tie = draw(st.sampled_from(["", "", "~"]))
            value = draw(_VALUES)
            events.append(f"{spelled(midis)}:{value}{tie}" if midis else f"r:{value}")
        return " ".join(events)

    instrument = draw(
        st.sampled_from([Instrument(), LOWERED, Instrument(scale_mm=530), Instrument(capo=3)])
    )
    texts = [f"{row(52, 79, 4)} | {row(36, 57, 2)}" for _ in range(draw(st.integers(1, 3)))]
    return build.lesson(texts, instrument=instrument)


@settings(max_examples=80, deadline=None)
@given(two_voices(), st.sampled_from([LevelContract(), WHOLE_NECK]))
def test_every_suggestion_can_be_played(lesson: Lesson, contract: LevelContract) -> None:
    arrangement = lesson.arrangement
    instrument = arrangement.instrument
    found = suggest(arrangement, contract=contract)
    everything = {n.id for m in walk.measures(arrangement) for _, n in walk.notes(m)}
    assert everything == set(found.places) | set(found.unplaced)
    assert not set(found.places) & set(found.unplaced)
    every = heard(arrangement)
    sounds = [s for s in every if s.first.id in found.places]
    for sound in sounds:
        places = {found.places[note.id].value for note in sound.notes}
        assert len(places) == 1, "a tied note changed its string"
        (place,) = places
        open_midi = instrument.strings[place.string - 1].midi
        assert open_midi + instrument.capo + place.fret == sound.first.pitch.midi
        assert place.fret <= contract.highest_fret
    for moment in {sound.start for sound in sounds}:
        held = {
            found.places[sound.first.id].value
            for sound in sounds
            if sound.start <= moment
            and (sound.end > moment[0] or sound.start == moment)
            and not _struck_again(sound, every, moment)
        }
        assert len({place.string for place in held}) == len(held)
        pressed = [place.fret for place in held if place.fret]
        assert span_mm(instrument, pressed) <= HAND_SPAN_MM
        assert (
            sum(fret > min(pressed) for fret in pressed) <= FINGERS - 1 or len(pressed) <= FINGERS
        )


def _struck_again(sound: Heard, sounds: list[Heard], moment: tuple[int, int]) -> bool:
    return any(
        sound.start < other.start <= moment and other.first.pitch.midi == sound.first.pitch.midi
        for other in sounds
    )


def test_the_demo_stripped_of_its_places_gets_them_back() -> None:
    """Made by hand for a beginner's first position: the cheapest places are the ones chosen."""
    lesson = load(resources.path("demo", "rowing-home.footstool"))
    places = {
        note.id: note.place.value
        for measure in walk.measures(lesson.arrangement)
        for _, note in walk.notes(measure)
        if note.place is not None
    }
    found = suggest(stripped(lesson.arrangement), contract=lesson.brief.level)
    assert {number: label.value for number, label in found.places.items()} == places
    assert len(places) > 100


def stripped(arrangement: Arrangement) -> Arrangement:
    def bare(event: Event) -> Event:
        notes = tuple(structs.replace(note, place=None) for note in event.notes)
        return structs.replace(event, notes=notes)

    sections = tuple(
        structs.replace(section, measures=tuple(map_events(m, bare) for m in section.measures))
        for section in arrangement.sections
    )
    return structs.replace(arrangement, sections=sections)


def test_a_hand_has_four_fingers_and_a_barre() -> None:
    def hold(*places: str) -> bool:
        return holdable([Place.parse(p) for p in places], Instrument(), HAND_SPAN_MM)

    assert hold("s1f1", "s2f1", "s3f2", "s4f3", "s5f3", "s6f1")  # F with its barre
    assert not hold("s1f0", "s2f1", "s3f2", "s4f3", "s5f3", "s6f1")  # the barre covers string 1
    assert not hold("s1f4", "s2f3", "s3f2", "s4f3", "s5f2", "s6f1")  # six fingers
    assert not hold("s2f1", "s2f3")  # two notes on one string
    assert not hold("s1f1", "s6f5")  # 126.6 mm


def test_a_thousand_onsets_are_all_answered() -> None:
    row = "C4:quarter E4:quarter G4:quarter E4:quarter | C3:half A2:half"
    found = suggest(build.lesson([row] * 250).arrangement)
    assert len(found.places) == 1500
    assert found.unplaced == ()
    assert {str(label.value) for label in found.places.values()} == {
        "s2f1", "s1f0", "s1f3", "s5f3", "s5f0",
    }  # fmt: skip
