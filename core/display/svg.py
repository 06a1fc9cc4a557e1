"""Replays a sheet as SVG 1.1: every glyph an outline, so that it needs no installed font."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from core.display.faces import Run, music_run, text_runs
from core.display.items import Curve, Face, Fill, Line, Role, Sheet
from core.display.layers import Layer, layers
from core.display.outlines import Outlines
from core.display.palette import PRINT, Palette


def to_svg(
    sheet: Sheet,
    px_per_space: float,
    outlines: Outlines,
    palette: Palette = PRINT,
    title: str = "",
) -> str:
    """Write a sheet as an SVG document, the same text for the same input.

    User units are spaces; width and height are given in pixels. `title` becomes the name that a
    screen reader says. The colour of BLANK is laid under all.
    """
    used: dict[tuple[Face, int], None] = {}
    body = list(_blocks(sheet, outlines, palette, used))
    width, height = _number(sheet.width), _number(sheet.height)
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'version="1.1" role="img" width="{_number(sheet.width * px_per_space)}" '
        f'height="{_number(sheet.height * px_per_space)}" viewBox="0 0 {width} {height}">'
    ]
    if title:
        lines.append(f"<title>{escape(title)}</title>")
    lines.append("<defs>")
    lines += [f'<path id="{_id(*key)}" d="{outlines.path(*key)}"/>' for key in sorted(used)]
    lines.append("</defs>")
    lines.append(f'<rect width="{width}" height="{height}" fill="{palette[Role.BLANK]}"/>')
    return "\n".join([*lines, *body, "</svg>"]) + "\n"


def _blocks(
    sheet: Sheet, outlines: Outlines, palette: Palette, used: dict[tuple[Face, int], None]
) -> Iterator[str]:
    for block in sheet.blocks:
        yield f'<g transform="translate({_number(block.x)} {_number(block.y)})">'
        for layer in layers(block.items):
            colour = palette[layer.role]
            yield f'<g class="{layer.role.value}" fill="{colour}" stroke="none">'
            yield from (_line(line, colour) for line in layer.lines)
            yield from (_shape(shape) for shape in layer.shapes)
            yield from _glyphs(layer, outlines, used)
            yield "</g>"
        yield "</g>"


def _line(line: Line, colour: str) -> str:
    dash = f' stroke-dasharray="{" ".join(map(_number, line.dash))}"' if line.dash else ""
    return (
        f'<line x1="{_number(line.x0)}" y1="{_number(line.y0)}" x2="{_number(line.x1)}" '
        f'y2="{_number(line.y1)}" stroke="{colour}" stroke-width="{_number(line.width)}"{dash}/>'
    )


def _shape(shape: Fill | Curve) -> str:
    if isinstance(shape, Fill):
        return f'<polygon points="{" ".join(_point(p) for p in shape.points)}"/>'
    (a, b), (c, d) = shape.outer, shape.inner
    there = f"C{_point(a)} {_point(b)} {_point(shape.end)}"
    back = f"C{_point(d)} {_point(c)} {_point(shape.start)}"
    return f'<path d="M{_point(shape.start)}{there}{back}Z"/>'


def _glyphs(layer: Layer, outlines: Outlines, used: dict[tuple[Face, int], None]) -> Iterator[str]:
    typefaces = outlines.typefaces
    runs: list[Run] = [music_run(glyph, typefaces) for glyph in layer.glyphs]
    for text in layer.texts:
        runs.extend(text_runs(text, typefaces))
    for run in runs:
        scale = f"{run.em / typefaces[run.face].units_per_em:.7g}"
        for x, glyph in zip(run.xs, run.glyphs, strict=True):
            if outlines.path(run.face, glyph):
                used[run.face, glyph] = None
                place = f"translate({_number(x)} {_number(run.y)}) scale({scale})"
                yield f'<use xlink:href="#{_id(run.face, glyph)}" transform="{place}"/>'


def _id(face: Face, glyph: int) -> str:
    return f"{face.value.replace(' ', '-')}-{glyph}"


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _point(point: tuple[float, float]) -> str:
    return f"{_number(point[0])},{_number(point[1])}"
