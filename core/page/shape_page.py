"""The sheet of chord shapes at the end of a handout: every shape the lesson shows, in the order of
first use, with its name, its fingers and the measures that show it."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from msgspec import Struct

from core.display.items import Face, Item
from core.model import ChordShape, Lesson, walk
from core.model.shapes import shape_sheet
from core.page import frames, pen, rows
from core.page.metrics import Metrics
from core.page.style import PageStyle

TITLE = "Chord shapes"
TITLE_SIZE = 2.8
TITLE_ROOM = 6.0
SIZE = 2.1  # of a frame, against those over the music
WORDS_SIZE = 1.6  # em of the words under a frame
LEAST_CELL = 21.0  # spaces from frame to frame
BETWEEN = 2.5  # spaces between rows


class Entry(Struct, frozen=True):
    """A shape and where it is shown, in words."""

    shape: ChordShape
    where: str


class ShapePage(Struct, frozen=True):
    """One page: items about the upper left corner of the print area, and how far they reach."""

    items: tuple[Item, ...]
    depth: float


def entries(lesson: Lesson) -> tuple[Entry, ...]:
    """The shapes of a lesson."""
    numbers = walk.numbers(lesson.arrangement)
    return tuple(
        Entry(use.shape, where_words([numbers[i] for i in use.measures]))
        for use in shape_sheet(lesson.arrangement)
    )


def where_words(numbers: Sequence[int]) -> str:
    """``measure 4``, ``measures 1, 3–5``, ``the pickup, measure 2``."""
    counted = sorted({number for number in numbers if number})
    runs = [
        [number for _, number in run]
        for _, run in groupby(enumerate(counted), lambda pair: pair[1] - pair[0])
    ]
    listed = ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)
    words = f"measure{'s' if len(counted) > 1 else ''} {listed}" if counted else ""
    pickup = "the pickup" if 0 in numbers else ""
    return ", ".join(part for part in (pickup, words) if part)


def pages(
    shown: Sequence[Entry], width: float, height: float, style: PageStyle, m: Metrics,
    left_handed: bool,
) -> list[ShapePage]:  # fmt: skip
    """The shapes on as many pages of that print area as they need, row by row; none for none.
    For left-handed players the thinnest string stands at the left."""
    size = SIZE * style.sign_size
    widest = max((frames.size(entry.shape)[0] for entry in shown), default=0.0) * size
    columns = max(1, int(width / max(LEAST_CELL * style.sign_size, widest + 3)))
    cell = width / columns
    made: list[ShapePage] = []
    items: list[Item] = []
    y = 0.0
    for first in range(0, len(shown), columns):
        row = shown[first : first + columns]
        words = [_wrapped(m, entry.where, cell - 2.5, style) for entry in row]
        tall = max(frames.size(entry.shape)[1] for entry in row) * size
        need = tall + max(map(len, words)) * 1.2 * WORDS_SIZE * style.sign_size
        if not items or y + need > height:
            if items:
                made.append(ShapePage(tuple(items), y))
            items = [pen.text(m, TITLE, Face.SERIF_BOLD, TITLE_SIZE, width / 2, 3.0, anchor=0.5)]
            y = TITLE_ROOM
        for place, (entry, lines) in enumerate(zip(row, words, strict=True)):
            middle = (place + 0.5) * cell
            items += _entry(m, entry, lines, middle, y, tall, style, left_handed)
        y += need + BETWEEN
    return [*made, ShapePage(tuple(items), y)] if items else made


def _wrapped(m: Metrics, words: str, room: float, style: PageStyle) -> list[str]:
    return rows.wrapped(m, words, Face.SERIF_ITALIC, WORDS_SIZE * style.sign_size, room)


def _entry(
    m: Metrics, entry: Entry, lines: Sequence[str], middle: float, y: float, tall: float,
    style: PageStyle, left_handed: bool,
) -> list[Item]:  # fmt: skip
    """A frame about `middle` with its words under it; frames of a row hang from one line."""
    size = SIZE * style.sign_size
    count = len(entry.shape.frets)
    left = middle - (1.1 + (count - 1) * frames.STRING_GAP / 2) * size
    drawn = frames.draw(m, entry.shape, 0.0, 0.0, left_handed=left_handed)
    items = [pen.scaled(item, size, left, y) for item in drawn]
    em = WORDS_SIZE * style.sign_size
    for number, line in enumerate(lines):
        at = y + tall + (number + 0.95) * 1.2 * em
        items.append(pen.text(m, line, Face.SERIF_ITALIC, em, middle, at, anchor=0.5))
    return items
