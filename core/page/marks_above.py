"""Rows of marks above a system: positions, barres, lines, chord frames, words, endings, tempo,
section letters, signs of the road map, measure numbers, warnings."""

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face, Item, Line, Role
from core.model import (
    SIGN_WORDS,
    ChordMark,
    Measure,
    PositionMark,
    Sign,
    TempoMark,
    TextMark,
    Value,
)
from core.model.time import length_words
from core.page import frames, pen, rows
from core.page.cover import rect_of
from core.page.draft import Draft
from core.page.glyphs import MET_NOTES
from core.page.setting import Letter, Setting, SpanPart, Volta
from core.page.titles import frame

LINED = {
    "barre": "", "string": "", "let ring": "let ring", "vibrato": "vib.", "tempo": "",
}  # fmt: skip
TEMPO_SIZE = 2.0
MOST_HUNG = 9.5  # spaces a section label may stand out into the margin
MOST_ASIDE = 5.0  # spaces a chord frame may move for the one before it


def draw_lines(draft: Draft, spans: Sequence[SpanPart]) -> None:
    """Barres with numeral, held line and hook; let ring, string and tempo lines."""
    for part in spans:
        shown = draft.style.show_suggested or not part.span.suggested
        if part.span.kind in LINED and shown:
            _held_line(draft, part)


def _held_line(draft: Draft, part: SpanPart) -> None:
    span = part.span
    begin, finish = draft.find(span.start), draft.find(span.end)
    left = begin.left - 0.2 if part.begins and begin else draft.header_width - 0.5
    right = finish.right + 0.2 if part.ends and finish else draft.width - 0.4
    right = max(right, left + 1.5)
    words = _line_words(draft, part)
    role = Role.SUGGESTED if span.suggested else Role.PINNED
    upright = span.kind == "barre" and not span.suggested
    face = Face.SERIF_BOLD if upright else Face.SERIF_ITALIC
    size = 1.7
    wide = draft.m.text_width(words, face) * size
    left = max(min(left, draft.width - wide), 0.0)
    right = max(right, left + wide)
    bottom = rows.over(draft, left, right, 1.35, 0.4)
    if words:
        draft.items.append(pen.text(draft.m, words, face, size, left, bottom - 0.15,
                                    role, span.id))  # fmt: skip
    y, x = bottom - 0.65, left + wide + 0.4
    thick = 0.14 * draft.style.line_weight
    dash = () if span.kind in ("barre", "string") else (0.7, 0.5)
    if right - x > 0.5:
        draft.items.append(Line(x, y, right, y, thick, role, span.id, dash))
        if part.ends:
            hook = Line(right, y - thick / 2, right, y + 0.7, thick, role, span.id)
            draft.items.append(hook)


def _line_words(draft: Draft, part: SpanPart) -> str:
    """What stands at the start of a line; in parentheses where it goes on from the line before."""
    span = part.span
    words = span.text or LINED[span.kind]
    if span.barre is not None:
        small = span.barre.strings < draft.strings - 1
        words = f"{'½' if small else ''}C {rows.roman(span.barre.fret)}"
        if small and span.barre.lowest is not None:
            words += f" ({span.barre.lowest}–{span.barre.lowest - span.barre.strings + 1})"
    return words if part.begins or not words else f"({words})"


def draw_positions(draft: Draft) -> None:
    """Position numerals over their moments, close to the notes they are for."""
    for place, box in enumerate(draft.row):
        for mark in box.measure.marks:
            if isinstance(mark, PositionMark):
                x = draft.x_at(place, mark.at.ticks)
                rows.words_over(draft, rows.roman(mark.fret) or "0", x, face=Face.SERIF_BOLD,
                                size=1.6, role=Role.PINNED, source=box.measure.id)  # fmt: skip


def draw_marks(draft: Draft, setting: Setting) -> None:
    """Free words and chord frames of the measures."""
    for place, box in enumerate(draft.row):
        for mark in box.measure.marks:
            if isinstance(mark, TextMark) and not mark.below and mark.text:
                x = draft.x_at(place, mark.at.ticks)
                rows.words_over(draft, mark.text, x, source=box.measure.id)
    _draw_frames(draft, left_handed=setting.left_handed)


