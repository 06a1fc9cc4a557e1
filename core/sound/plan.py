"""What to hear and how: the listening plan, and the occurrences it chooses."""

from __future__ import annotations

from msgspec import Struct, structs

from core.model import Arrangement, BadInput, Measure, Section
from core.model.roadmap import Occurrence, played, section_pass

MOST_COUNT_IN = 2
MOST_PASSES = 200


class Whole(Struct, frozen=True):
    """The whole piece in played order."""


class OneSection(Struct, frozen=True):
    """One section by id: all its times, or once (then with its last ending)."""

    id: int
    repeats: bool = True


class MeasureRange(Struct, frozen=True):
    """The written measures from one id to another (the same one for a single measure)."""

    first: int
    last: int


class OccurrenceRange(Struct, frozen=True):
    """Places in the played order, from `first` to `last`, both heard."""

    first: int
    last: int


class Plan(Struct, frozen=True):
    """How a piece is to be heard.

    `percent` is of the goal tempo; `per_minute` counts the goal tempo's own beat and wins over it.
    `count_in` is 0 to 2 measures of click before the first pass, or before each.
    `melody`, `bass` and `inner` are gains of voices 1, 2 and the others; 0 is not heard.
    `fermatas` and `slowing` (rit., accel.): None waits and slows in a single pass, never in a loop.
    """

    what: Whole | OneSection | MeasureRange | OccurrenceRange = Whole()
    percent: float = 100.0
    per_minute: float | None = None
    count_in: int = 0
    count_in_each_pass: bool = False
    click: bool = False
    passes: int = 1
    melody: float = 1.0
    bass: float = 1.0
    inner: float = 1.0
    click_gain: float = 1.0
    fermatas: bool | None = None
    slowing: bool | None = None

    def __post_init__(self) -> None:
        if not 5 <= self.percent <= 400:
            raise BadInput(f"A tempo of {self.percent:g} % is outside 5 to 400 % of the goal.")
        if self.per_minute is not None and not 5 <= self.per_minute <= 600:
            raise BadInput(f"A tempo of {self.per_minute:g} is outside 5 to 600 beats a minute.")
        if not 0 <= self.count_in <= MOST_COUNT_IN:
            raise BadInput(f"A count-in has 0 to {MOST_COUNT_IN} measures, not {self.count_in}.")
        if not 1 <= self.passes <= MOST_PASSES:
            raise BadInput(f"A loop is heard 1 to {MOST_PASSES} times, not {self.passes}.")
        if not all(0 <= gain <= 2 for gain in (*self.gains, self.click_gain)):
            raise BadInput("A voice is heard at 0 to 2 times its loudness.")

    @property
    def gains(self) -> tuple[float, float, float, float]:
        """The gain of each of the four voices."""
        return (self.melody, self.bass, self.inner, self.inner)

    @property
    def waits(self) -> bool:
        """Whether fermatas are waited for."""
        return self.passes == 1 if self.fermatas is None else self.fermatas

    @property
    def slows(self) -> bool:
        """Whether rit. and accel. are obeyed."""
        return self.passes == 1 if self.slowing is None else self.slowing

    def speed(self, arrangement: Arrangement) -> float:
        """The practice tempo as a factor of the goal tempo."""
        if self.per_minute is not None:
            return self.per_minute / arrangement.tempo.per_minute
        return self.percent / 100


def chosen(arrangement: Arrangement, plan: Plan) -> tuple[Occurrence, ...]:
    """The occurrences of one pass, each with its index in the played order of the whole piece.

    A measure the road map never reaches keeps the index -1. Raises BadInput when what the plan
    names is not there or the road map has no end.
    """
    try:
        whole = played(arrangement)
    except ValueError as error:
        raise BadInput(f"The piece cannot be heard: {error}.") from error
    match plan.what:
        case Whole():
            found = whole
        case OneSection(id=number, repeats=repeats):
            found = _section(arrangement, whole, number, repeats)
        case MeasureRange(first=first, last=last):
            found = _measures(arrangement, whole, first, last)
        case OccurrenceRange(first=first, last=last):
            found = whole[max(0, first) : last + 1]
    if not found:
        raise BadInput("There is nothing to hear there.")
    return found


def _section(
    arrangement: Arrangement, whole: tuple[Occurrence, ...], number: int, repeats: bool
) -> tuple[Occurrence, ...]:
    for index, section in enumerate(arrangement.sections):
        if section.id == number:
            times = range(1, section.times + 1) if repeats else (section.times,)
            rows = [(time, measure) for time in times for measure in section_pass(section, time)]
            return tuple(_occurrence(whole, index, measure, time) for time, measure in rows)
    raise BadInput("That section is no longer there.")


def _measures(
    arrangement: Arrangement, whole: tuple[Occurrence, ...], first: int, last: int
) -> tuple[Occurrence, ...]:
    order = [m.id for section in arrangement.sections for m in section.measures]
    if first not in order or last not in order:
        raise BadInput("That measure is no longer there.")
    begin, end = sorted((order.index(first), order.index(last)))
    wanted = set(order[begin : end + 1])
    found: list[Occurrence] = []
    for index, section in enumerate(arrangement.sections):
        time, row = _heard_pass(section, wanted)
        found += [_occurrence(whole, index, m, time) for m in row if m.id in wanted]
    return tuple(found)


def _heard_pass(section: Section, wanted: set[int]) -> tuple[int, tuple[Measure, ...]]:
    """The latest pass that sounds the most of the wanted measures: never two endings in a row."""

    def heard(time: int) -> int:
        return sum(measure.id in wanted for measure in section_pass(section, time))

    time = max(range(1, section.times + 1), key=lambda t: (heard(t), t))
    return time, section_pass(section, time)


def _occurrence(
    whole: tuple[Occurrence, ...], section: int, measure: Measure, time: int
) -> Occurrence:
    same = [o for o in whole if o.measure.id == measure.id]
    best = next((o for o in same if o.time == time), same[0] if same else None)
    if best is None:
        return Occurrence(-1, section, measure, time, False)
    return structs.replace(best, returned=False)
