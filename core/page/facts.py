"""What each measure tells its neighbours, gathered once a measure and kept while it lives."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from core.model import Ending, Key, Measure, Metre, Pitch, Section, walk
from core.page.accidentals import left_behind
from core.page.bars import Bar
from core.page.measure_box import Context


class Facts(Struct, frozen=True, gc=False):
    """What a measure hands on: altered notes, ties over its bar line; and every id in it."""

    measure: Measure
    altered: tuple[tuple[int, int], ...]
    tied_out: tuple[tuple[int, Pitch], ...]
    ids: frozenset[int]


def gather(measure: Measure) -> Facts:
    """The facts of one measure."""
    tied: list[tuple[int, Pitch]] = []
    for voice, events in enumerate(measure.voices):
        if events:
            tied += [(voice, note.pitch) for note in events[-1].notes if note.tied]
    return Facts(
        measure,
        tuple(left_behind(measure, measure.key).items()),
        tuple(tied),
        frozenset(walk.measure_ids(measure)),
    )


class Head(Struct, frozen=True, gc=False):
    """A section without its measures. `covered`: its last ending reaches its last measure."""

    id: int
    letter: str
    title: str
    times: int
    endings: tuple[Ending, ...]
    covered: bool


class Spot(Struct, frozen=True, gc=False):
    """A measure in its section: what bar lines depend on."""

    head: Head
    first: bool
    last: bool
    piece_first: bool
    piece_last: bool


def spots(section: Section, opens: bool, closes: bool, kept: dict[int, Spot]) -> list[Spot]:
    """One spot for every measure of a section; it `opens` or `closes` the piece.

    All inner measures share one spot, which `kept` holds from before by section id.
    """
    covered = bool(section.endings) and section.endings[-1].last == section.measures[-1].id
    head = Head(section.id, section.letter, section.title, section.times, section.endings, covered)
    count = len(section.measures)
    if count == 1:
        return [Spot(head, True, True, opens, closes)]
    inner = Spot(head, False, False, False, False)
    if kept.get(section.id) != inner:
        kept[section.id] = inner
    first, last = Spot(head, True, False, opens, False), Spot(head, False, True, False, closes)
    return [first, *[kept[section.id]] * (count - 2), last]


def repeats_back(spot: Spot, measure: Measure) -> bool:
    """Whether players turn back after this measure: at a section's or an earlier ending's end."""
    head = spot.head
    if head.times < 2:
        return False
    ending = next((e for e in head.endings if e.last == measure.id), None)
    if ending is not None:
        return head.times not in ending.passes
    return spot.last and not head.covered


def contexts(
    measures: Sequence[Measure], facts: Sequence[Facts], where: Sequence[Spot], strings: int
) -> list[Context]:
    """The context of every measure."""
    made: list[Context] = []
    back_before = False
    count = len(measures)
    for index, measure in enumerate(measures):
        before = measures[index - 1] if index else None
        after = measures[index + 1] if index + 1 < count else None
        spot = where[index]
        opens = spot.first and spot.head.times > 1
        back = repeats_back(spot, measure)
        next_opens = (
            after is not None and where[index + 1].first and where[index + 1].head.times > 1
        )
        end, end_last = _ends(measure, spot, back, next_opens)
        made.append(
            Context(
                strings,
                facts[index - 1].altered if index else (),
                facts[index - 1].tied_out if index else (),
                before.key if before else None,
                before.metre if before else None,
                _changed_key(measure, after),
                _changed_metre(measure, after),
                (Bar.THEN if back_before else Bar.FORTH) if opens else Bar.NONE,
                Bar.FORTH if opens else Bar.NONE,
                end,
                end_last,
            )
        )
        back_before = back
    return made


def _changed_key(measure: Measure, after: Measure | None) -> Key | None:
    return after.key if after and after.key.fifths != measure.key.fifths else None


def _changed_metre(measure: Measure, after: Measure | None) -> Metre | None:
    return after.metre if after and after.metre != measure.metre else None


def _ends(measure: Measure, spot: Spot, back: bool, next_opens: bool) -> tuple[Bar, Bar]:
    """The closing bar line inside a system and at its end."""
    if back:
        return Bar.BACK, Bar.BACK
    if measure.barline:
        plain = Bar(measure.barline)
    elif spot.piece_last:
        plain = Bar.FINAL
    elif spot.last and not next_opens:
        plain = Bar.DOUBLE
    else:
        plain = Bar.SINGLE
    if next_opens:
        return Bar.NONE, plain
    return plain, plain