def _draw_frames(draft: Draft, *, left_handed: bool) -> None:
    """Chord frames above their beats, a little aside where two would meet."""
    edge = 0.0
    for place, box in enumerate(draft.row):
        for mark in box.measure.marks:
            if not isinstance(mark, ChordMark):
                continue
            width, height = frames.size(mark.shape)
            left = draft.x_at(place, mark.at.ticks) + 0.59 - width / 2
            if left < edge <= left + MOST_ASIDE:
                left = edge
            left = min(max(left, 0.0), max(draft.width - width, 0.0))
            bottom = rows.over(draft, left, left + width, height, 0.4)
            draft.items += frames.draw(
                draft.m, mark.shape, left, bottom - height, left_handed=left_handed,
                source=box.measure.id,
            )  # fmt: skip
            edge = left + width + 0.6


def draw_voltas(draft: Draft, voltas: Sequence[Volta]) -> None:
    """Endings as brackets on one height, numbers inside."""
    if not voltas:
        return
    height = 2.3
    spans = [(draft.measure_left(v.first) + 0.15, draft.rights[v.last] - 0.15) for v in voltas]
    reach = min(draft.above.reach(left, right) for left, right in spans) - 0.4
    thick = draft.m.defaults["repeatEndingLineThickness"] * draft.style.line_weight
    for volta, (left, right) in zip(voltas, spans, strict=True):
        top = reach - height
        source = draft.row[volta.first].measure.id
        lines = [Line(left, top, right, top, thick, Role.WORDS, source)]
        if volta.begins:
            lines.append(Line(left, top - thick / 2, left, reach, thick, Role.WORDS, source))
        if volta.ends and volta.closed:
            lines.append(Line(right, top - thick / 2, right, reach, thick, Role.WORDS, source))
        draft.items += lines
        words = times_words(volta.passes)
        words = words if volta.begins else f"({words})"
        draft.items.append(pen.text(draft.m, words, Face.SERIF, 1.7, left + 0.6, reach - 0.45,
                                    source=source))  # fmt: skip
        draft.above.add((left, top - 0.1, right, reach))


def times_words(passes: Sequence[int]) -> str:
    """``1.``, ``1. 2.``, ``1.–3.``: the passes of an ending."""
    if len(passes) > 2 and list(passes) == list(range(passes[0], passes[-1] + 1)):
        return f"{passes[0]}.–{passes[-1]}."
    return " ".join(f"{number}." for number in passes)


def draw_signs(draft: Draft) -> None:
    """Segno and coda where their measure begins, words of the road map where it ends."""
    for place, box in enumerate(draft.row):
        for sign in box.measure.signs:
            _sign(draft, place, sign, box.measure.id)


def _sign(draft: Draft, place: int, sign: Sign, source: int) -> None:
    if sign.kind in ("segno", "coda"):
        x = draft.measure_left(place) + 1.2
        rows.put_glyph(
            draft, sign.kind, x, above=True, size=0.85, role=Role.WORDS, source=source, pad=0.5
        )
        if sign.text:
            rows.words_over(draft, sign.text, x + 1.6, source=source)
        return
    words = sign.text or SIGN_WORDS[sign.kind]
    x = draft.rights[place] - 0.1
    rows.words_over(draft, words, x, face=Face.SERIF_BOLD, size=1.9, source=source, anchor=1.0)


def draw_times(draft: Draft, times: Sequence[tuple[int, int]]) -> None:
    """How often a section is played where it is more than twice."""
    for place, count in times:
        rows.words_over(draft, f"{count} times", draft.rights[place] - 0.1, size=1.8, anchor=1.0)


def draw_tempo(draft: Draft, setting: Setting) -> None:
    """The tempo at the start, and tempo marks on the way."""
    marks = [
        (place, mark)
        for place, box in enumerate(draft.row)
        for mark in box.measure.marks
        if isinstance(mark, TempoMark)
    ]
    opening = any(place == 0 and mark.at.ticks == 0 and mark.beat for place, mark in marks)
    if setting.tempo is not None and not opening:
        words = [m.text for p, m in marks if p == 0 and m.at.ticks == 0 and m.text]
        marks = [m for m in marks if not (m[0] == 0 and m[1].at.ticks == 0 and m[1].text)]
        _tempo(draft, draft.measure_left(0) - 2.0, words[0] if words else "", setting.tempo.beat,
               setting.tempo.per_minute, draft.row[0].measure.id)  # fmt: skip
    for place, mark in marks:
        x = draft.x_at(place, mark.at.ticks)
        _tempo(draft, x, mark.text, mark.beat, mark.per_minute, draft.row[place].measure.id)


