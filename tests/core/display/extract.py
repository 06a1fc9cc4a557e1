"""What a PDF holds, read back from its operators, beside what the display list put there."""

from __future__ import annotations

import re

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from core.display.faces import music_run, text_runs
from core.display.items import Glyph, Sheet, Text
from tests.core.display.sheets import typefaces

Run = tuple[str, float, float, float]


def placed(sheet: Sheet) -> list[Run]:
    """What the display list shows: characters of each run, its place and em in spaces."""
    rows = []
    for block in sheet.blocks:
        for item in block.items:
            runs = []
            if isinstance(item, Glyph):
                runs = [music_run(item, typefaces())]
            elif isinstance(item, Text):
                runs = text_runs(item, typefaces())
            rows += [(r.chars, block.x + r.xs[0], block.y + r.y, r.em) for r in runs]
    return rows


def extracted(reader: PdfReader, space_mm: float, page: int = 0) -> list[Run]:
    """The same, read from a page's operators; each font's codes by its own map."""
    points = space_mm * 72 / 25.4
    fonts = reader.pages[page]["/Resources"]["/Font"]
    maps = {name: to_unicode(font.get_object()) for name, font in fonts.items()}
    height = float(reader.pages[page].mediabox.height)
    rows, saved, matrix, text, font, em = [], [], (1, 0, 0, 1, 0, 0), None, "", 0.0
    for operands, operator in ContentStream(reader.pages[page].get_contents(), reader).operations:
        match operator:
            case b"q":
                saved.append(matrix)
            case b"Q":
                matrix = saved.pop()
            case b"cm":
                matrix = times([float(o) for o in operands], matrix)
            case b"Tf":
                font, em = operands[0], float(operands[1])
            case b"Tm":
                text = times([float(o) for o in operands], matrix)
            case b"Tj":
                raw = operands[0].original_bytes
                codes = [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
                a, b, c, d, x, y = text
                assert (b, c) == (0, 0)
                assert a == pytest.approx(d)
                chars = "".join(maps[font][code] for code in codes)
                rows.append((chars, x / points, (height - y) / points, em * a / points))
    return rows


def times(m, n):
    a, b, c, d, e, f = m
    g, h, i, j, k, o = n
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j,
            e * g + f * i + k, e * h + f * j + o)  # fmt: skip


def to_unicode(font) -> dict[int, str]:
    text = font["/ToUnicode"].get_data().decode("ascii")
    rows = re.findall(r"<([0-9a-f]{4})> <([0-9a-f]+)>", text)
    return {int(code, 16): bytes.fromhex(char).decode("utf-16-be") for code, char in rows}
