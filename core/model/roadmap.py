"""The road map: the order in which the written measures are played."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct, structs

from core.model.form import Arrangement, Section
from core.model.measure import Measure

MOST_OCCURRENCES = 20_000


class Occurrence(Struct, frozen=True):
    """One playing of a measure: which section, which pass of it (from 1), and after a D.C. or D.S.?

    `index` is the place in the played order, from 0.
    """

    index: int
    section: int
    measure: Measure
    time: int
    returned: bool


class _Road:
    """The written measures in order, with where each section starts."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.sections = arrangement.sections
        self.signs = {
            kind: (section_index, measure_index)
            for section_index, section in reversed(list(enumerate(self.sections)))
            for measure_index, measure in reversed(list(enumerate(section.measures)))
            for kind in (sign.kind for sign in measure.signs)
        }


def heard_version(occurrence: Occurrence) -> Measure:
    """The measure with the music that sounds then: from the second time on, its variation."""
    if occurrence.time == 1 and not occurrence.returned:
        return occurrence.measure
    return second_time(occurrence.measure) or occurrence.measure


def second_time(measure: Measure) -> Measure | None:
    """The measure with the voices of its variation for the second time; None without one."""
    for other in measure.others:
        if other.purpose == "second time":
            return structs.replace(measure, voices=other.voices)
    return None


def section_pass(section: Section, time: int) -> tuple[Measure, ...]:
    """The measures of a section that sound in its n-th pass (from 1)."""
    skipped: set[int] = set()
    ids = [measure.id for measure in section.measures]
    for ending in section.endings:
        if time not in ending.passes:
            skipped.update(ids[ids.index(ending.first) : ids.index(ending.last) + 1])
    return tuple(m for m in section.measures if m.id not in skipped)


def most_played(arrangement: Arrangement) -> int:
    """No road map of these sections plays more measures than this: all passes and one return."""
    return sum(len(section.measures) * (section.times + 1) for section in arrangement.sections)


def played(arrangement: Arrangement) -> tuple[Occurrence, ...]:
    """Every measure in the order it is played, repeats, endings and jumps followed.

    Common practice (no source): after a D.C. or D.S. each section is played once, with its last
    ending, and further jumps are not obeyed. On the way `Fine` ends the piece, unless the jump
    says al Coda; `To Coda` leaps to the coda, unless the jump says al Fine or no coda follows.
    Raises ValueError when the order would exceed `MOST_OCCURRENCES` measures (the validator
    refuses such lessons).
    """
    occurrences: list[Occurrence] = []
    for section, measure, time, returned in _walk(_Road(arrangement)):
        if len(occurrences) >= MOST_OCCURRENCES:
            raise ValueError(f"the road map plays more than {MOST_OCCURRENCES} measures")
        occurrences.append(Occurrence(len(occurrences), section, measure, time, returned))
    return tuple(occurrences)


Step = tuple[int, Measure, int, bool]


def _walk(road: _Road) -> Iterator[Step]:
    for index, section in enumerate(road.sections):
        for time in range(1, section.times + 1):
            for measure in section_pass(section, time):
                yield index, measure, time, False
                if time == section.times and (jump := _jump_of(measure)):
                    yield from _return(road, jump)
                    return


def _jump_of(measure: Measure) -> str:
    return next((s.kind for s in measure.signs if s.kind.startswith(("dc", "ds"))), "")


def _return(road: _Road, jump: str) -> Iterator[Step]:
    """The way after D.C. or D.S., up to Fine, through the coda, or to the end."""
    section, first = road.signs.get("segno", (0, 0)) if jump.startswith("ds") else (0, 0)
    coda = None if jump.endswith("fine") else road.signs.get("coda")
    while section < len(road.sections):
        times = road.sections[section].times
        place = {m.id: n for n, m in enumerate(road.sections[section].measures) if n >= first}
        leap: tuple[int, int] | None = None
        for measure in section_pass(road.sections[section], times):
            if measure.id not in place:
                continue
            yield section, measure, times, True
            kinds = {sign.kind for sign in measure.signs}
            if "fine" in kinds and not jump.endswith("coda"):
                return
            if "to coda" in kinds and coda is not None and coda > (section, place[measure.id]):
                leap, coda, jump = coda, None, ""
                break
        section, first = leap or (section + 1, 0)
