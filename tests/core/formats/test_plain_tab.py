"""Plain-text tab: our own lines read back, other people's lines read, bad text refused.

The layout of the lines (string names, dashes, bar strokes, a letter for the value above a column,
figures in brackets for what goes on) is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from core.edit import Paste, Selection
from core.edit.clip import Clip, copy
from core.formats import plain_tab
from core.model import (
    Arrangement,
    Articulation,
    BadInput,
    Event,
    Grace,
    Harmonic,
    Instrument,
    Key,
    Lesson,
    Metre,
    Note,
    Pitch,
    walk,
)
from core.model.notes import HARMONIC_SEMITONES
from tests import build, strategies
from tests.core.edit.kit import do, told

GUITAR = Instrument()
FOUR = Metre([4], 4)
C = Key(0)
NAMES = "eBGDAE"


def whole(lesson: Lesson) -> Selection:
    row = list(walk.measures(lesson.arrangement))
    return Selection(row[0].id, 0, row[-1].id, max(1, row[-1].length_ticks))


def written(lesson: Lesson) -> str:
    return plain_tab.write(lesson, whole(lesson)).text


def pasted(text: str, metre: str = "4/4") -> Lesson:
    target = build.lesson([""], metre=metre)
    measure = next(walk.measures(target.arrangement))
    clip = plain_tab.read(text, GUITAR, measure.metre, measure.key).clip
    return do(Paste(measure.id, 0, clip), target)


def tab(*lines: str, above: str = "", below: str = "") -> str:
    """Six lines under each other, the first ones given, the others as long and empty."""
    longest = max(map(len, lines))
    rows = [*lines, *["-" * longest] * (6 - len(lines))]
    text = "\n".join(f"{name}|{row}|" for name, row in zip(NAMES, rows, strict=True))
    return f"{above}\n{text}\n{below}\n" if above else f"{text}\n{below}\n"


def read(text: str, metre: Metre = FOUR) -> plain_tab.PlainTab:
    return plain_tab.read(text, GUITAR, metre, C)


def short(clip: Clip) -> list[str]:
    """``0 s1f3!1:quarter``: the voice, places with fingers, the value; ``r`` for a rest."""
    return [
        f"{piece.voice} "
        + (
            "+".join(
                f"{n.place.value}" + (f"!{n.finger.value}" if n.finger else "") for n in e.notes
            )
            or "r"
        )
        + f":{e.value}"
        + ("~" if any(n.tied for n in e.notes) else "")
        for piece in clip.pieces
        for e in [piece.event]
    ]


# ---------------------------------------------------------------- writing


def test_what_is_written() -> None:
    lesson = build.lesson(
        [
            "E4s1f0:quarter F4s1f1!1:eighth G4s1f3!4:eighth r:quarter | C3s5f3!3:half.",
            "E4s1f0+C4s2f1!1:half~ E4s1f0+C4s2f1!1:quarter | A2s5f0:half A2s5f0+C3s4f10:quarter",
        ],
        metre="3/4",
    )
    assert written(lesson).splitlines() == [
        "   3/4",
        "   Q     E  E  q       H       Q",
        "e|-0-----1--3--------|-0-------(0)-|",
        "B|-------------------|-1-------(1)-|",
        "G|-------------------|-------------|",
        "D|-------------------|---------10--|",
        "A|-3-----------------|-0-------0---|",
        "E|-------------------|-------------|",
        "   H.                  H       Q+",
        "LH .     1  4          .       .",
        "LH 3                   1       1",
    ]


@pytest.mark.parametrize(
    ("metre", "music"),
    [
        ("4/4", "s1f0:quarter s1f1:eighth s1f3:eighth s1f0:half"),
        ("6/8", "s2f1:quarter s2f0:eighth s2f1:quarter s2f0:eighth"),
        ("3/4", "s1f12:half."),
        ("3/4", "r:quarter s3f2:half"),
        ("4/4", "s1f0:quarter. s1f12:eighth s2f10:16th s2f1:16th s1f0:eighth s1f0:quarter"),
    ],
)
def test_our_own_lines_read_back(metre: str, music: str) -> None:
    words = []
    for word in music.split():
        place, value = word.split(":")
        if place != "r":
            string, fret = map(int, place[1:].split("f"))
            midi = GUITAR.strings[string - 1].midi + fret
            place = f"{Pitch.from_midi(midi, C)}s{string}f{fret}"
        words.append(f"{place}:{value}")
    lesson = build.lesson([" ".join(words)], metre=metre)
    text = written(lesson)
    assert told(pasted(text, metre)) == music.strip()
    # Others' programs and our eyes have only the spacing: it gives the same values.
    bare = "\n".join(line for line in text.splitlines() if "|" in line)
    assert read(bare, Metre.parse(metre)).timing == "spaced"
    assert told(pasted(bare, metre)) == music.strip()


def test_what_a_text_cannot_carry_is_counted() -> None:
    lesson = build.lesson(
        ["E4:half C4s2f1:quarter~ E4s1f0:quarter | E4s1f0:half G4s1f3:quarter r:quarter"]
    )
    section = lesson.arrangement.sections[0]
    measure = section.measures[0]
    small = structs.replace(build.event("F4s1f1:eighth", count(90)), grace=Grace())
    accent = structs.replace(measure.voices[0][2], marks=(Articulation("accent"),))
    voices = ((small, *measure.voices[0][:2], accent), measure.voices[1])
    section = structs.replace(section, measures=(structs.replace(measure, voices=voices),), times=2)
    arrangement = structs.replace(lesson.arrangement, sections=(section,))
    lesson = structs.replace(lesson, arrangement=arrangement)
    assert plain_tab.write(lesson, whole(lesson)).left_out == (
        "1 grace note", "1 note without a place", "1 tie", "1 moment where voices cross",
        "1 accent sign (measure 1)", "1 repeat",
    )  # fmt: skip


def test_a_part_of_a_measure_is_written_from_where_it_begins() -> None:
    lesson = build.lesson(
        ["E4s1f0:half F4s1f1:quarter G4s1f3:quarter | C3s5f3:whole", "E4s1f0:whole"]
    )
    first, second = walk.measures(lesson.arrangement)
    half = first.ticks // 2
    what = Selection(first.id, half, second.id, second.ticks)
    text = plain_tab.write(lesson, what).text
    assert text.splitlines()[0].split() == ["1/2", "4/4"]
    assert short(read(text).clip) == ["0 s1f1:quarter", "0 s1f3:quarter", "0 s1f0:whole"]
    assert [p.offset for p in read(text).clip.pieces] == [
        p.offset for p in copy(lesson, what).pieces
    ]


# ---------------------------------------------------------------- what is written is read


Carried = tuple[int, int, str, frozenset[tuple[str, str, str, bool]]]


def carried(lesson: Lesson) -> Iterator[tuple[Carried, bool]]:
    """What the text promises to carry, an event at a time in order of measures and voices: voice,
    ticks from the beginning, value, and of each note string and fret, harmonic, finger and tie.
    Then whether its column says which voice has which figure."""
    run = list(walk.measures(lesson.arrangement))
    rows = {
        voice: [
            (m.id, e) for m in run if voice < len(m.voices) for e in m.voices[voice] if not e.grace
        ]
        for voice in range(4)
    }
    order = [voice for voice in rows if rows[voice]]
    begin = 0
    for measure in run:
        columns: dict[int, list[tuple[int, Event]]] = {}
        for voice, row in enumerate(measure.voices):
            onset = 0
            for event in row:
                if not event.grace:
                    columns.setdefault(onset, []).append((voice, event))
                onset += event.ticks
        for onset, there in sorted(columns.items()):
            strings = [sorted(n.place.value.string for n in e.notes if n.place) for _, e in there]
            flat = [string for row in strings for string in row]
            clear = flat == sorted(set(flat))
            for voice, event in there:
                line = rows[voice]
                index = next(i for i, (_, e) in enumerate(line) if e is event)
                later = line[index + 1][1] if index + 1 < len(line) else None
                notes = frozenset(
                    _carried(n, later, lesson.arrangement.instrument)
                    for n in event.notes
                    if n.place
                )
                yield (order.index(voice), begin + onset, str(event.value), notes), clear
        begin += measure.ticks


def _carried(note: Note, later: Event | None, guitar: Instrument) -> tuple[str, str, str, bool]:
    assert note.place is not None
    harmonic = _told_harmonic(note, guitar)
    goes_on = later is not None and any(
        n.pitch == note.pitch and n.place and n.place.value == note.place.value
        and not _told_harmonic(n, guitar)
        for n in later.notes
    )  # fmt: skip
    finger = note.finger.value.value if note.finger else ""
    return str(note.place.value), harmonic, finger, note.tied and goes_on


def _told_harmonic(note: Note, guitar: Instrument) -> str:
    held = note.harmonic
    if held is None or held.kind != "natural" or note.place.value.fret:
        return ""
    sounds = guitar.midi_at(note.place.value) + HARMONIC_SEMITONES.get(held.touched_fret, 0)
    return str(held.touched_fret) if sounds == note.pitch.midi else ""


def came_back(clip: Clip) -> list[Carried]:
    return [
        (
            p.voice, p.offset, str(p.event.value),
            frozenset(
                (
                    str(n.place.value), str(n.harmonic.touched_fret) if n.harmonic else "",
                    n.finger.value.value if n.finger else "", n.tied,
                )
                for n in p.event.notes
            ),
        )
        for p in clip.pieces
    ]  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(strategies.arrangements(most_sections=2, most_measures=2))
def test_any_music_comes_back_as_its_tab_says(arrangement: Arrangement) -> None:
    lesson = Lesson("", arrangement, next_id=1)
    expected = sorted(carried(lesson), key=lambda entry: (entry[0][1], entry[0][0]))
    first = next(walk.measures(lesson.arrangement))
    guitar = lesson.arrangement.instrument
    if not any(entry[3] for entry, _ in expected):
        with pytest.raises(BadInput, match="no tab"):
            plain_tab.read(written(lesson), guitar, first.metre, first.key)
        return
    clip = plain_tab.read(written(lesson), guitar, first.metre, first.key).clip
    found = came_back(clip)
    assert [entry[:3] for entry in found] == [entry[:3] for entry, _ in expected]
    unclear = {entry[1] for entry, clear in expected if not clear}
    for (voice, offset, value, notes), (wanted, _) in zip(found, expected, strict=True):
        if unclear:
            # Which voice a figure belongs to is not always said, so that ties may differ too.
            assert offset in unclear or {n[:2] for n in notes} == {n[:2] for n in wanted[3]}
        else:
            assert (voice, offset, value, notes) == wanted


def test_a_unison_of_two_voices_is_one_figure_for_both() -> None:
    lesson = build.lesson(["E4s1f0:half G4s1f3:half | E4s1f0:whole"])
    assert short(read(written(lesson)).clip) == ["0 s1f0:half", "1 s1f0:whole", "0 s1f3:half"]


def test_a_harmonic_is_touched() -> None:
    lesson = build.lesson(["E5s1f0:whole"])
    measure = lesson.arrangement.sections[0].measures[0]
    note = structs.replace(measure.voices[0][0].notes[0], harmonic=Harmonic("natural", 12))
    event = structs.replace(measure.voices[0][0], notes=(note,))
    section = structs.replace(
        lesson.arrangement.sections[0], measures=(structs.replace(measure, voices=((event,),)),)
    )
    lesson = structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=(section,))
    )
    assert "-<12>-" in written(lesson)
    back = read(written(lesson)).clip.pieces[0].event.notes[0]
    assert (back.pitch, back.harmonic) == (note.pitch, note.harmonic)


# ---------------------------------------------------------------- what others write


def test_letters_above_give_values_and_one_without_a_letter_goes_on() -> None:
    text = tab("-0-1-3-0-0---", above="   Q E     Q")
    assert short(read(text).clip) == [
        "0 s1f0:quarter", "0 s1f1:eighth", "0 s1f3:eighth", "0 s1f0:eighth", "0 s1f0:quarter",
    ]  # fmt: skip
    assert read(text).timing == "written"


def test_letters_of_any_size_and_below() -> None:
    text = tab("-0-1-3---", below="   q e e h")
    assert short(read(text).clip) == [
        "0 s1f0:quarter", "0 s1f1:eighth", "0 s1f3:eighth", "0 r:half",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "values"),
    [
        ("--0---1---3---0--", ["quarter"] * 4),  # two dashes at the edges
        ("-0---1---3---0-", ["quarter"] * 4),
        ("0---1---3---0---", ["quarter"] * 4),
        ("-0-1-3-0-1-3-0-1-", ["eighth"] * 8),
        ("--0-------1---3---", ["half", "quarter", "quarter"]),
        ("-0-----1-3-------", ["quarter.", "eighth", "half"]),
        ("---0---1---3---0-", ["eighth", "quarter", "quarter", "quarter", "eighth"]),
    ],
)
def test_spacing_gives_values(line: str, values: list[str]) -> None:
    found = read(tab(line))
    assert found.timing == "spaced"
    assert [str(piece.event.value) for piece in found.clip.pieces] == values


def test_names_of_chords_are_no_values() -> None:
    text = tab("-0-1-3-0-|-0-1-3-0-", above="   E         B")
    assert read(text).timing == "spaced"


def test_bare_lines_without_names_and_bars() -> None:
    lines = ["--0---1---3---0-", *["-" * 16] * 5]
    assert [n.split()[1] for n in short(read("\n".join(lines)).clip)][-4:] == [
        "s1f0:quarter", "s1f1:quarter", "s1f3:quarter", "s1f0:quarter",
    ]  # fmt: skip


def test_figures_over_ten_set_left_or_right_are_one_chord() -> None:
    clip = read(tab("-12-----|", "--3-----|", "-10-----|")).clip
    assert short(clip)[0].startswith("0 s1f12+s2f3+s3f10:")


def test_systems_one_under_another_with_words_between() -> None:
    block = tab("-0-h-2---", "-----p-1-")
    clip = read(f"Old tune, verse\n\n{block}\n\nchorus (twice):\n{block}\n").clip
    assert sum(piece.event.notes != () for piece in clip.pieces) == 6
    # Twelve lines without a gap are two systems as well.
    assert short(read(block.strip() + "\n" + block).clip) == short(clip)


def test_letters_stand_over_their_own_system_without_a_gap() -> None:
    block = tab("-0---1---", above="   H   H").strip()
    assert short(read(f"{block}\n{block}").clip) == ["0 s1f0:half", "0 s1f1:half"] * 2


def test_a_pickup_at_the_beginning_is_as_long_as_its_letters() -> None:
    clip = read(tab("-3-|-0---1---|", above="   Q   H   H")).clip
    assert [p.offset for p in clip.pieces] == [0, FOUR.ticks // 4, FOUR.ticks * 3 // 4]


def test_long_dashes_boxes_and_words_behind_a_line() -> None:
    text = tab("-0---1---").replace("-", "—").replace("|\n", "│  x2\n")
    assert [n[2:6] for n in short(read(text).clip)] == ["s1f0", "s1f1"]


def test_what_is_left_out_and_other_strings_are_said() -> None:
    found = read(tab("-0h1-x-5~-").replace("E|", "D|"))
    assert len(found.remarks) == 3
    assert "e B G D A D" in found.remarks[0]
    assert "1 dead stroke (x) is a rest" in found.remarks[1]


def test_fingers_are_read_below() -> None:
    found = read(tab("-0-1-3---", "-1-------", below="LH . 1 4\nLH 2", above="   Q Q H"))
    assert short(found.clip) == ["0 s1f0+s2f1!2:quarter", "0 s1f1!1:quarter", "0 s1f3!4:half"]
    assert found.fingers == 3


def test_spacing_that_tells_nothing_gives_even_values() -> None:
    lines = ["e|-0--1---3-|", *("BGDAE"[i] + "|----------|" for i in range(5))]
    found = read("\n".join(lines))
    assert found.timing == "even"
    assert [str(p.event.value) for p in found.clip.pieces][:2] == ["quarter", "quarter"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no tab"),
        ("hello\nworld", "no tab"),
        ("e|-1-|\nB|-1-|\nG|-1-|\nD|-1-|", "Line 1: 4 lines"),
        ("\n".join(f"{n}|-99-|" for n in "eBGDAE"), "Line 1: fret 99"),
        ("\n".join(f"{n}|----|" for n in "eBGDAE"), "no tab"),
        ("x" * 200_001, "too long"),
    ],
)
def test_what_is_no_tab_is_refused(text: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        plain_tab.read(text, GUITAR, FOUR, C)


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="eBGDAE|-0123456789hpx:*()<>QHLs3.+/T \n", max_size=400))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        clip = plain_tab.read(text, GUITAR, FOUR, C).clip
    except BadInput:
        return
    assert all(piece.event.ticks > 0 for piece in clip.pieces)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.text(alphabet="|-0123456789hp:*()<>x", min_size=1, max_size=60), min_size=6, max_size=6
    ),
    st.text(alphabet="QHESTqr.+3:, /4", max_size=60),
    st.text(alphabet="LH 01234T.", max_size=60),
)
def test_any_six_lines_are_read_or_refused(lines: list[str], above: str, below: str) -> None:
    text = "\n".join([above, *("|--" + line for line in lines), below, f"LH {below}"])
    try:
        clip = read(text).clip
    except BadInput:
        return
    target = build.lesson([""])
    do(Paste(next(walk.measures(target.arrangement)).id, 0, clip), target)
