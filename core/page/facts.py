"""What each measure tells its neighbours, gathered once a measure and kept while it lives."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from core.model import Arrangement, Key, Measure, Metre, Pitch, Section, walk
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


class Spot(Struct, frozen=True, gc=False):
    """A measure in its section: what bar lines depend on."""

    section: Section
    first: bool
    last: bool
    piece_first: bool
    piece_last: bool


def spots(arrangement: Arrangement) -> list[Spot]:
    """One spot for every measure in written order."""
    found: list[Spot] = []
    sections = [s for s in arrangement.sections if s.measures]
    for number, section in enumerate(sections):
        count = len(section.measures)
        for index in range(count):
            first, last = index == 0, index == count - 1
            found.append(
                Spot(
                    section, first, last, first and number == 0,
                    last and number == len(sections) - 1,
                )
            )  # fmt: skip
    return found


def repeats_back(spot: Spot, measure: Measure) -> bool:
    """Whether players turn back after this measure: at a section's or an earlier ending's end."""
    section = spot.section
    if section.times < 2:
        return False
    ending = next((e for e in section.endings if e.last == measure.id), None)
    if ending is not None:
        return section.times not in ending.passes
    covered = bool(section.endings) and section.endings[-1].last == section.measures[-1].id
    return spot.last and not covered


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
        opens = spot.first and spot.section.times > 1
        back = repeats_back(spot, measure)
        next_opens = (
            after is not None and where[index + 1].first and where[index + 1].section.times > 1
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
