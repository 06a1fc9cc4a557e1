"""What stands on a page beside the music: title block, tuning box, page number, footer."""

# ruff: noqa: PLR0913, PLR0917 (drawing takes what it draws)

from __future__ import annotations

from core.display.items import Block, Face, Item, Role
from core.model import STANDARD, Lesson, Pitch
from core.page import pen
from core.page.metrics import Metrics
from core.page.style import PageStyle

ACCIDENTAL_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
TITLE_SIZE = 4.0
LINE_SIZE = 2.0


def title_block(
    lesson: Lesson, style: PageStyle, width: float, m: Metrics
) -> tuple[list[Item], float]:
    """The title block of the first page and its height in spaces."""
    card = lesson.source
    items: list[Item] = []
    y = 3.1
    size = TITLE_SIZE
    wide = m.text_width(lesson.title, Face.SERIF_BOLD) * size
    if wide > width:
        size *= width / wide
    items.append(pen.text(m, lesson.title, Face.SERIF_BOLD, size, width / 2, y, anchor=0.5))
    if card.credit:
        y += 2.7
        items += _fitted(m, card.credit, Face.SERIF, LINE_SIZE, width / 2, y, 0.5, width)
    left = f"for {lesson.brief.student}" if lesson.brief.student else ""
    right = ", ".join(part for part in (card.composer, card.year) if part)
    if left or right:
        y += 2.9
        items += _fitted(m, left, Face.SERIF_ITALIC, LINE_SIZE, 0.0, y, 0.0, width * 0.48)
        items += _fitted(m, right, Face.SERIF, LINE_SIZE, width, y, 1.0, width * 0.48)
    tuning, wide = tuning_line(lesson, style, m)
    if tuning:
        y += 3.4
        items += [pen.moved(item, 0.0, y) for item in tuning]
        y += 0.8
    return items, y + 1.9


def _fitted(
    m: Metrics, words: str, face: Face, size: float, x: float, y: float, anchor: float, room: float
) -> list[Item]:
    """Words made smaller where they would not fit; nothing for no words."""
    if not words:
        return []
    wide = m.text_width(words, face) * size
    return [pen.text(m, words, face, size * min(1.0, room / wide), x, y, anchor=anchor)]


def pitch_name(pitch: Pitch) -> str:
    """``D``, ``E♭``: a string's note without its octave."""
    return pitch.step + ACCIDENTAL_SIGNS.get(pitch.alter, "")


def tuning_line(lesson: Lesson, style: PageStyle, m: Metrics) -> tuple[list[Item], float]:
    """A box with the strings that are tuned otherwise, and the capo; empty for a plain guitar.

    The circled string number and the equals sign are the trade's own (common practice). Where the
    staff shows what is fingered under the capo, the key that sounds is said.
    """
    instrument = lesson.arrangement.instrument
    items: list[Item] = []
    x = 0.9
    usual = STANDARD if len(instrument.strings) == 6 else ()
    for number, pitch in enumerate(instrument.strings, start=1):
        if usual and str(pitch) == usual[number - 1]:
            continue
        if number <= 9:
            items.append(pen.glyph(m, f"guitarString{number}", x, 0.35, Role.WORDS, size=0.8))
            x += m.advances["guitarString1"] * 0.8 + 0.35
        word = pen.text(m, f"= {pitch_name(pitch)}", Face.SERIF, LINE_SIZE, x, 0.0)
        items.append(word)
        x += word.width + 1.1
    if items:
        x -= 0.2
        items += frame(0.0, -1.75, x, 0.75, 0.13)
        x += 1.5
    if instrument.capo:
        word = pen.text(
            m, capo_words(lesson, style), Face.SERIF, LINE_SIZE, x if items else 0.0, 0.0
        )
        items.append(word)
        x += word.width
    return items, x


def capo_words(lesson: Lesson, style: PageStyle) -> str:
    """``Capo 2 (sounds in B minor)``; what is written sounds where the style asks for that."""
    arrangement = lesson.arrangement
    key = f"{pitch_name(Pitch.parse(arrangement.key.tonic + '4'))} {arrangement.key.mode}"
    told = "written as it sounds" if style.sounding else f"sounds in {key}"
    return f"Capo {arrangement.instrument.capo} ({told})"


def frame(left: float, top: float, right: float, bottom: float, width: float) -> list[Item]:
    """Four lines around a rectangle."""
    half = width / 2
    return [
        pen.box(left, top, right, top + width, Role.WORDS),
        pen.box(left, bottom - width, right, bottom, Role.WORDS),
        pen.box(left, top + half, left + width, bottom - half, Role.WORDS),
        pen.box(right - width, top + half, right, bottom - half, Role.WORDS),
    ]


def footer(
    lesson: Lesson, page: int, pages: int, left: float, right: float, y: float, m: Metrics
) -> Block:
    """Title and rights at the left, the page number at the right."""
    words = lesson.title
    if lesson.source.rights:
        words += f" · {lesson.source.rights}"
    size = 1.5
    room = (right - left) * 0.85
    wide = m.text_width(words, Face.SERIF) * size
    shrunk = size * min(1.0, room / max(wide, 0.1))
    items: list[Item] = [
        pen.text(m, words, Face.SERIF, shrunk, left, y, Role.PENCIL),
        pen.text(m, f"{page} of {pages}", Face.SERIF, size, right, y, Role.PENCIL, anchor=1.0),
    ]
    return Block(0.0, 0.0, tuple(items), key=page)
