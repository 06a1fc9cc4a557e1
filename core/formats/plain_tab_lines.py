"""Plain-text tab as lines: which lines are strings, what stands above and below them, columns."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise, starmap

from msgspec import Struct

from core.formats.plain_tab_signs import HAND, Beat, beats, lengths
from core.model import BadInput

FEWEST_LINES = 4
DASHES = str.maketrans(dict.fromkeys("‐‑‒–—―─━", "-") | dict.fromkeys("│┃¦∣", "|") | {"\ufeff": ""})
NAME = re.compile(r"\s*(?:[A-Ga-g][#b]?(?:'|\d(?=[\s|:]))?(?![a-z#]))?")
OF_TAB = frozenset("-|:*0123456789")
FIGURE = re.compile(r"\((?P<tied>[0-9]{1,2})\)|<(?P<touched>[0-9]{1,2})>|(?P<fret>[0-9]{1,2})|[xX]")
STROKES = re.compile(r"[:*]*\|[|:*]*")
FINGERS = re.compile(r"[0-4T.]")
LETTER_SIGNS = re.compile(r"[hpbrstv/\\~^]", re.IGNORECASE)


class Figure(Struct, frozen=True):
    """What stands on a string: a fret, where in the text, and how it is written."""

    start: int
    end: int
    string: int
    fret: int
    how: str = ""  # "tied", "touched" or "dead"


class Column(Struct):
    """Figures that stand under each other, from string 1 down."""

    start: int
    end: int
    figures: list[Figure]


class Bar(Struct, frozen=True):
    """One measure as it stands in the text, from one stroke to the next."""

    begin: int
    end: int
    columns: tuple[Column, ...]


class System(Struct, frozen=True):
    """Lines of strings that stand together, what stands around them, and their measures.

    `line` is the number of the first in the text. `values` has the letters of each voice, the
    upper first; `lengths` the metres; `hands` the lines of fingers, each by character.
    """

    line: int
    names: tuple[str, ...]
    bars: tuple[Bar, ...]
    values: tuple[tuple[Beat, ...], ...]
    lengths: tuple[tuple[int, str], ...]
    hands: tuple[dict[int, str], ...]
    signs: bool


class _Line(Struct, frozen=True):
    """A line of the text: its number from 1, what it says, and for one of a string its name and
    what stands there (the name blanked, so that characters keep their place)."""

    number: int
    text: str
    name: str = ""
    body: str = ""


def systems(text: str, strings: int) -> Iterator[System]:
    """The systems of a text from top to bottom; raises BadInput, naming the line."""
    gap: list[_Line] = []
    block: list[_Line] = []
    before: list[_Line] = []
    found: list[tuple[list[_Line], list[_Line]]] = []
    for line in starmap(_line, enumerate(text.splitlines(), 1)):
        if line.body:
            if not block:
                before, gap = gap, []
            block.append(line)
        else:
            if block:
                found += _blocks(before, block, strings)
                block = []
            gap.append(line)
    if block:
        found += _blocks(before, block, strings)
        gap = []
    for index, (above, lines) in enumerate(found):
        after = found[index + 1][0] if index + 1 < len(found) else gap
        yield _system(above, lines, after, last=index + 1 == len(found))


def _line(number: int, raw: str) -> _Line:
    text = raw.translate(DASHES).expandtabs().rstrip()
    found = NAME.match(text)
    begin = found.end() if found is not None else 0
    body = " " * begin + text[begin:]
    bar = body.rfind("|")
    if bar > 0 and "-" not in body[bar:]:
        body = body[: bar + 1]  # words behind the last bar: "x2"
    solid = [letter for letter in body if letter != " "]
    tab = body.count("-") >= 2 and sum(s in OF_TAB for s in solid) >= 0.6 * len(solid)
    return _Line(number, text, text[:begin].strip(), body) if tab else _Line(number, text)


def _blocks(
    above: list[_Line], block: list[_Line], strings: int
) -> Iterator[tuple[list[_Line], list[_Line]]]:
    """Lines that stand together as systems, each with the lines above it; fewer than four are
    rulers of the text."""
    named = [line for line in block if line.name]
    if len(block) != strings and len(named) == strings:
        block = named
    if len(block) < FEWEST_LINES:
        return
    if len(block) % strings:
        raise BadInput(
            f"Line {block[0].number}: {len(block)} lines of tab stand together, but the guitar "
            f"has {strings} strings; write a line for each string."
        )
    for index in range(0, len(block), strings):
        yield (above if index == 0 else []), block[index : index + strings]


def _around(above: Sequence[_Line], after: Sequence[_Line], last: bool) -> tuple[
    list[_Line], list[_Line]
]:  # fmt: skip
    """Of the lines before and after a system those that are its own."""
    own: list[_Line] = []
    for line in reversed(above):
        if not line.text.strip():
            break
        own.insert(0, line)
    below: list[_Line] = []
    for line in after:
        if not line.text.strip():
            return own, below
        below.append(line)
    if last:
        return own, below
    # No empty line parts it from the next system: the last letters are the next one's.
    letters = [index for index, line in enumerate(below) if beats(line.text) is not None]
    return own, [
        line
        for index, line in enumerate(below)
        if index not in letters[-1:] and lengths(line.text) is None
    ]


def _system(
    above: Sequence[_Line], lines: Sequence[_Line], after: Sequence[_Line], last: bool
) -> System:
    over, under = _around(above, after, last)
    # Lines below the system above are not this one's, where no empty line parts them.
    over = [line for line in over if not line.text.startswith(HAND)]
    bars = tuple(_bars([line.body for line in lines]))
    letters = [found for line in over if (found := beats(line.text)) is not None][-1:]
    letters += [found for line in under if (found := beats(line.text)) is not None]
    metres = [row for line in over if (row := lengths(line.text)) is not None]
    hands = [_hand(line.text) for line in under if line.text.startswith(HAND)]
    return System(
        lines[0].number,
        tuple(line.name for line in lines),
        bars,
        tuple(letters) if _meant(letters, bars) else (),
        tuple(metres[-1]) if metres else (),
        tuple(hands),
        any(LETTER_SIGNS.search(line.body) for line in lines),
    )


def _meant(letters: Sequence[Sequence[Beat]], bars: Sequence[Bar]) -> bool:
    """Whether letters are values, not names of chords such as E: the bench's keys that name no
    chord are among them, or half of the columns have one."""
    found = [beat for row in letters for beat in row]
    columns = sum(len(bar.columns) for bar in bars)
    sure = any(beat.value.base.value not in ("eighth", "breve") or beat.rest for beat in found)
    return sure or 2 * len(found) >= max(1, columns)


def _hand(text: str) -> dict[int, str]:
    line = text.replace(HAND, "  ", 1)
    return {found.start(): found[0] for found in FINGERS.finditer(line) if found[0] != "."}


def _bars(lines: Sequence[str]) -> Iterator[Bar]:
    """The measures between bar strokes, which stand where the first line has them."""
    width = max(map(len, lines))
    strokes = [found.span() for found in STROKES.finditer(lines[0])]
    edges = [(0, 0), *strokes, (width, width)]
    for (_, begin), (end, _) in pairwise(edges):
        if any("-" in line[begin:end] for line in lines):
            inner = min(
                len(line[begin:end]) - len(line[begin:end].lstrip())
                for line in lines
                if line[begin:end].strip()
            )
            yield Bar(begin + inner, end, tuple(_columns(lines, begin + inner, end)))


def _columns(lines: Sequence[str], begin: int, end: int) -> list[Column]:
    """Figures that overlap in the text stand in one column: ``12`` over ``3`` set right."""
    figures = sorted(
        (found.start(), string, found)
        for string, line in enumerate(lines, 1)
        for found in FIGURE.finditer(line, begin, end)
    )
    columns: list[Column] = []
    for start, string, found in figures:
        figure = _figure(start, string, found)
        last = columns[-1] if columns else None
        if last and start < last.end and all(f.string != string for f in last.figures):
            last.figures.append(figure)
            last.figures.sort(key=lambda f: f.string)
            last.end = max(last.end, figure.end)
        else:
            columns.append(Column(start, figure.end, [figure]))
    return columns


def _figure(start: int, string: int, found: re.Match[str]) -> Figure:
    how = found.lastgroup or "dead"
    fret = int(found[how]) if how != "dead" else 0
    return Figure(start, found.end(), string, fret, "" if how == "fret" else how)
