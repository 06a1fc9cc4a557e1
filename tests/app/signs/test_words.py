"""Sign words: any text is a sign or a sentence, and any sign is an edit or a sentence."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.signs.here import Here, Spot
from app.signs.measures import ChordSign
from app.signs.words import HEADS, WORDS, hint, parse
from core import edit
from core.edit.together import Together
from core.model import ChordShape, EditRefused, Finger, ShapeBarre, walk
from core.model.validate import problems
from tests import build
from tests.strategies import lessons

HEAD = st.sampled_from(sorted(HEADS))
FIGURES = st.text("0123456789 /.,-=xX#bsfpimacTIVABCDEFG", max_size=12)
TAIL = st.one_of(st.just(""), FIGURES, st.text(max_size=12), HEAD)
WORDS_AND_JUNK = st.one_of(st.text(max_size=30), st.builds("{} {}".format, HEAD, TAIL))


def commands_of(text: str, here: Here) -> tuple[object, ...]:
    """The commands of a text; none where it is refused in one sentence."""
    try:
        return parse(text).commands(here)
    except EditRefused as refused:
        sentence = str(refused)
        assert sentence.endswith((".", "?"))
        assert "\n" not in sentence
        assert sentence.isprintable()
        return ()


@given(WORDS_AND_JUNK)
@settings(max_examples=400)
def test_any_text_is_a_sign_or_is_refused_in_a_sentence(text):
    here = at(build.lesson(["E4s1f0:quarter F4s1f1:quarter G4s1f3:half | C3s5f3:whole"]), 0, 0)
    commands_of(text, here)
    hint(text)


@given(lessons(), st.lists(WORDS_AND_JUNK, min_size=1, max_size=6), st.data())
@settings(max_examples=60)
def test_every_sign_keeps_every_lesson_sound(lesson, texts, data):
    for text in texts:
        row = list(walk.measures(lesson.arrangement))
        index = data.draw(st.integers(0, len(row) - 1))
        here = at(lesson, index, data.draw(st.integers(0, 5)), data.draw(st.booleans()))
        commands = commands_of(text, here)
        if not commands:
            continue
        try:
            lesson = edit.apply(Together(commands), lesson).lesson
        except EditRefused as refused:
            assert str(refused).endswith(".")
        assert not problems(lesson), text


def at(lesson, index: int, place: int, selected: bool = False) -> Here:
    """The place of an event of a measure, or the whole measure selected."""
    measure = list(walk.measures(lesson.arrangement))[index]
    row = [Spot(measure.id, index, a) for a in walk.events(measure) if a.event.grace is None]
    spots = tuple(row if selected else row[place : place + 1])
    notes = tuple((spot, note) for spot in spots for note in spot.at.event.notes)
    beginning = tuple(s for s in row if spots and s.at.onset == spots[0].at.onset)
    return Here(
        lesson, (measure,), spots[0].at.onset if spots else 0, spots,
        notes if selected else notes[:1], spots if selected else beginning,
        spots[0].at.voice if spots else 0, 1, selected,
    )  # fmt: skip


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.name)
def test_every_word_reads_its_own_example(word):
    assert parse(word.shown) is not None
    assert word.about in hint(word.shown)
    if word.off is not None:
        assert parse(f"no {word.name}") == word.off


def test_no_two_words_have_the_same_name():
    names = [name for word in WORDS for name in (word.name, *word.also)]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "Write a sign, as staccato, slur or chord Am x02310."),
        ("stacato", "stacato is no sign. Did you mean staccato, short?"),
        ("slur twice", "slur stands alone; leave out what follows it."),
        ("no slur twice", "no slur stands alone; leave out twice."),
        ("chord Am 12", "chord Am 12 cannot be read; write chord Am x02310."),
        ("bend 1/0", "bend 1/0 cannot be read; write bend 1/2."),
        ("goal tempo 900", "goal tempo 900 cannot be read; write goal tempo quarter 54."),
        ("main key H", "H is not a key; write A minor, Am or Bb."),
        (
            "\u00df!",
            "\u00df! is no sign. Write for example staccato, slur or chord Am x02310; the list "
            "shows every word.",
        ),
    ],
)
def test_a_refusal_says_what_can_be_written(text, sentence):
    with pytest.raises(EditRefused) as refused:
        parse(text)
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("D.C. al Fine", "dc al fine"), ("da capo", "dc"), ("Hammer on", "hammer-on"),
        ("fermata long", "pause long"), ("circled string", "circle"), ("position V", "position 5"),
        ("pluck pima", "pluck p i m a"), ("ending 1 and 2", "ending 1-2"),
        ("tuning DADGBE", "tuning D A D G B E"), ("no or", "no alternative"),
        ("tempo dotted quarter = 54", "tempo quarter. 54"), ("bend 1 1/2", "bend 1.5"),
    ],
)  # fmt: skip
def test_ways_to_write_the_same(one, other):
    assert parse(one) == parse(other)


def test_a_barre_chord_is_read_from_its_fingers():
    # Frets and fingers from the lowest string as players write them: common practice, no source.
    shape = ChordShape(
        "F", (1, 1, 2, 3, 3, 1),
        tuple(Finger(figure) for figure in "112431"), ShapeBarre(1, 6, 1),
    )  # fmt: skip
    assert parse("chord F 133211 134211") == ChordSign("F", shape)


def test_a_chord_without_frets_is_the_one_of_that_name():
    lesson = build.lesson(["E4s1f0:whole", "E4s1f0:whole"])
    first, second = at(lesson, 0, 0), at(lesson, 1, 0)
    with pytest.raises(EditRefused, match="No chord Am has been shown yet"):
        parse("chord Am").commands(first)
    shown = edit.apply(parse("chord Am x02310").commands(first)[0], lesson).lesson
    here = at(shown, 1, 0)
    assert parse("chord Am").commands(here) == parse("chord Am x02310").commands(second)


def test_the_words_know_no_qt():
    code = "import sys, app.signs.words; sys.exit('PySide6' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
