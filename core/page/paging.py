"""Where systems stand on their pages, and what stands on a page beside the music."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property
from itertools import accumulate
from typing import Protocol

from msgspec import Struct

from core.display.items import Block, Box
from core.model import Lesson
from core.page import breaking, shape_page, titles
from core.page.breaking import PageBreaks
from core.page.draft import SystemBody
from core.page.metrics import Metrics
from core.page.shape_page import ShapePage
from core.page.style import PageStyle

SYSTEM_GAP = 3.0  # least spaces between what two systems draw
MOST_GAP = 7.0  # a page is rather left open at its foot than pulled further apart
LINE_MARGIN = 3.0
INK = 10.0  # spaces: nothing is drawn further outside a system's outline
FOOT = 3.0  # spaces kept for the footer


class Frame(Struct, frozen=True):
    """The room on paper, in spaces."""

    width: float
    height: float
    left: float
    top: float
    right: float
    bottom: float
    talk: float

    @property
    def system_left(self) -> float:
        return self.left + self.talk

    @property
    def system_width(self) -> float:
        return self.right - self.left - self.talk


def frame_of(style: PageStyle, talks: bool) -> Frame:
    """The room of a style; with a margin for talking points where there are some."""
    mm = style.space_mm
    usable = (style.width_mm - style.left_mm - style.right_mm) / mm
    talk = min(style.talk_mm / mm, usable / 4) if talks and style.talk else 0.0
    return Frame(
        style.width_mm / mm, style.height_mm / mm, style.left_mm / mm, style.top_mm / mm,
        (style.width_mm - style.right_mm) / mm, (style.height_mm - style.bottom_mm) / mm, talk,
    )  # fmt: skip


class Furniture:
    """Title block and footers, made when they are asked for and kept while their words stay."""

    def __init__(self, lesson: Lesson, frame: Frame, style: PageStyle, metrics: Metrics) -> None:
        self._lesson, self._frame = lesson, frame
        self._style, self._metrics = style, metrics
        self._footers: dict[tuple[int, int], Block] = {}

    def serves(self, lesson: Lesson, frame: Frame) -> bool:
        """Whether everything would come out the same for another snapshot."""
        own = self._lesson
        return frame == self._frame and (
            own.title == lesson.title
            and own.source == lesson.source
            and own.brief.student == lesson.brief.student
            and own.arrangement.instrument == lesson.arrangement.instrument
            and own.arrangement.key == lesson.arrangement.key
            and (not self._style.shape_sheet or self._shown == shape_page.entries(lesson))
        )

    @cached_property
    def _shown(self) -> tuple[shape_page.Entry, ...]:
        return shape_page.entries(self._lesson)

    @cached_property
    def shapes(self) -> list[ShapePage]:
        """The pages of chord shapes after the music, where the style asks for them."""
        if not self._style.shape_sheet:
            return []
        frame = self._frame
        height = frame.bottom - frame.top - (FOOT if self._style.footer else 0.0)
        left_handed = self._lesson.arrangement.instrument.hand == "left"
        width = frame.right - frame.left
        return shape_page.pages(self._shown, width, height, self._style, self._metrics, left_handed)

    def shape_block(self, number: int) -> Block:
        """One of those pages."""
        frame = self._frame
        return Block(frame.left, frame.top, self.shapes[number].items, key=2 + number)

    @cached_property
    def title(self) -> tuple[Block | None, float]:
        """The title block and its height."""
        if not self._style.title:
            return None, 0.0
        frame = self._frame
        width = frame.right - frame.left
        items, height = titles.title_block(self._lesson, self._style, width, self._metrics)
        return Block(frame.left, frame.top, tuple(items), key=1), height

    def footer(self, page: int, pages: int) -> Block:
        """The footer of a page."""
        found = self._footers.get((page, pages))
        if found is None:
            frame = self._frame
            found = self._footers[page, pages] = titles.footer(
                self._lesson, page + 1, pages, frame.left, frame.right, frame.bottom, self._metrics
            )
        return found


class Pages(Protocol):
    """Where systems stand. `tops` and `bottoms` are the outlines of the systems of a page."""

    @property
    def count(self) -> int: ...
    @property
    def width(self) -> float: ...
    @property
    def height(self) -> float: ...
    def systems(self, page: int) -> tuple[int, int]:
        """The first system of a page and the one after its last."""
        ...

    def place(self, system: int) -> tuple[int, float, float]:
        """Page, x and y of a system's origin."""
        ...

    def near(self, page: int, box: Box) -> tuple[int, int]:
        """The first system of a page whose outline comes near a rectangle and the one after
        the last."""
        ...

    def furniture(self, page: int) -> tuple[Sequence[Block], Sequence[Block]]:
        """What is drawn before and after the systems of a page."""
        ...

    def depth(self, page: int) -> float:
        """The y of the lowest outline of a page's systems; 0 where there are none."""
        ...


