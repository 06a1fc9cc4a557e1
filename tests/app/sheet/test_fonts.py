import pytest
from PySide6.QtGui import QFontInfo, QRawFont

from app.sheet.fonts import PIXELS_PER_EM, SheetFonts
from core.display.items import Face
from core.model.errors import BadInput
from resources import faces


@pytest.fixture(scope="module")
def fonts(qapp):
    return SheetFonts()


@pytest.mark.parametrize("face", list(Face))
def test_qt_and_core_see_the_same_glyphs(fonts, face):
    """Glyph numbers and advances as Qt's own reading of the file has them."""
    typeface = fonts.typefaces[face]
    raw = QRawFont(str(faces.paths()[face]), PIXELS_PER_EM)
    text = "\ue0a4\ue050\ue262" if face is Face.MUSIC else "Fließ 0123 & “ring”"
    numbers = raw.glyphIndexesForString(text)
    assert numbers == [typeface.glyph(ord(char)) for char in text]
    advances = raw.advancesForGlyphIndexes(numbers)
    mine = [PIXELS_PER_EM * typeface.advance(number) for number in numbers]
    assert [a.x() for a in advances] == pytest.approx(mine, abs=0.51)  # Qt hints to whole pixels


@pytest.mark.parametrize("face", list(Face))
def test_labels_get_the_shipped_font(fonts, face):
    font = fonts.font(face, 18)
    assert font.pixelSize() == 18
    shipped = faces.paths()[face].read_bytes()
    assert QRawFont.fromFont(font).fontTable("head").data() in shipped
    assert QFontInfo(font).pixelSize() == 18


def test_a_broken_font_file_is_named(qapp, tmp_path):
    broken = tmp_path / "broken.ttf"
    broken.write_bytes(b"no font")
    with pytest.raises(BadInput, match="The font for sans bold is not a usable font file"):
        SheetFonts({**faces.paths(), "sans bold": broken})
