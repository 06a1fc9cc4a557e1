"""Which shipped font file stands for which face of a display list."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

from resources import path

# The keys are the values of `core.display.items.Face`. Figures of every text file are lining and
# tabular by default, so nothing has to be switched on for columns to stand.
FILES = MappingProxyType(
    {
        "music": "Bravura.otf",
        "serif": "SourceSerif4-Regular.ttf",
        "serif bold": "SourceSerif4-Bold.ttf",
        "serif italic": "SourceSerif4-It.ttf",
        "sans": "SourceSans3-Regular.ttf",
        "sans bold": "SourceSans3-Semibold.ttf",
    }
)


def paths() -> dict[str, Path]:
    """The font file of every face."""
    return {face: path("fonts", name) for face, name in FILES.items()}


def data() -> dict[str, bytes]:
    """The bytes of the font file of every face (about 1.9 MB, read from disk at each call)."""
    return {face: file.read_bytes() for face, file in paths().items()}
