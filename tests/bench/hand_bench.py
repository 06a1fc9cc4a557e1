"""Quick places for a long piece."""

from __future__ import annotations

from collections.abc import Iterator

from core.hand.places import suggest
from tests import build
from tests.bench.row import Row, median

ONSETS = 1000


def rows() -> Iterator[Row]:
    row = "C4:quarter E4+G4:quarter D4:quarter F4:quarter | C3:half G2:half"
    arrangement = build.lesson([row] * (ONSETS // 4)).arrangement
    figure = 1e3 * median(lambda: suggest(arrangement), times=3)
    yield Row("hand.quick-places", f"{ONSETS} onsets", figure, "ms", 1000)
