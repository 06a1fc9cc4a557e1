"""The content of one PDF page: operators in spaces, y down, marked for readers.

Words are marked one by one; all else of a block is one figure. Sections named are those of
ISO 32000-1 (PDF 1.7).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from core.display.faces import Run, Typefaces, music_run, text_runs
from core.display.items import Block, Curve, Face, Fill, Line, Role, Sheet, Text
from core.display.layers import Layer, layers
from core.display.palette import Palette, channels
from core.display.pdf_fonts import Embedded

_READ_ALOUD = frozenset((Role.WORDS, Role.PENCIL))


class Marked(Struct, frozen=True):
    """A piece of the page for readers: words, or (`words` None) the music of a block."""

    words: str | None
    numbers: tuple[int, ...]  # marked-content identifiers on its page


class PageContent:
    """Writes one page; afterwards `data` is its stream and `marks` what a reader finds in it."""

    def __init__(
        self,
        sheet: Sheet,
        points_per_space: float,
        typefaces: Typefaces,
        fonts: Mapping[Face, Embedded],
        palette: Palette,
    ) -> None:
        self._typefaces, self._fonts, self._palette = typefaces, fonts, palette
        self._rows: list[bytes] = []
        self._next_mark = 0
        self.marks: list[Marked] = []
        scale = f"{points_per_space:.9f}"
        height = f"{sheet.height * points_per_space:.6f}"
        self._write(f"{scale} 0 0 -{scale} 0 {height} cm")
        for block in sheet.blocks:
            self._block(block)

    @property
    def data(self) -> bytes:
        """The operators of the page."""
        return b"\n".join(self._rows)

    def _write(self, row: str) -> None:
        self._rows.append(row.encode("ascii"))

    def _block(self, block: Block) -> None:
        self._write(f"q 1 0 0 1 {_point((block.x, block.y))} cm")
        music: list[int] = []
        words: list[tuple[Text, int]] = []
        for layer in layers(block.items):
            aloud = layer.texts if layer.role in _READ_ALOUD else ()
            rest = () if aloud else layer.texts
            self._colour(layer.role)
            if layer.shapes or layer.lines or layer.glyphs or rest:
                music.append(self._begin("Figure"))
                self._drawing(layer)
                self._runs([music_run(glyph, self._typefaces) for glyph in layer.glyphs])
                self._texts(rest)
                self._write("EMC")
            for text in sorted(aloud, key=lambda text: (text.y, text.x)):
                words.append((text, self._begin("P")))
                self._texts([text])
                self._write("EMC")
        self._write("Q")
        words.sort(key=lambda row: (row[0].y, row[0].x))
        self.marks += [Marked(text.text, (number,)) for text, number in words]
        if music:
            self.marks.append(Marked(None, tuple(music)))

    def _begin(self, tag: str) -> int:
        number = self._next_mark
        self._next_mark += 1
        self._write(f"/{tag} <</MCID {number}>> BDC")
        return number

    def _colour(self, role: Role) -> None:
        parts = [f"{part / 255:.4g}" for part in channels(self._palette[role])]
        if len(set(parts)) == 1:  # one ink, not four, on a printer
            self._write(f"{parts[0]} g {parts[0]} G")
        else:
            joined = " ".join(parts)
            self._write(f"{joined} rg {joined} RG")

    def _drawing(self, layer: Layer) -> None:
        by_pen: dict[tuple[float, tuple[float, ...]], list[Line]] = {}
        for line in layer.lines:
            by_pen.setdefault((line.width, line.dash), []).append(line)
        for (width, dash), lines in by_pen.items():
            self._write(f"{_number(width)} w [{' '.join(map(_number, dash))}] 0 d")
            for line in lines:
                start, end = _point((line.x0, line.y0)), _point((line.x1, line.y1))
                self._write(f"{start} m {end} l")
            self._write("S")
        for shape in layer.shapes:
            self._write(_outline(shape))

    def _texts(self, texts: Iterable[Text]) -> None:
        self._runs([run for text in texts for run in text_runs(text, self._typefaces)])

    def _runs(self, runs: list[Run]) -> None:
        if not runs:
            return
        self._write("BT")
        current: tuple[Face, float] | None = None
        for run in runs:
            if current != (run.face, run.em):
                current = run.face, run.em
                self._write(f"/{self._fonts[run.face].name} {_number(run.em)} Tf")
            # Advances of a run are those of the font, so one place sets all its glyphs.
            self._write(f"1 0 0 -1 {_point((run.xs[0], run.y))} Tm")
            self._rows.append(self._fonts[run.face].encode(run) + b" Tj")
        self._write("ET")


def _outline(shape: Fill | Curve) -> str:
    if isinstance(shape, Fill):
        first, *others = (_point(point) for point in shape.points)
        return " ".join([first, "m", *(f"{point} l" for point in others), "h f"])
    (a, b), (c, d) = shape.outer, shape.inner
    there = f"{_point(a)} {_point(b)} {_point(shape.end)} c"
    back = f"{_point(d)} {_point(c)} {_point(shape.start)} c"
    return f"{_point(shape.start)} m {there} {back} h f"


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _point(point: tuple[float, float]) -> str:
    return f"{_number(point[0])} {_number(point[1])}"
