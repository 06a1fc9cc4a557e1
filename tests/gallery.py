"""Pictures of the demo and of the hard cases: ``python -m tests.gallery FOLDER [--px N]``.

The same cases stand as readable display lists in ``tests/goldens/page``.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from app.raster import Raster
from core.display.items import Sheet
from core.formats import lesson_json
from core.model import Lesson
from core.page.engrave import engrave
from core.page.strip import strip
from core.page.style import A4, PageStyle
from resources import path
from tests.core.page.cases import CASES, raised
from tests.core.page.kit import metrics
from tests.core.page.styles import STYLES, draw


def demo() -> Lesson:
    return lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())


def pictures() -> Iterator[tuple[str, Sheet]]:
    """Names and sheets: every case as cropped paper, and as tab alone; the demo in every style;
    one strip."""
    for suffix, staves in (("", "staff and tab"), ("-tab", "tab")):
        small = PageStyle(height_mm=120, title=False, footer=False, staves=staves)
        for name, case in CASES.items():
            for number, sheet in enumerate(engrave(case(), small, metrics()).sheets, start=1):
                yield f"case-{name}{suffix}-{number}", sheet
    for name in STYLES:
        if name != "strip":
            for number, sheet in enumerate(draw(demo(), name).layout.sheets, start=1):
                yield f"demo-{name.replace(' ', '-')}-{number}", sheet
    for number, sheet in enumerate(engrave(raised(demo(), 2), A4, metrics()).sheets, start=1):
        yield f"demo-capo-{number}", sheet
    row = demo().arrangement.sections[1].measures
    yield "demo-strip", strip(demo(), row[0].id, row[3].id, PageStyle(), metrics()).sheets[0]


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.gallery", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--px", type=float, default=10.0, help="pixels in one staff space")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    raster = Raster()
    for name, sheet in pictures():
        picture = options.folder / f"{name}.png"
        picture.write_bytes(raster.png(sheet, options.px, transparent=name == "demo-strip"))
        print(picture)
    return 0


if __name__ == "__main__":
    sys.exit(main())