def _tempo(
    draft: Draft, x: float, words: str, beat: Value | None, per_minute: float | None, source: int
) -> None:
    items: list[Item] = []
    at = 0.0
    if words:
        word = pen.text(draft.m, words, Face.SERIF_BOLD, TEMPO_SIZE, 0.0, 0.0, source=source)
        items.append(word)
        at = word.width + 0.7
    if beat is not None and per_minute is not None:
        name = MET_NOTES.get(beat.base, "metNoteQuarterUp")
        scale = 0.62
        names = [name, *["metAugmentationDot"] * beat.dots]
        glyphs, at = rows.row_of_glyphs(draft.m, names, at, -0.15, size=scale, role=Role.WORDS,
                                        source=source, apart=0.28)  # fmt: skip
        figure = pen.text(draft.m, f"= {per_minute:g}", Face.SERIF, TEMPO_SIZE, at + 0.4, 0.0,
                          source=source)  # fmt: skip
        items += [*glyphs, figure]
        at += figure.width + 0.4
    if not items:
        return
    left = max(min(x, draft.width - at), 0.0)
    height = 0.4 - min(rect_of(item, draft.m)[1] for item in items)
    bottom = rows.over(draft, left - 0.3, left + at + 0.3, height, 0.5)
    draft.items += [pen.moved(item, left, bottom - 0.4) for item in items]


def _hung(draft: Draft, left: float, total: float, talk: float) -> float:
    """Where a section's label begins: at its measure, or hung into the margin beside the line
    where that keeps it clear of a chord frame and so saves height."""
    usual = draft.above.reach(left - 0.4, left + total + 0.4)
    for step in range(1, int(2 * min(talk, MOST_HUNG)) + 1):
        if draft.above.reach(left - step / 2 - 0.4, left - step / 2 + total + 0.4) > usual + 3.0:
            return left - step / 2
    return left


def draw_letters(draft: Draft, letters: Sequence[Letter], talk: float) -> None:
    """Section letters in a box, the title beside it, over the start of the section."""
    for letter in letters:
        left = max(draft.lefts[letter.place] - 0.4, 0.0)
        m, source = draft.m, letter.source
        box = pen.text(m, letter.letter, Face.SERIF_BOLD, 2.3, 0.55, 0.0, source=source)
        wide = box.width + 1.1 if letter.letter else 0.0
        title = pen.text(m, letter.title, Face.SERIF_BOLD, 1.9, wide + 0.6, -0.15, source=source)
        total = wide + (title.width + 0.6 if letter.title else 0.0)
        left = max(min(left, draft.width - total), 0.0)
        if letter.place == 0:
            left = _hung(draft, left, total, talk)
        bottom = rows.over(draft, left - 0.4, left + total + 0.4, 2.9, 0.6)
        if letter.letter:
            draft.items.append(pen.moved(box, left, bottom - 0.65))
            draft.items += frame(left, bottom - 2.75, left + wide, bottom, 0.16)
        if letter.title:
            draft.items.append(pen.moved(title, left, bottom - 0.65))


def numbered(setting: Setting) -> list[int]:
    """The places whose measure has its number printed: the first, in one long line all."""
    places = range(1) if setting.width else range(len(setting.numbers))
    return [place for place in places if setting.numbers[place]]


def draw_numbers(draft: Draft, setting: Setting) -> None:
    """The measure number over the clef; in one long line over every measure."""
    for place in numbered(setting):
        draft.numbers.append((len(draft.items), place))
        rows.words_over(
            draft, str(setting.numbers[place]), draft.lefts[place] + 0.05, face=Face.SERIF,
            size=1.5, role=Role.PENCIL, source=draft.row[place].measure.id, pad=0.25,
        )  # fmt: skip


def draw_warnings(draft: Draft) -> None:
    """Measures that hold too much or too little, said in words and with a dashed line."""
    for place, box in enumerate(draft.row):
        words = fill_words(box.measure)
        if not words:
            continue
        left, right = draft.measure_left(place) + 0.4, draft.rights[place] - 0.4
        source = box.measure.id
        size = min(1.5, 1.5 * (right - left) / (draft.m.text_width(words, Face.SANS_BOLD) * 1.5))
        bottom = rows.over(draft, left, right, 1.9, 0.4)
        draft.items += [
            Line(left, bottom, right, bottom, 0.2, Role.WARNING, source, (0.6, 0.4)),
            pen.text(draft.m, words, Face.SANS_BOLD, size, left, bottom - 0.45, Role.WARNING,
                     source),
        ]  # fmt: skip


def fill_words(measure: Measure) -> str:
    """How far a measure is over or under its length: ``an eighth too short``; empty where full."""
    filled = [measure.filled_ticks(v) for v, row in enumerate(measure.voices) if row]
    if not filled:
        return "empty"
    over = max(filled) - measure.ticks
    if over > 0:
        return f"{length_words(over)} too long"
    under = measure.ticks - min(filled)
    return f"{length_words(under)} too short" if under > 0 else ""
