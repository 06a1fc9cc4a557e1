"""What is played when, in ticks: the chosen measures in a row, ties joined, graces placed.

Ticks count from the first click or note; the tempo map turns them into seconds. Fermatas and
caesuras are stretches of slower time, so that written time never changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from core.model import (
    TICKS_PER_QUARTER,
    Arpeggio,
    Arrangement,
    Articulation,
    Breath,
    Event,
    Fermata,
    Lesson,
    Measure,
    Note,
    walk,
)
from core.model.roadmap import Occurrence, heard_version
from core.sound.dynamics import velocities
from core.sound.plan import Plan, chosen
from core.sound.tempo import Pace, TempoMap, tempo_map, written_paces

# House defaults. A slashed grace is a thirty-second before the beat; a plain one takes up to half
# of its main note, on the beat.
GRACE_TICKS = TICKS_PER_QUARTER // 8
LONG_BEAT_SECONDS = Fraction(9, 10)  # longer beats get clicks between (Parncutt: near 700 ms)
_CUTS = {"staccato": Fraction(1, 2), "staccatissimo": Fraction(1, 4)}
_BREATH_CUT = Fraction(4, 5)


class Heard(Struct, frozen=True):
    """A measure as it is heard: its first tick, its occurrence, the pass of the loop (from 1)."""

    start: int
    occurrence: Occurrence
    turn: int


class PlayedNote(Struct, frozen=True):
    """A note from stroke to written end, in ticks, ties joined. `sounding` is the part of its
    length that sounds (staccato 1/2)."""

    start: int
    end: int
    voice: int
    note: Note
    velocity: int
    sounding: Fraction = Fraction(1)
    slurred: bool = False
    let_ring: bool = False
    damps: bool = False
    broken: Arpeggio | None = None
    grace: bool = False


class ClickBeat(Struct, frozen=True):
    """A click at a tick: rank 0 is the first beat of a measure, 1 a beat, 2 between beats."""

    tick: int
    rank: int


class Performance(Struct, frozen=True):
    """The chosen music in ticks. `music_start` is where the first pass begins after its count-in;
    `silences` are the ticks at which sounding strings are damped; `end` is where the last
    measure ends."""

    heard: tuple[Heard, ...]
    notes: tuple[PlayedNote, ...]
    clicks: tuple[ClickBeat, ...]
    silences: tuple[int, ...]
    tempo: TempoMap
    music_start: int
    end: int


def perform(lesson: Lesson, plan: Plan) -> Performance:
    """Lay out what a plan lets hear. Raises BadInput when the plan fits nothing."""
    occurrences = chosen(lesson.arrangement, plan)
    stage = _Stage(lesson.arrangement, plan, occurrences)
    for turn in range(1, plan.passes + 1):
        stage.count_in(turn)
        for position, occurrence in enumerate(occurrences):
            stage.measure(turn, position, occurrence)
        stage.close_pass()
    return stage.performance()


class _Stage:
    """Collects one performance; lives for one call of `perform`."""

    def __init__(
        self, arrangement: Arrangement, plan: Plan, occurrences: tuple[Occurrence, ...]
    ) -> None:
        self.plan = plan
        self.factor = Fraction(plan.speed(arrangement)).limit_denominator(10**6)
        self.paces = written_paces(arrangement, plan.slows)
        self.velocities = velocities(arrangement)
        self.slurred, self.ringing = _spanned(arrangement)
        self.first = occurrences[0]
        self.last_heard = {o.measure.id: n for n, o in enumerate(occurrences)}
        self.now = 0
        self.music_start = 0
        self.heard: list[Heard] = []
        self.steps: list[tuple[int, Fraction]] = []
        self.clicks: list[ClickBeat] = []
        self.silences: list[int] = []
        self.ties = _Ties()

    def count_in(self, turn: int) -> None:
        """Click the count-in: whole measures and what comes before a pickup."""
        measure = self.first.measure
        count = self.plan.count_in if turn == 1 or self.plan.count_in_each_pass else 0
        if count:
            speed = self.paces[measure.id][0].speed * self.factor
            self.steps.append((self.now, speed))
            length = measure.metre.ticks
            pickup = 0 if measure.counted else max(0, length - measure.ticks)
            for _ in range(count):
                self.clicks += _clicks(measure, self.now, 0, length, speed)
                self.now += length
            self.clicks += _clicks(measure, self.now, 0, pickup, speed)
            self.now += pickup
        if turn == 1:
            self.music_start = self.now

    def measure(self, turn: int, position: int, occurrence: Occurrence) -> None:
        """Add one measure at the present tick."""
        measure = heard_version(occurrence)
        last_time = turn == self.plan.passes and self.last_heard[measure.id] == position
        paces = [Pace(p.at, p.speed * self.factor) for p in self.paces[measure.id]]
        if self.plan.waits:
            for start, end, ratio in _holds(measure, last_time):
                paces = _slowed(paces, start, end, ratio)
        inside = [p for p in paces if p.at < measure.length_ticks]
        self.steps += [(self.now + p.at, p.speed) for p in inside]
        if self.plan.click:
            skipped = 0 if measure.counted else max(0, measure.metre.ticks - measure.ticks)
            stop = skipped + measure.length_ticks
            self.clicks += _clicks(measure, self.now - skipped, skipped, stop, paces[0].speed)
        self.heard.append(Heard(self.now, occurrence, turn))
        for voice, row in enumerate(measure.voices):
            self._voice(voice, row)
        self.silences += [self.now + tick for tick in _general_rests(measure)]
        self.now += measure.length_ticks

    def close_pass(self) -> None:
        """No tie reaches over the seam of a loop."""
        self.ties.cut_all()

    def _voice(self, voice: int, row: Sequence[Event]) -> None:
        onset = self.now
        graces: list[Event] = []
        for event in row:
            if event.grace is not None:
                graces.append(event)
                continue
            delay = self._graces(voice, graces, onset, event.ticks // 2)
            self._event(voice, event, onset + delay, onset + event.ticks)
            graces = []
            onset += event.ticks
        self._graces(voice, graces, onset, 0)

    def _graces(self, voice: int, graces: list[Event], onset: int, most: int) -> int:
        """Place the graces before an onset; how many ticks they take from the main note."""
        if not graces:
            return 0
        on_beat = not all(e.grace is not None and e.grace.slashed for e in graces)
        lengths = [e.value.ticks if on_beat else min(e.value.ticks, GRACE_TICKS) for e in graces]
        before = onset - sum(lengths)
        if (on_beat or before < self.music_start) and most:
            lengths = _fitted(lengths, most)
            start, delay = onset, sum(lengths)
        else:
            start, delay = max(before, 0), 0
        for event, length in zip(graces, lengths, strict=True):
            self._event(voice, event, start, start + length)
            start += length
        return delay

    def _event(self, voice: int, event: Event, start: int, end: int) -> None:
        kinds = {m.kind for m in event.marks if isinstance(m, Articulation)}
        broken = next((m for m in event.marks if isinstance(m, Arpeggio)), None)
        sounding = min([Fraction(1), *(_CUTS[kind] for kind in kinds & _CUTS.keys())])
        if any(isinstance(mark, Breath) for mark in event.marks):
            sounding = min(sounding, _BREATH_CUT)
        if "damp" in kinds:
            self.silences.append(start if event.is_rest else end)
        fresh = [
            PlayedNote(
                start, end, voice, note, self.velocities[event.id], sounding,
                slurred=note.id in self.slurred,
                let_ring=note.let_ring or note.id in self.ringing,
                damps="damp" in kinds, broken=broken, grace=event.grace is not None,
            )
            for note in event.notes
        ]  # fmt: skip
        self.ties.add(voice, fresh)

    def performance(self) -> Performance:
        order = sorted(self.ties.notes(), key=lambda n: (n.start, n.voice, n.note.pitch.midi))
        return Performance(
            tuple(self.heard),
            tuple(order),
            tuple(self.clicks),
            tuple(sorted(set(self.silences))),
            tempo_map(self.steps),
            self.music_start,
            self.now,
        )


class _Ties:
    """Joins tied notes: a tied note goes on where the next event of its voice has its pitch."""

    def __init__(self) -> None:
        self._rows: list[list[PlayedNote]] = []
        self._open: dict[int, dict[int, list[PlayedNote]]] = {}

    def add(self, voice: int, fresh: list[PlayedNote]) -> None:
        before = self._open.get(voice, {})
        after: dict[int, list[PlayedNote]] = {}
        for played in fresh:
            midi = played.note.pitch.midi
            row = before.get(midi)
            if row is None:
                row = []
                self._rows.append(row)
            row.append(played)
            if played.note.tied:
                after[midi] = row
        self._open[voice] = after

    def cut_all(self) -> None:
        self._open.clear()

    def notes(self) -> Iterator[PlayedNote]:
        for row in self._rows:
            first, last = row[0], row[-1]
            yield PlayedNote(
                first.start, last.end, first.voice, first.note, first.velocity, last.sounding,
                slurred=first.slurred, let_ring=any(p.let_ring for p in row), damps=last.damps,
                broken=first.broken, grace=first.grace,
            )  # fmt: skip


def _fitted(lengths: list[int], most: int) -> list[int]:
    total = sum(lengths)
    return lengths if total <= most else [length * most // total for length in lengths]


def _spanned(arrangement: Arrangement) -> tuple[frozenset[int], frozenset[int]]:
    """Ids of the notes reached by hammer-on, pull-off or slide, and of those that let ring."""
    slurred = {
        span.end for span in arrangement.spans if span.kind in ("hammer-on", "pull-off", "slide")
    }
    ringing: set[int] = set()
    for span in arrangement.spans:
        if span.kind == "let ring":
            ringing |= _between(arrangement, span.start, span.end)
    return frozenset(slurred), frozenset(ringing)


def _between(arrangement: Arrangement, start: int, end: int) -> set[int]:
    """Ids of the notes from one event (or note) to another in the same voice."""
    found: set[int] = set()
    inside = False
    voice = -1
    for measure in walk.measures(arrangement):
        for located in walk.events(measure):
            ids = {located.event.id, *(note.id for note in located.event.notes)}
            if start in ids:
                inside, voice = True, located.voice
            if inside and located.voice == voice:
                found |= ids
                if end in ids:
                    return found
    return found


def _general_rests(measure: Measure) -> Iterator[int]:
    """Ticks of visible rests at which nothing is written to sound."""
    rows = [located for located in walk.events(measure) if located.event.ticks]
    for rest in rows:
        if rest.event.is_rest and not rest.event.hidden:
            held = any(
                not other.event.is_rest
                and other.onset <= rest.onset < other.onset + other.event.ticks
                for other in rows
            )
            if not held:
                yield rest.onset


def _holds(measure: Measure, last_time: bool) -> Iterator[tuple[int, int, Fraction]]:
    """(start, end, factor of speed) of the pauses of a measure.

    What is written under a fermata is played in time; the last of it waits, so long that the
    event takes `hold_percent` of its time. A caesura waits half a beat.
    """
    rows = list(walk.events(measure))
    extra: dict[int, tuple[int, Fraction]] = {}
    for located in rows:
        end = located.onset + located.event.ticks
        wait = _wait(located.event, measure, last_time)
        if not wait or not located.event.ticks:
            continue
        inner = [o.onset for o in rows if located.onset <= o.onset < end and o.event.notes]
        start = max([located.onset, *inner])
        known = extra.get(end, (start, Fraction(0)))
        extra[end] = (max(start, known[0]), max(wait, known[1]))
    for end, (start, wait) in sorted(extra.items()):
        yield start, end, Fraction(end - start) / max(Fraction(end - start, 10), end - start + wait)


def _wait(event: Event, measure: Measure, last_time: bool) -> Fraction:
    wait = Fraction(0)
    for mark in event.marks:
        if isinstance(mark, Fermata) and (last_time or not mark.last_time_only):
            wait += Fraction(event.ticks * (mark.hold_percent - 100), 100)
        elif isinstance(mark, Breath) and mark.kind == "caesura":
            wait += Fraction(measure.metre.pulse_ticks[0], 2)
    return wait


def _slowed(paces: list[Pace], start: int, end: int, ratio: Fraction) -> list[Pace]:
    points = sorted({p.at for p in paces} | {start, end})
    found = []
    for at in points:
        speed = next(p.speed for p in reversed(paces) if p.at <= at)
        found.append(Pace(at, speed * ratio if start <= at < end else speed))
    return found


def _clicks(
    measure: Measure, origin: int, start: int, stop: int, speed: Fraction
) -> Iterator[ClickBeat]:
    """The clicks of a measure between two of its ticks; `origin` is where its tick 0 stands."""
    at = 0
    pulses = measure.metre.pulse_ticks
    while at < stop:
        for number, pulse in enumerate(pulses):
            parts = _parts(measure, pulse) if pulse / speed > LONG_BEAT_SECONDS else 1
            for part in range(parts):
                tick = at + pulse * part // parts
                if start <= tick < stop:
                    yield ClickBeat(origin + tick, 2 if part else min(number, 1))
            at += pulse


def _parts(measure: Measure, pulse: int) -> int:
    unit = 4 * TICKS_PER_QUARTER // measure.metre.unit
    return pulse // unit if pulse > unit else 2
