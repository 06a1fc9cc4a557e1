from io import BytesIO

import pytest
from fontTools.ttLib import TTFont

from core.display.faces import MUSIC_EM, music_run, read, text_runs, text_width
from core.display.items import Face, Glyph, Text
from core.model.errors import BadInput
from resources import faces
from tests.core.display.sheets import NAMES, smufl, typefaces, words

TEXT_FACES = [face for face in Face if face is not Face.MUSIC]


def test_every_face_has_a_shipped_file():
    assert set(faces.FILES) == set(Face)
    assert all(file.is_file() for file in faces.paths().values())


def test_advances_of_the_music_font_agree_with_its_metadata():
    """SMuFL 1.4: glyphAdvanceWidths are in staff spaces, and one em is four of them."""
    music = typefaces()[Face.MUSIC]
    for code, name in NAMES.items():
        advance = music.advance(music.glyph(code)) * MUSIC_EM
        assert advance == pytest.approx(smufl()["glyphAdvanceWidths"][name], abs=0.003), name


@pytest.mark.parametrize("face", TEXT_FACES)
def test_a_text_is_as_wide_as_its_letters(face):
    font = TTFont(BytesIO(typefaces()[face].data))
    letters, widths = font.getBestCmap(), font["hmtx"].metrics
    text = "Fließend, 12–34: “waffle”"
    expected = sum(widths[letters[ord(char)]][0] for char in text) / font["head"].unitsPerEm
    assert text_width(text, face, typefaces()) == pytest.approx(expected)


@pytest.mark.parametrize("face", TEXT_FACES)
def test_figures_are_tabular(face):
    assert len({text_width(figure, face, typefaces()) for figure in "0123456789"}) == 1


@pytest.mark.parametrize("anchor", [0.0, 0.5, 1.0])
def test_the_anchor_places_the_words(anchor):
    text = words(30, 5, "low string", Face.SERIF, 2, anchor=anchor)
    (run,) = text_runs(text, typefaces())
    end = run.xs[-1] + 2 * text_width("g", Face.SERIF, typefaces())
    assert run.xs[0] + anchor * (end - run.xs[0]) == pytest.approx(30)
    assert run.y == 5
    assert run.chars == "low string"


def test_accidentals_in_words_come_from_the_music_font():
    text = words(0, 10, "B♭ or F♯m", Face.SANS, 2)
    runs = text_runs(text, typefaces())
    assert [(run.face, run.chars) for run in runs] == [
        (Face.SANS, "B"),
        (Face.MUSIC, "♭"),
        (Face.SANS, " or F"),
        (Face.MUSIC, "♯"),
        (Face.SANS, "m"),
    ]
    assert all(0 not in run.glyphs for run in runs)
    xs = [x for run in runs for x in run.xs]
    assert xs == sorted(xs)
    assert xs[-1] + 2 * text_width("m", Face.SANS, typefaces()) == pytest.approx(text.width)


def test_double_accidentals_are_borrowed_too():
    runs = text_runs(words(0, 0, "𝄪𝄫", Face.SERIF, 2), typefaces())
    music = typefaces()[Face.MUSIC]
    glyphs = [glyph for run in runs for glyph in run.glyphs]
    assert glyphs == [music.glyph(0xE263), music.glyph(0xE264)]


def test_a_letter_no_font_has_becomes_the_empty_box():
    (run,) = text_runs(Text(0, 0, "舟", Face.SERIF, 2, 1.0), typefaces())
    assert (run.glyphs, run.chars) == ((0,), "舟")


def test_blanks_of_every_kind_are_spaces():
    (run,) = text_runs(Text(0, 0, "a\tb\nc\u00a0d", Face.SERIF, 2, 1.0), typefaces())
    assert run.chars == "a b c d"


def test_a_music_glyph_has_an_em_of_four_spaces():
    run = music_run(Glyph(1, 2, 0xE0A4, size=0.7), typefaces())
    assert (run.em, run.xs, run.y) == (pytest.approx(2.8), (1,), 2)


@pytest.mark.parametrize("data", [b"", b"not a font", b"\x00\x01\x00\x00" + bytes(40)])
def test_what_is_no_font_is_refused_in_a_sentence(data):
    with pytest.raises(BadInput, match="The font for serif is not a usable font file"):
        read(data, "The font for serif")
