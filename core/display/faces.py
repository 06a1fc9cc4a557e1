"""Fonts as values: which glyph a character has and how far it advances.

Every replayer sets a text here, glyph by glyph and without ligatures or kerning, so that screen,
SVG and PDF agree with each other and with the widths that layout was given.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from io import BytesIO
from types import MappingProxyType

from fontTools.ttLib import TTFont, TTLibError
from msgspec import Struct

from core.display.items import Face, Glyph, Text
from core.model.errors import BadInput

MUSIC_EM = 4.0  # SMuFL 1.4, "Metrics and glyph registration": one em is four staff spaces

# The text fonts have no accidentals: words such as "B♭" borrow them from the music font, at the
# text's own em, lifted to stand on the baseline (flats) or about the middle of the capitals, with
# a hair of air on both sides. Our own fit by eye, in ems of the text.
_LIFT = MappingProxyType({"♭": 0.18, "♮": 0.34, "♯": 0.34, "𝄪": 0.34, "𝄫": 0.18})
_SMUFL = MappingProxyType({"𝄪": 0xE263, "𝄫": 0xE264})
_AIR = 0.02  # more, and a reader of the PDF takes it for a space


class Typeface(Struct, frozen=True):
    """One font file: its bytes, and in font units what placing its glyphs needs."""

    data: bytes
    units_per_em: int
    glyphs: Mapping[int, int]  # code point -> glyph number
    advances: tuple[int, ...]  # by glyph number

    def glyph(self, code: int) -> int:
        """The glyph number of a code point; 0, the font's empty box, where it has none."""
        return self.glyphs.get(code, 0)

    def advance(self, glyph: int) -> float:
        """The advance of a glyph in ems."""
        return self.advances[glyph] / self.units_per_em


Typefaces = Mapping[Face, Typeface]


class Run(Struct, frozen=True):
    """Glyphs of one face and size on one baseline; `em` and places in spaces, y down."""

    face: Face
    em: float
    y: float
    chars: str
    glyphs: tuple[int, ...]
    xs: tuple[float, ...]


def read(data: bytes, name: str = "a font") -> Typeface:
    """Read a TrueType or OpenType font; raises BadInput if `data` is no such font."""
    try:
        font = TTFont(BytesIO(data), lazy=True)
        order = font.getGlyphOrder()
        number = {glyph: i for i, glyph in enumerate(order)}
        widths = font["hmtx"].metrics
        return Typeface(
            data,
            font["head"].unitsPerEm,
            MappingProxyType({code: number[g] for code, g in font.getBestCmap().items()}),
            tuple(widths[glyph][0] for glyph in order),
        )
    except (TTLibError, KeyError) as error:
        raise BadInput(f"{name} is not a usable font file ({error}); reinstall it.") from error


def read_all(files: Mapping[str, bytes]) -> dict[Face, Typeface]:
    """Read the font of every face; `files` maps the names of the faces to font files."""
    return {face: read(files[face], f"The font for {face.value}") for face in Face}


def music_run(glyph: Glyph, typefaces: Typefaces) -> Run:
    """A glyph of the music font as a run of one."""
    number = typefaces[Face.MUSIC].glyph(glyph.code)
    return Run(Face.MUSIC, MUSIC_EM * glyph.size, glyph.y, chr(glyph.code), (number,), (glyph.x,))


def text_width(text: str, face: Face, typefaces: Typefaces) -> float:
    """The advance of a text in ems, as the replayers set it."""
    return sum(advance for _, _, _, advance, _ in _set(text, face, typefaces))


def text_runs(text: Text, typefaces: Typefaces) -> tuple[Run, ...]:
    """Set a text: one run for its own face, another for each stretch of borrowed accidentals."""
    x = text.x - text.anchor * text.width
    runs: list[tuple[Face, float, list[tuple[str, int, float]]]] = []
    for char, face, glyph, advance, lift in _set(text.text, text.face, typefaces):
        y = text.y - lift * text.size
        if not runs or runs[-1][:2] != (face, y):
            runs.append((face, y, []))
        air = _AIR * text.size if face is not text.face else 0.0
        runs[-1][2].append((char, glyph, x + air))
        x += advance * text.size
    return tuple(
        Run(
            face,
            text.size,
            y,
            "".join(char for char, _, _ in row),
            tuple(glyph for _, glyph, _ in row),
            tuple(at for _, _, at in row),
        )
        for face, y, row in runs
    )


def _set(
    text: str, face: Face, typefaces: Typefaces
) -> Iterator[tuple[str, Face, int, float, float]]:
    """Yield character, face, glyph number, advance and lift (both in ems) of a text."""
    own, music = typefaces[face], typefaces[Face.MUSIC]
    for raw in text:
        char = " " if raw.isspace() else raw
        glyph = own.glyph(ord(char))
        if glyph or char not in _LIFT:
            yield char, face, glyph, own.advance(glyph), 0.0
            continue
        borrowed = music.glyph(_SMUFL.get(char, ord(char)))
        yield char, Face.MUSIC, borrowed, music.advance(borrowed) + 2 * _AIR, _LIFT[char]
