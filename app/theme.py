"""The look of the bench as values: a light and a dark set of tokens, and the roles' colours."""

from __future__ import annotations

from types import MappingProxyType

from msgspec import Struct

from core.display.items import Role
from core.display.palette import Palette


class Theme(Struct, frozen=True):
    """One set of tokens; every colour is "#rrggbb".

    Text may stand on `ground`, `paper` and `panel` in ink, pencil, accent, suggestion, warning and
    error, on `accent` in `on_accent`, and on a section's tint in ink and pencil; each such pair
    has a contrast of at least 4.5:1 (WCAG 2.2, success criterion 1.4.3), which a test holds.
    Staff and tab lines are a shade softer than the notes on them.
    """

    name: str
    ground: str
    paper: str
    panel: str
    ink: str
    staff: str
    pencil: str
    hairline: str
    accent: str
    on_accent: str
    suggestion: str
    warning: str
    error: str
    sections: tuple[str, ...]

    @property
    def palette(self) -> Palette:
        """The colours of display roles on the screen's paper."""
        return MappingProxyType(
            dict.fromkeys(Role, self.ink)
            | {
                Role.STAFF: self.staff,
                Role.SUGGESTED: self.suggestion,
                Role.PENCIL: self.pencil,
                Role.WARNING: self.warning,
                Role.BLANK: self.paper,
            }
        )


LIGHT = Theme(
    name="light",
    ground="#ece7de",
    paper="#fffdf8",
    panel="#f6f2ea",
    ink="#211c16",
    staff="#5a5249",
    pencil="#6a5f52",
    hairline="#cfc6b8",
    accent="#0f5c6e",
    on_accent="#fffdf8",
    suggestion="#5b5f97",
    warning="#8a5a00",
    error="#a3242b",
    sections=("#d9e6e2", "#f0e2c4", "#e4dbea"),
)

DARK = Theme(
    name="dark",
    ground="#1d1f21",
    paper="#26282b",
    panel="#2b2e31",
    ink="#efeae0",
    staff="#a8a297",
    pencil="#b3a897",
    hairline="#45474a",
    accent="#6cc3d5",
    on_accent="#1d1f21",
    suggestion="#b3b5ee",
    warning="#e0b15a",
    error="#f08a8a",
    sections=("#2b423e", "#463d25", "#3e3749"),
)

THEMES = (LIGHT, DARK)


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def luminance(colour: str) -> float:
    """The relative luminance of a colour, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
