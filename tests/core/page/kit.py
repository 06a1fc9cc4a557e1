"""Shared by the page tests: metrics, and finding drawn things again."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from core.display.items import Glyph, Item
from core.page.glyphs import CODES
from core.page.layout import Layout
from core.page.metrics import Metrics, build
from resources.metrics import load

NAMES = {code: name for name, code in CODES.items()}


@cache
def metrics() -> Metrics:
    return build(load())


def items(layout: Layout) -> Iterator[tuple[int, Item]]:
    """Every item of every system with the number of its system."""
    for number, system in enumerate(layout.systems):
        for item in system.body.items:
            yield number, item


def glyphs(layout: Layout, prefix: str) -> list[tuple[int, Glyph]]:
    """The glyphs whose name begins so."""
    return [
        (number, item)
        for number, item in items(layout)
        if isinstance(item, Glyph) and NAMES[item.code].startswith(prefix)
    ]
