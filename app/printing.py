"""The shipped fonts as the kit needs them: read when something is to be printed, not before."""

from __future__ import annotations

import resources.faces
import resources.metrics
from core.kit.make import Press
from core.page.metrics import build
from core.page.style import A4, PageStyle


def press(style: PageStyle = A4) -> Press:
    """Font measures, font files and paper for `core.kit`."""
    return Press(build(resources.metrics.load()), resources.faces.data(), style)
