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
    by_role: dict[Role, tuple[list[Fill | Curve], list[Line], list[Glyph], list[Text]]] = {}
    for item in items:
        rows = by_role.get(item.role)
        if rows is None:
            rows = by_role[item.role] = ([], [], [], [])
        match item:
            case Glyph():
                rows[2].append(item)
            case Line():
                rows[1].append(item)
            case Text():
                rows[3].append(item)
            case _:
                rows[0].append(item)
    return tuple(
        Layer(role, *(tuple(row) for row in by_role[role]))  # type: ignore[arg-type]
        for role in ORDER
        if role in by_role
    )
