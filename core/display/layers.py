"""The items of a block sorted for drawing: by role, then by kind.

Roles are layers: staff lines lie lowest, then the paper behind tab figures, then all else. Inside
a layer everything has one opaque colour, so its order cannot be seen and like things may be drawn
together.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from core.display.items import Curve, Fill, Glyph, Item, Line, Role, Text

ORDER = (
    Role.STAFF,
    Role.BLANK,
    *(role for role in Role if role not in (Role.STAFF, Role.BLANK)),
)


class Layer(Struct, frozen=True):
    """What a block shows in one role."""

    role: Role
    shapes: tuple[Fill | Curve, ...]
    lines: tuple[Line, ...]
    glyphs: tuple[Glyph, ...]
    texts: tuple[Text, ...]


def layers(items: Iterable[Item]) -> tuple[Layer, ...]:
    """Sort items into layers, lowest first; roles that do not occur are left out."""
    by_role: dict[Role, list[Item]] = {}
    for item in items:
        by_role.setdefault(item.role, []).append(item)
    return tuple(_layer(role, by_role[role]) for role in ORDER if role in by_role)


def _layer(role: Role, items: list[Item]) -> Layer:
    return Layer(
        role,
        tuple(item for item in items if isinstance(item, Fill | Curve)),
        tuple(item for item in items if isinstance(item, Line)),
        tuple(item for item in items if isinstance(item, Glyph)),
        tuple(item for item in items if isinstance(item, Text)),
    )