class Stacked:
    """Pages of systems one under the other; where they stand on a page is found when asked for."""

    def __init__(
        self, bodies: Sequence[SystemBody], breaks: PageBreaks, frame: Frame, style: PageStyle,
        furniture: Furniture, old: Stacked | None,
    ) -> None:  # fmt: skip
        self._bodies, self.breaks, self._frame = bodies, breaks, frame
        self._footed, self.outfit = style.footer, furniture
        self.width, self.height = frame.width, frame.height
        same = old is not None and old.breaks is breaks and old.outfit is furniture
        self._ends: list[int] = old._ends if same and old is not None else breaks.ends
        self._tops: dict[int, list[float]] = old._tops if same and old is not None else {}

    @property
    def count(self) -> int:
        return len(self._ends) + len(self.outfit.shapes)

    def systems(self, page: int) -> tuple[int, int]:
        if page >= len(self._ends):
            return self._ends[-1], self._ends[-1]
        return (self._ends[page - 1] if page else 0), self._ends[page]

    def place(self, system: int) -> tuple[int, float, float]:
        page = bisect_right(self._ends, system)
        top = self._page_tops(page)[system - self.systems(page)[0]]
        return page, self._frame.system_left, top - self._bodies[system].top

    def near(self, page: int, box: Box) -> tuple[int, int]:
        first, last = self.systems(page)
        tops = self._page_tops(page) if first < last else []
        begin = max(bisect_right(tops, box.top - INK) - 1, 0)
        return first + begin, min(first + bisect_right(tops, box.bottom + INK), last)

    def furniture(self, page: int) -> tuple[Sequence[Block], Sequence[Block]]:
        title = self.outfit.title[0] if page == 0 else None
        if page >= len(self._ends):
            title = self.outfit.shape_block(page - len(self._ends))
        footer = (self.outfit.footer(page, self.count),) if self._footed else ()
        return ((title,) if title is not None and title.items else ()), footer

    def depth(self, page: int) -> float:
        if page >= len(self._ends):
            return self._frame.top + self.outfit.shapes[page - len(self._ends)].depth
        last = self.systems(page)[1] - 1
        return self._page_tops(page)[-1] + self.breaks.heights[last]

    def _page_tops(self, page: int) -> list[float]:
        """The y of the upper outline of each system of a page."""
        found = self._tops.get(page)
        if found is None:
            first, last = self.systems(page)
            above = self.outfit.title[1] if page == 0 else 0.0
            row = self.breaks.heights[first:last]
            gap = _page_gap(row, self.breaks.room - above, last == len(self._bodies))
            steps = [height + gap for height in row[:-1]]
            found = list(accumulate(steps, initial=self._frame.top + above))
            self._tops[page] = found
        return found


class LongLine:
    """One sheet with all systems side by side as pieces of one line."""

    count = 1

    def __init__(self, bodies: Sequence[SystemBody]) -> None:
        self._top = LINE_MARGIN - min([body.top for body in bodies])
        self._bottom = self._top + max([body.bottom for body in bodies])
        self._lefts = list(accumulate([body.width for body in bodies], initial=LINE_MARGIN))
        self.width = self._lefts.pop() + LINE_MARGIN
        self.height = self._bottom + LINE_MARGIN

    def systems(self, page: int) -> tuple[int, int]:
        return 0, len(self._lefts)

    def place(self, system: int) -> tuple[int, float, float]:
        return 0, self._lefts[system], self._top

    def near(self, page: int, box: Box) -> tuple[int, int]:
        begin = max(bisect_right(self._lefts, box.left - INK) - 1, 0)
        return begin, bisect_right(self._lefts, box.right + INK)

    def furniture(self, page: int) -> tuple[Sequence[Block], Sequence[Block]]:
        return (), ()

    def depth(self, page: int) -> float:
        return self._bottom


class Blank:
    """One page without music."""

    count = 1

    def __init__(self, frame: Frame) -> None:
        self.width, self.height = max(frame.width, 20.0), max(frame.height, 20.0)

    def systems(self, page: int) -> tuple[int, int]:
        return 0, 0

    def place(self, system: int) -> tuple[int, float, float]:
        raise IndexError(system)

    def near(self, page: int, box: Box) -> tuple[int, int]:
        return 0, 0

    def furniture(self, page: int) -> tuple[Sequence[Block], Sequence[Block]]:
        return (), ()

    def depth(self, page: int) -> float:
        return 0.0


def stacked(
    lesson: Lesson, bodies: Sequence[SystemBody], costs: list[float], frame: Frame,
    style: PageStyle, metrics: Metrics, old: Pages | None,
) -> Stacked:  # fmt: skip
    """Systems on pages; `costs` is that of turning the page after each of them."""
    before = old if isinstance(old, Stacked) else None
    if before is not None and before.outfit.serves(lesson, frame):
        furniture = before.outfit
    else:
        furniture = Furniture(lesson, frame, style, metrics)
    room = frame.bottom - frame.top - (FOOT if style.footer else 0.0)
    heights = [body.bottom - body.top for body in bodies]
    breaks = breaking.break_pages(
        heights, room - furniture.title[1], room, SYSTEM_GAP, costs,
        before.breaks if before is not None else None,
    )  # fmt: skip
    return Stacked(bodies, breaks, frame, style, furniture, before)


def _page_gap(heights: Sequence[float], room: float, final: bool) -> float:
    """The space between the systems of a page; the last page is not pulled apart."""
    if len(heights) < 2:
        return SYSTEM_GAP
    even = (room - sum(heights)) / (len(heights) - 1)
    most = SYSTEM_GAP if final else MOST_GAP
    return max(SYSTEM_GAP, min(even, most))
