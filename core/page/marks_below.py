"""Between staff and tab: dynamics and hairpins, on one line through the system."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate

from msgspec import Struct, structs

from core.display.items import Face, Item, Line, Role
from core.model import TICKS_PER_WHOLE, Dynamic, Measure, TextMark
from core.page import pen, rows
from core.page.draft import Draft
from core.page.glyphs import DYNAMICS
from core.page.setting import SpanPart

APART = 0.75  # below notes
LETTERS_APART = 1.7  # below plucking letters, so that no p is taken for another
HALF_OPEN = 0.55


class Loud(Struct, frozen=True):
    """One dynamic: glyph names or plain words, its left edge and width."""

    names: tuple[str, ...]
    words: str
    left: float
    width: float
    source: int


def draw_dynamics(draft: Draft, spans: Sequence[SpanPart]) -> None:
    """Dynamics and hairpins share one baseline, below everything they pass."""
    louds = _spread(_louds(draft))
    hairpins = [
        (part, *_ends(draft, part, louds))
        for part in spans
        if part.span.kind in ("crescendo", "diminuendo")
    ]
    if not louds and not hairpins:
        return
    edges = [(loud.left - _hang(draft, loud), loud.left + loud.width) for loud in louds]
    edges += [(left, right) for _, left, right in hairpins]
    top = max(draft.below.reach(left, right) + _clear(draft, left, right) for left, right in edges)
    glyphs = [draft.m.boxes[name][3] * 0.9 for loud in louds for name in loud.names]
    baseline = top + max([1.1, *glyphs])
    for loud in louds:
        draft.items += _loud_items(draft, loud, baseline)
    for part, left, right in hairpins:
        draft.items += _hairpin(draft, part, left, right, baseline - 0.45)
    for left, right in edges:
        draft.below.add((left, top, right, baseline + 0.5))


def _hang(draft: Draft, loud: Loud) -> float:
    """How far the first letter of a dynamic reaches to the left of where it is set."""
    return max(0.0, -draft.m.boxes[loud.names[0]][0] * 0.9) if loud.names else 0.0


def _clear(draft: Draft, left: float, right: float) -> float:
    """How far below what is there: further where a plucking letter stands just above."""
    near = any(a < right + 0.5 and left - 0.5 < b for a, b in draft.letters)
    return LETTERS_APART if near else APART


def _spread(louds: Iterable[Loud]) -> list[Loud]:
    """Dynamics from left to right, moved right where they would run into the one before."""
    row: list[Loud] = []
    for loud in sorted(louds, key=lambda loud: loud.left):
        least = row[-1].left + row[-1].width + 0.4 if row else loud.left
        row.append(structs.replace(loud, left=max(loud.left, least)))
    return row


def _louds(draft: Draft) -> Iterator[Loud]:
    seen: set[tuple[float, str]] = set()
    for place, box in enumerate(draft.row):
        for cluster in box.clusters:
            for mark in cluster.event.marks:
                if not isinstance(mark, Dynamic) or not mark.text:
                    continue
                centre = draft.x_at(place, cluster.onset) + 0.59
                if (centre, mark.text) in seen:
                    continue
                seen.add((centre, mark.text))
                yield _loud(draft, mark.text, centre, cluster.event.id)


def _loud(draft: Draft, words: str, centre: float, source: int) -> Loud:
    if all(letter in DYNAMICS for letter in words):
        names = tuple(DYNAMICS[letter] for letter in words)
        width = sum(draft.m.advances[name] for name in names) * 0.9
        return Loud(names, "", centre - width / 2, width, source)
    width = draft.m.text_width(words, Face.SERIF_ITALIC) * 1.9
    return Loud((), words, centre - 0.6, width, source)


def _loud_items(draft: Draft, loud: Loud, baseline: float) -> list[Item]:
    if loud.names:
        items, _ = rows.row_of_glyphs(
            draft.m, loud.names, loud.left, baseline, size=0.9, source=loud.source
        )
        return items
    return [
        pen.text(draft.m, loud.words, Face.SERIF_ITALIC, 1.9, loud.left, baseline,
                 source=loud.source)
    ]  # fmt: skip


def _ends(draft: Draft, part: SpanPart, louds: Sequence[Loud]) -> tuple[float, float]:
    """The edges of a hairpin, clear of the dynamics at its ends."""
    begin, finish = draft.find(part.span.start), draft.find(part.span.end)
    left = begin.left if part.begins and begin else draft.header_width - 0.6
    right = finish.right if part.ends and finish else draft.width - 0.5
    for loud in louds:
        if loud.left <= left + 0.3 <= loud.left + loud.width + 0.3:
            left = loud.left + loud.width + 0.35
        if loud.left - 0.3 <= right <= loud.left + loud.width + 1.2:
            right = loud.left - 0.35
    return left, max(right, left + 1.5)


def _hairpin(draft: Draft, part: SpanPart, left: float, right: float, y: float) -> list[Item]:
    wide = draft.m.defaults["hairpinThickness"] * draft.style.line_weight
    growing = part.span.kind == "crescendo"
    start = 0.0 if growing else HALF_OPEN
    end = HALF_OPEN if growing else 0.0
    if not part.begins and growing:
        start = HALF_OPEN * 0.4
    if not part.ends and not growing:
        end = HALF_OPEN * 0.4
    return [
        Line(left, y - start, right, y - end, wide, Role.INK, part.span.id),
        Line(left, y + start, right, y + end, wide, Role.INK, part.span.id),
    ]


def draw_texts_below(draft: Draft) -> None:
    """Free words that want to stand under the staff."""
    for place, box in enumerate(draft.row):
        for mark in box.measure.marks:
            if isinstance(mark, TextMark) and mark.below and mark.text:
                rows.words_under(draft, mark.text, draft.x_at(place, mark.at.ticks),
                                 source=box.measure.id)  # fmt: skip


def draw_beat_dots(draft: Draft) -> None:
    """Dots of three strengths on one line under the notes: a measure's first beat, its other felt
    beats, and the unit between them."""
    if not draft.style.beat_dots:
        return
    y = draft.below.reach(0.0, draft.width) + 0.9
    left, bottom, right, top = draft.m.boxes["augmentationDot"]
    for place, box in enumerate(draft.row):
        for ticks, size in _beats(box.measure):
            x = draft.x_at(place, ticks) + 0.59 - (left + right) / 2 * size
            dot = pen.glyph(draft.m, "augmentationDot", x, y + (top + bottom) / 2 * size,
                            Role.PENCIL, box.measure.id, size)  # fmt: skip
            draft.items.append(dot)
    draft.below.add((0.0, y - 0.4, draft.width, y + 0.4))


def _beats(measure: Measure) -> Iterator[tuple[int, float]]:
    """(ticks, size of the dot) of every beat; a pickup counts from its measure's end."""
    unit = TICKS_PER_WHOLE // measure.metre.unit
    felt = list(accumulate(measure.metre.pulse_ticks, initial=0))
    missing = measure.metre.ticks - measure.length_ticks
    start = missing if not measure.counted and missing > 0 else 0
    for ticks in range(0, measure.metre.ticks, unit):
        if start <= ticks < start + measure.length_ticks:
            yield ticks - start, 2.0 if ticks == 0 else 1.4 if ticks in felt else 0.8
