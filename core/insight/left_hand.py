"""The red pen on the left hand: what is written is checked note against note.

Knows nothing of how fingers are found; takes places and fingers as they stand. The rules and
their numbers (L1 to L6, L15, L16, L20 to L23, L25) are those of the house's list of remarks,
common practice of guitar teaching; "level" is what the contract of the lesson says beside them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import combinations, groupby, pairwise
from typing import Literal

from msgspec import Struct

from core.model import (
    TICKS_PER_QUARTER,
    Arrangement,
    Event,
    Finger,
    HandProfile,
    LevelContract,
    Measure,
    Note,
    Span,
    walk,
)

HIGH_FRET = 7
"""Where string 1 may be taken to at level 1, from an open string, a rest or a guide finger."""
USUAL_SPANS_MM = {"12": 60.0, "13": 85.0, "14": 110.0, "23": 46.0, "24": 73.0, "34": 48.0}
"""Spans of a grown hand along the strings where none were measured: about the 97th percentile of
the finger marks in 122 open scores."""
LONG_BARRE_TICKS = 2 * TICKS_PER_QUARTER


class Remark(Struct, frozen=True):
    """One remark: the rule, how grave it is (E error, W warning), where, and the sentence."""

    rule: str
    grade: Literal["E", "W"]
    measure: int
    tick: int
    notes: tuple[int, ...]
    text: str


class Played(Struct, frozen=True):
    """A sounding note as the hand has it. `at` orders grace notes before the beat they lead to."""

    note: Note
    measure: int
    at: tuple[int, int]
    end: int

    @property
    def string(self) -> int:
        return self.note.place.value.string if self.note.place else 0

    @property
    def fret(self) -> int:
        return self.note.place.value.fret if self.note.place else 0

    @property
    def finger(self) -> int:
        """1 to 4 where a finger presses; 0 for open strings, the thumb, or no figure."""
        if self.note.finger is None or self.note.finger.value in (Finger.OPEN, Finger.THUMB):
            return 0
        return int(self.note.finger.value)

    def sounds_at(self, at: tuple[int, int]) -> bool:
        return self.at == at or (self.at < at and self.end > at[0])


class BarreSign(Struct, frozen=True):
    """A barre as it is marked: from tick to tick (the onset of its last event), and its strings."""

    first: int
    last: int
    fret: int
    thin: int
    thick: int

    def covers(self, note: Played) -> bool:
        within = self.first <= note.at[0] <= self.last
        return within and self.thin <= note.string <= self.thick


def check(
    arrangement: Arrangement,
    contract: LevelContract | None = None,
    hand: HandProfile | None = None,
) -> list[Remark]:
    """Every remark on the left hand, in the order of the music. Notes without a place are judged
    by their pitch only; notes without a finger only by their place."""
    contract = contract or LevelContract()
    signs = barre_signs(arrangement)
    every = played(arrangement)
    notes = [n for n in every if n.note.place is not None]
    own = (hand or HandProfile()).spans_mm
    spans = {**USUAL_SPANS_MM, **{str(pair): mm for pair, mm in own.items()}}
    found = [
        r for n in every if n.note.place is None
        for r in _nowhere(n, [m for m in notes if _meet(n, m)], arrangement, (contract, spans))
    ]  # fmt: skip
    found += [remark for note in notes for remark in _alone(note, arrangement, contract, notes)]
    for pair in _overlapping(notes):
        found += _pair(*pair, signs)
        found += _stretch(*pair, arrangement, spans)
    found += _barres(notes, signs, contract)
    found += _too_many(every, contract)
    return sorted(found, key=lambda r: (r.tick, r.rule, r.notes))


def played(arrangement: Arrangement) -> list[Played]:
    """The sounding notes: ties joined, and a pitch struck again ends its older sounding."""
    rows: dict[int, list[tuple[Measure, tuple[int, int], Event]]] = defaultdict(list)
    start = 0
    for measure in walk.measures(arrangement):
        for voice, events in enumerate(measure.voices):
            at = start
            for index, event in enumerate(events):
                before = sum(1 for e in _graces(events[index:]))
                rows[voice].append((measure, (at, -before), event))
                at += event.ticks
        start += measure.length_ticks
    notes = [note for row in rows.values() for note in _tied(row)]
    notes.sort(key=lambda n: (n.at, -n.note.pitch.midi))
    return _restruck(notes)


def _graces(events: tuple[Event, ...]) -> Iterator[Event]:
    for event in events:
        if event.grace is None:
            return
        yield event


def _tied(row: list[tuple[Measure, tuple[int, int], Event]]) -> Iterator[Played]:
    taken: set[int] = set()
    for index, (measure, at, event) in enumerate(row):
        for note in event.notes:
            if note.id in taken:
                continue
            end, last, here = at[0] + event.ticks, note, index
            while last.tied and here + 1 < len(row):
                here += 1
                _, onset, following = row[here]
                partner = next(
                    (n for n in following.notes
                     if n.pitch.midi == last.pitch.midi and n.id not in taken), None,
                )  # fmt: skip
                if partner is None:
                    break
                taken.add(partner.id)
                last, end = partner, onset[0] + following.ticks
            yield Played(note, measure.id, at, end)


def _restruck(notes: list[Played]) -> list[Played]:
    by_pitch: dict[int, list[Played]] = defaultdict(list)
    for note in notes:
        by_pitch[note.note.pitch.midi].append(note)
    ends: dict[int, int] = {}
    for row in by_pitch.values():
        for note, later in pairwise(row):
            if later.at > note.at and later.at[0] < note.end:
                ends[note.note.id] = later.at[0]
        for note in row:
            same = [n.at for n in row if n.at > note.at]
            if same and same[0][0] < note.end:
                ends[note.note.id] = same[0][0]
    return [Played(n.note, n.measure, n.at, ends.get(n.note.id, n.end)) for n in notes]


def barre_signs(arrangement: Arrangement) -> tuple[BarreSign, ...]:
    """The barres that are marked."""
    ticks: dict[int, int] = {}
    start = 0
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            for number in (located.event.id, *(n.id for n in located.event.notes)):
                ticks[number] = start + located.onset
        start += measure.length_ticks
    spans = (s for s in arrangement.spans if s.barre and s.start in ticks and s.end in ticks)
    return tuple(_sign(s, ticks, len(arrangement.instrument.strings)) for s in spans)


def _sign(span: Span, ticks: dict[int, int], strings: int) -> BarreSign:
    assert span.barre is not None
    thick = min(span.barre.strings, strings) if span.barre.lowest is None else span.barre.lowest
    thin = max(1, thick - span.barre.strings + 1)
    return BarreSign(ticks[span.start], ticks[span.end], span.barre.fret, thin, thick)


def _remark(rule: str, grade: Literal["E", "W"], text: str, *notes: Played) -> Remark:
    last = max(notes, key=lambda n: n.at)
    return Remark(rule, grade, last.measure, last.at[0], tuple(n.note.id for n in notes), text)


def _alone(
    note: Played, arrangement: Arrangement, contract: LevelContract, notes: list[Played]
) -> Iterator[Remark]:
    assert note.note.place is not None
    name, harmonic = str(note.note.pitch), note.note.harmonic
    sounding = arrangement.instrument.midi_at(note.note.place.value)
    if harmonic is None and sounding != note.note.pitch.midi:
        yield _remark("L1", "E", f"{note.note.place.value} does not sound {name}.", note)
    if note.note.finger is not None and harmonic is None:
        if note.fret > 0 and note.note.finger.value is Finger.OPEN:
            yield _remark("L23", "E", f"0 at fret {note.fret}: a finger has to press it.", note)
        if note.fret == 0 and note.finger:
            yield _remark("L23", "E", f"Finger {note.finger} on an open string.", note)
    if note.fret > contract.highest_fret:
        text = f"Fret {note.fret} is beyond fret {contract.highest_fret}."
        if not (contract.level == 1 and note.string == 1 and note.fret <= HIGH_FRET):
            yield _remark("L25", "E", text, note)
        elif not note.note.guide and (down := _hindering(note, notes)):
            yield _remark("L25", "E", text, note, *down)


def _meet(one: Played, other: Played) -> bool:
    return one.sounds_at(other.at) or other.sounds_at(one.at)


def _nowhere(
    note: Played,
    beside: list[Played],
    arrangement: Arrangement,
    limits: tuple[LevelContract, dict[str, float]],
) -> Iterator[Remark]:
    """A pitch that is on no string within the contract's frets, or only on strings that are taken
    or farther than the hand spans from what sounds with it (`beside`)."""
    contract, spans = limits
    instrument = arrangement.instrument
    if note.note.harmonic is not None:
        return
    found = instrument.places(note.note.pitch.midi, contract.highest_fret)
    if not found:
        yield _remark("L25", "E", f"{note.note.pitch} is on no string within reach.", note)
    elif all(
        any(
            place.string == other.string
            or (place.fret and other.fret
                and abs(instrument.fret_mm(place.fret) - instrument.fret_mm(other.fret))
                > spans["14"])
            for other in beside
        )
        for place in found
    ):  # fmt: skip
        text = f"{note.note.pitch} cannot be reached with what sounds beside it."
        yield _remark("L25", "E", text, note, *beside)


def _stretch(
    first: Played, second: Played, arrangement: Arrangement, spans: dict[str, float]
) -> Iterator[Remark]:
    """Two fingers farther apart along the strings than the hand spans."""
    low, high = sorted((first, second), key=lambda n: n.finger)
    if low.finger and low.finger < high.finger and low.fret and high.fret:
        instrument = arrangement.instrument
        mm = instrument.fret_mm(high.fret) - instrument.fret_mm(low.fret)
        limit = spans[f"{low.finger}{high.finger}"]
        if mm > limit:
            text = f"Fingers {low.finger} and {high.finger} {mm:.0f} mm apart; {limit:.0f} go."
            yield _remark("L6", "E", text, first, second)


def _hindering(note: Played, notes: list[Played]) -> list[Played]:
    """What a note high on string 1 is not well reached from: the notes that are pressed at the
    onset before. None after a rest, or where its finger lies on string 1 (and may have stayed
    there since it played last)."""
    before = [n for n in notes if n.at < note.at]
    if not before or max(n.end for n in before) < note.at[0]:
        return []
    last = max(n.at for n in before)
    down = [n for n in before if n.fret and n.sounds_at(last)]
    mine = [n for n in before if n.finger and n.finger == note.finger]
    guided = any(n.string == 1 and n.sounds_at(last) for n in mine) or (
        bool(mine) and max(mine, key=lambda n: n.at).string == 1
    )
    return [] if guided else down


def _overlapping(notes: list[Played]) -> Iterator[tuple[Played, Played]]:
    """Pairs of notes that sound together, the earlier first."""
    ringing: list[Played] = []
    for note in notes:
        ringing = [n for n in ringing if n.sounds_at(note.at)]
        yield from ((other, note) for other in ringing)
        ringing.append(note)


def _pair(first: Played, second: Played, signs: Iterable[BarreSign]) -> Iterator[Remark]:
    together = first.at == second.at
    if first.string == second.string:
        if together and first.note.pitch.midi != second.note.pitch.midi:
            yield _remark("L2", "E", f"Two notes on string {first.string}.", first, second)
        elif not together:
            text = f"{first.note.pitch} is cut short: its string is struck again."
            yield _remark("L16", "E", text, first, second)
        return
    if first.finger and first.finger == second.finger and first.fret and second.fret:
        yield from _one_finger(first, second, signs)
    low, high = sorted((first, second), key=lambda n: n.finger)
    if low.finger and low.finger < high.finger and low.fret and high.fret:
        if low.fret > high.fret:
            text = f"Finger {low.finger} stands above finger {high.finger}."
            yield _remark("L5", "E", text, first, second)
        elif low.fret == high.fret and low.string < high.string:
            text = f"Finger {low.finger} belongs on the bass side of finger {high.finger}."
            yield _remark("L5", "W", text, first, second)


def _one_finger(first: Played, second: Played, signs: Iterable[BarreSign]) -> Iterator[Remark]:
    finger = first.finger
    if first.fret != second.fret:
        rule = "L3" if first.at == second.at else "L15"
        text = f"Finger {finger} would be at frets {first.fret} and {second.fret}."
        if rule == "L15":
            text = f"Finger {finger} still holds {first.note.pitch}."
        yield _remark(rule, "E", text, first, second)
    elif finger != 1 or not any(
        s.fret == first.fret and s.covers(second) and s.thin <= first.string <= s.thick
        for s in signs
    ):  # the earlier note may have been one finger's, before it lay down
        text = f"Finger {finger} on strings {first.string} and {second.string} without a barre."
        yield _remark("L4", "E", text, first, second)


def _too_many(every: list[Played], contract: LevelContract) -> Iterator[Remark]:
    """More notes sounding at once than the level allows: at the onset at which there come to be.

    Voices that strike one pitch together are one note.
    """
    sounding: list[Played] = []
    most = contract.most_notes
    for at, struck in groupby(every, key=lambda n: n.at):
        sounding = [n for n in sounding if n.sounds_at(at)] + list(struck)
        if len({n.note.pitch.midi for n in sounding}) > most:
            text = f"{len(sounding)} notes at once; the level allows {most}."
            yield _remark("level", "E", text, *sounding)


def _barres(
    notes: list[Played], signs: tuple[BarreSign, ...], contract: LevelContract
) -> Iterator[Remark]:
    """Barres as they are held, moment by moment: each is remarked on once."""
    told: set[tuple[str, int, int]] = set()
    by_onset: dict[tuple[int, int], list[Played]] = defaultdict(list)
    for note in notes:
        by_onset[note.at].append(note)
    sounding: list[Played] = []
    for at, struck in sorted(by_onset.items()):
        sounding = [n for n in sounding if n.sounds_at(at)] + struck
        first = [n for n in sounding if n.finger == 1 and n.fret]
        signed = [s for s in signs if s.first <= at[0] <= s.last]
        for remark in (*_held(first, sounding, contract), *_signed(signed, sounding)):
            key = (remark.rule, remark.measure, min(remark.notes))
            if key not in told:
                told.add(key)
                yield remark


def _held(first: list[Played], sounding: list[Played], contract: LevelContract) -> Iterator[Remark]:
    strings = [n.string for n in first]
    if len({n.fret for n in first}) == 1 and len(set(strings)) > 1:
        wide = max(strings) - min(strings) + 1
        if contract.level == 1:
            text = f"A barre over {wide} strings at level 1."
            yield _remark("L20", "W" if wide == 2 else "E", text, *first)
        elif (
            wide >= 5 and min(n.end for n in first) - max(n.at[0] for n in first) > LONG_BARRE_TICKS
        ):
            yield _remark("L20", "E", f"A barre over {wide} strings for long.", *first)
        for note in sounding:
            if note.fret == 0 and note.note.harmonic is None and note.string < max(strings):
                text = f"The barre covers string {note.string}, which must ring open."
                yield _remark("L21", "E", text, note, *first)
    for one, other in combinations(sounding, 2):
        if one.finger and one.finger == other.finger and one.fret == other.fret:
            thin = min(one.string, other.string)
            for note in sounding:
                if note.fret == 0 and note.string == thin - 1:
                    text = f"Finger {one.finger} lies flat beside string {note.string}."
                    yield _remark("L22", "W", text, note, one, other)


def _signed(signs: list[BarreSign], sounding: list[Played]) -> Iterator[Remark]:
    for sign in signs:
        for note in sounding:
            if note.fret == 0 and note.note.harmonic is None and sign.covers(note):
                text = f"The barre covers string {note.string}, which must ring open."
                yield _remark("L21", "E", text, note)
