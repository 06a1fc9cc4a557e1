"""Display lists as readable text, beside ``tests/goldens/page``.

``FOOTSTOOL_GOLDENS=write`` writes them anew; look at the pictures before committing them.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from core.display.golden import as_text
from core.model import Lesson
from core.page.engrave import engrave
from core.page.style import PageStyle
from tests import build
from tests.core.page.cases import CASES
from tests.core.page.kit import NAMES, metrics

FOLDER = Path(__file__).parents[2] / "goldens" / "page"


def two_voices() -> Lesson:
    return build.lesson(
        ["A3s3f2!2:eighth C4s2f1!1:eighth E4s1f0:eighth G#3s3f1!1:quarter. | A2s5f0:half."],
        metre="6/8", key="A minor", title="",
    )  # fmt: skip


@pytest.mark.parametrize("name", ["two_voices", *CASES])
def test_golden(name: str) -> None:
    lesson = two_voices() if name == "two_voices" else CASES[name]()
    style = PageStyle(title=False, footer=False)
    text = as_text(engrave(lesson, style, metrics()).sheets[0], NAMES)
    file = FOLDER / f"{name}.txt"
    if os.environ.get("FOOTSTOOL_GOLDENS") == "write":
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
    assert text == file.read_text("utf-8")
