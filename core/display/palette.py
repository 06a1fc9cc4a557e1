"""The colours of print, one for each role."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from core.display.items import Role

Palette = Mapping[Role, str]  # "#rrggbb"

# Print must survive a black-and-white copier: what is suggested differs by its face, which layout
# chose, and by a grey that still reads (7:1 on white); everything else is black.
PRINT: Palette = MappingProxyType(
    dict.fromkeys(Role, "#000000")
    | {Role.SUGGESTED: "#595959", Role.PENCIL: "#404040", Role.BLANK: "#ffffff"}
)


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of a colour written #rrggbb."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
