"""Every law complains of a page that breaks it: a drawn lesson, spoiled in one place at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

import pytest
from msgspec import structs

from core.display.items import Curve, Glyph, Item, Line, Role, Text
from core.model import Dynamic, Lesson
from core.page import pen
from core.page.layout import Layout
from tests import build
from tests.core.page.cases import changed, marked, with_spans
from tests.core.page.kit import NAMES
from tests.core.page.laws import LAWS, broken
from tests.core.page.styles import Drawn, draw

Spoil = Callable[[Sequence[Item]], list[Item]]


class Over:
    """An object with some of its attributes replaced."""

    def __init__(self, under: Any, **fields: Any) -> None:
        self.__dict__.update(fields)
        self.under = under

    def __getattr__(self, name: str) -> Any:
        return getattr(self.under, name)


def lesson() -> Lesson:
    made = build.lesson([
        "F#4s1f2:eighth E4s1f0:eighth C4s2f1:quarter A3s3f2!2:half~ | E2s6f0:half A2s5f0:half",
        "A3s3f2:quarter C5s1f8:quarter B3s2f0:half | E2s6f0:whole",
    ])  # fmt: skip
    made = changed(made, {0: marked(Dynamic("p"))})
    return with_spans(made, ("slur", 0, 3, {}))


def drawn() -> Drawn:
    return draw(lesson(), "a4")


def spoiled(page: Drawn, spoil: Spoil, **fields: Any) -> Drawn:
    """The page with the items of its first system spoiled."""
    first, *others = page.layout.systems
    body = Over(first.body, items=tuple(spoil(first.body.items)), **fields)
    systems = (Over(first, body=body), *others)
    return structs.replace(page, layout=cast(Layout, Over(page.layout, systems=systems)))


def is_glyph(prefix: str) -> Callable[[Item], bool]:
    return lambda item: isinstance(item, Glyph) and NAMES[item.code].startswith(prefix)


def is_figure(item: Item) -> bool:
    return isinstance(item, Text) and item.role is Role.FIGURE


def is_stem(item: Item) -> bool:
    return isinstance(item, Line) and item.role is Role.INK and item.x0 == item.x1


def is_leger(item: Item) -> bool:
    return isinstance(item, Line) and item.role is Role.STAFF and 0 < item.x1 - item.x0 < 3


def is_tie(item: Item) -> bool:
    return isinstance(item, Curve) and item.start[1] == item.end[1]


def is_slur(item: Item) -> bool:
    return isinstance(item, Curve) and item.source == lesson().arrangement.spans[0].id


def change(which: Callable[[Item], bool], how: Callable[[Item], Item | None]) -> Spoil:
    """Change (or with None take away) the first item of a kind."""

    def spoil(items: Sequence[Item]) -> list[Item]:
        at = next(n for n, item in enumerate(items) if which(item))
        new = how(items[at])
        return [*items[:at], *([] if new is None else [new]), *items[at + 1 :]]

    return spoil


def move(dx: float, dy: float) -> Callable[[Item], Item]:
    return lambda item: pen.moved(item, dx, dy)


def gone(_item: Item) -> None:
    return None


def put(**fields: Any) -> Callable[[Item], Item]:
    return lambda item: structs.replace(item, **fields)


def on_a_head(items: Sequence[Item]) -> list[Item]:
    """The dynamic stands on a notehead."""
    head = next(item for item in items if is_glyph("notehead")(item))
    return change(is_glyph("dynamic"), put(x=head.x, y=head.y))(items)  # type: ignore[union-attr]


def flat(item: Item) -> Item:
    """A slur straight from end to end."""
    assert isinstance(item, Curve)
    y = max(item.start[1], item.end[1]) + 1.5
    ends = {"start": (item.start[0], y), "end": (item.end[0], y)}
    row = tuple((x, y) for x, _ in item.outer)
    return structs.replace(item, outer=row, inner=row, **ends)


def twice(which: Callable[[Item], bool]) -> Spoil:
    return lambda items: [*items, *[pen.moved(i, 0.0, 1.5) for i in items if which(i)][:1]]


def away(items: Sequence[Item]) -> list[Item]:
    """Nothing of the first note is drawn, nor of its event."""
    source = next(item for item in items if is_glyph("notehead")(item)).source
    return [item for item in items if item.source not in (source, source - 1)]


SPOILS: list[tuple[int, str, Spoil]] = [
    (1, "a dynamic on a head", on_a_head),
    (1, "an accidental nearer by .35", change(is_glyph("accidental"), move(0.35, 0.0))),
    (2, "a figure .06 aside", change(is_figure, move(0.06, 0.0))),
    (2, "a figure .03 low", change(is_figure, move(0.0, 0.03))),
    (2, "a figure missing", change(is_figure, gone)),
    (3, "a head .001 aside", change(is_glyph("notehead"), move(0.001, 0.0))),
    (6, "a stem .002 aside", change(is_stem, move(0.002, 0.0))),
    (6, "a stem cut", change(is_stem, lambda i: structs.replace(i, y1=i.y0 - 2.4))),  # type: ignore[union-attr]
    (7, "a leger line missing", change(is_leger, gone)),
    (7, "a leger line too many", twice(is_leger)),
    (7, "a short leger line", change(is_leger, lambda i: structs.replace(i, x1=i.x1 - 0.1))),  # type: ignore[union-attr]
    (8, "a head a step too high", change(is_glyph("notehead"), move(0.0, -0.5))),
    (8, "a sharp missing", change(is_glyph("accidentalSharp"), gone)),
    (8, "another fret", change(is_figure, put(text="7"))),
    (8, "a figure a string lower", change(is_figure, move(0.0, 1.5))),
    (9, "a tie that falls", change(is_tie, lambda i: structs.replace(i, end=(i.end[0], 9.0)))),  # type: ignore[union-attr]
    (9, "a tie that is short", change(is_tie, lambda i: structs.replace(i, end=i.start))),  # type: ignore[union-attr]
    (9, "a tie missing", change(is_tie, gone)),
    (9, "a slur through heads", change(is_slur, flat)),
    (10, "a head off the paper", change(is_glyph("notehead"), move(500.0, 0.0))),
    (10, "a head out of its system", change(is_glyph("notehead"), move(0.0, -40.0))),
    (11, "a note forgotten", away),
]


def test_the_page_is_sound_before_it_is_spoiled() -> None:
    assert broken(drawn()) == []


@pytest.mark.parametrize(("law", "what", "spoil"), SPOILS, ids=[what for _, what, _ in SPOILS])
def test_a_law_sees(law: int, what: str, spoil: Spoil) -> None:
    assert list(LAWS[law](spoiled(drawn(), spoil))), what


def _moved_column(page: Drawn) -> dict[str, Any]:
    """The measures of the first system with its second column .001 aside."""
    first, *others = page.layout.systems[0].body.measures
    (a, b, *more) = first.columns
    columns = (a, (b[0], b[1] + 0.001), *more)
    return {"measures": (structs.replace(first, columns=columns), *others)}


@pytest.mark.parametrize(
    ("law", "fields"),
    [
        (4, _moved_column),
        (4, lambda page: {"force": page.layout.systems[0].body.force * 1.001}),
        (5, lambda page: {"width": page.layout.systems[0].body.width + 1e-5}),
        (10, lambda page: {"bottom": 8.0}),
    ],
    ids=["a column aside", "another force", "a width that is not filled", "too little room"],
)
def test_a_law_sees_other_values(law: int, fields: Callable[[Drawn], dict[str, Any]]) -> None:
    page = drawn()
    assert list(LAWS[law](spoiled(page, list, **fields(page))))


def test_systems_that_meet_are_seen() -> None:
    page = draw(build.lesson(["E4s1f0:whole"] * 30), "a4")
    first, second, *others = page.layout.systems
    near = Over(second, y=first.y + 1.0)
    layout = Over(page.layout, systems=(first, near, *others))
    assert list(LAWS[10](structs.replace(page, layout=cast(Layout, layout))))


def test_a_moment_that_is_not_found_is_seen() -> None:
    page = drawn()
    layout = Over(page.layout, hit=lambda *_: None)
    assert list(LAWS[-11](structs.replace(page, layout=cast(Layout, layout))))
