"""From an arrangement to a passage: what the left hand must do, and what is pinned."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import accumulate, pairwise
from typing import Literal

from msgspec import Struct, structs

from core.hand.passage import THUMB, Menu, Onset, Passage, Spot, Tone
from core.hand.sounding import Heard, Moment, by_moment
from core.hand.strokes import Limits, Stroke, choices, merged, with_true_ends
from core.model import (
    TICKS_PER_QUARTER,
    Arrangement,
    Barre,
    Finger,
    Note,
    Place,
    PositionMark,
    Span,
    walk,
)

KEEP_QUARTERS = 4
MOST_KEPT = 2
"""A finger may stay down for a note that comes back within so many quarters; so many notes at a
time are considered for it, those that come back first."""

Keep = Literal["", "places", "fingers", "all"]
"""What is kept beside what is firm: nothing, the places, the fingers, or both."""


class Terms(Struct, frozen=True):
    """How a passage is asked for. `window`: only notes of these measures are free; the others
    count as they are. `fingers` is how many fingers there are, `most_notes` how many notes may
    sound at once, beside those that somebody placed."""

    limits: Limits
    fingers: int = 4
    keep: Keep = ""
    window: frozenset[int] | None = None
    most_notes: int | None = None


class WrittenBarre(Struct, frozen=True):
    """A barre in the lesson: from one tick through another, its fret and the strings it covers.
    One that was `suggested` binds nobody."""

    first: int
    last: int
    fret: int
    thin: int
    thick: int
    suggested: bool = False


class Pins(Struct, frozen=True):
    """Positions (fret of finger 1) by tick, and barres."""

    positions: Mapping[int, int] = {}
    barres: tuple[WrittenBarre, ...] = ()

    def barre_at(self, tick: int) -> WrittenBarre | None:
        """The barre that somebody set there."""
        return next((b for b in self._all_at(tick) if not b.suggested), None)

    def any_barre_at(self, tick: int) -> bool:
        """Whether there is a barre, set or suggested."""
        return next(self._all_at(tick), None) is not None

    def _all_at(self, tick: int) -> Iterator[WrittenBarre]:
        return (b for b in self.barres if b.first <= tick <= b.last)


class Task(Struct, frozen=True):
    """A passage, the strokes its tones came from and how it was asked for; `free[i]`: is an answer
    wanted for tone i."""

    passage: Passage
    strokes: tuple[Stroke, ...]
    moments: tuple[Moment, ...]
    free: tuple[bool, ...]
    terms: Terms
    pinned: Pins = Pins()


def pins(arrangement: Arrangement) -> Pins:
    """What position numerals and barre marks ask for."""
    positions: dict[int, int] = {}
    ticks: dict[int, int] = {}
    start = 0
    for measure in walk.measures(arrangement):
        for mark in measure.marks:
            if isinstance(mark, PositionMark):
                positions[start + mark.at.ticks] = mark.fret
        for located in walk.events(measure):
            ticks[located.event.id] = start + located.onset
            ticks.update((note.id, start + located.onset) for note in located.event.notes)
        start += measure.length_ticks
    strings = len(arrangement.instrument.strings)
    barres = tuple(
        _written(span, span.barre, (ticks[span.start], ticks[span.end]), strings)
        for span in arrangement.spans
        if span.barre is not None and span.start in ticks and span.end in ticks
    )
    return Pins(positions, barres)


def _written(span: Span, barre: Barre, ends: tuple[int, int], strings: int) -> WrittenBarre:
    thick = min(barre.strings, strings) if barre.lowest is None else barre.lowest
    thin = 1 if barre.lowest is None else max(1, thick - barre.strings + 1)
    return WrittenBarre(*ends, barre.fret, thin, thick, span.suggested)


def task(sounds: Sequence[Heard], terms: Terms, pinned: Pins | None = None) -> Task:
    """The passage of what is heard."""
    pinned = pinned or Pins()
    rows = []
    for row in by_moment(list(sounds)).values():
        strokes = merged([_stroke(sound, terms) for sound in row if _counts(sound, terms)])
        if strokes:
            rows.append(strokes)
    rows = with_true_ends(rows)
    moments = tuple(row[0].start for row in rows)
    flat = [(stroke, number) for number, row in enumerate(rows) for stroke in row]
    returns = _returns(flat, moments)
    tones = tuple(
        Tone(menu(s, terms), n, _last(s, n, moments), returns[i]) for i, (s, n) in enumerate(flat)
    )
    tones = tuple(
        structs.replace(tone, menu=barred(tone.menu, pinned.barre_at(stroke.start[0])))
        for tone, (stroke, _) in zip(tones, flat, strict=True)
    )
    ticks = [moment[0] for moment in moments]
    gaps = [(b - a) / TICKS_PER_QUARTER for a, b in pairwise([*ticks[:1], *ticks])]
    every = tuple(stroke for stroke, _ in flat)
    free = tuple(_wanted(stroke, terms.window) for stroke in every)
    asked = {number for wanted, (_, number) in zip(free, flat, strict=True) if wanted}
    stays = terms.keep in ("fingers", "all")
    last = terms.limits.last_fret
    high = {n for s, n in flat if s.choices and all(place.fret > last for place in s.choices)}
    ends = list(accumulate((max(s.end for s in row) for row in rows), max, initial=-1))
    most = _most(tones, every, len(moments), terms)
    onsets = tuple(
        Onset(gap, pinned.positions.get(tick), pinned.barre_at(tick) is not None
              or (pinned.any_barre_at(tick) and (stays or number not in asked)), most[number],
              ends[number] < tick, ends[number] >= tick and number in high)
        for number, (gap, tick) in enumerate(zip(gaps, ticks, strict=True))
    )  # fmt: skip
    return Task(Passage(onsets, tones), every, moments, free, terms, pinned)


def _most(
    tones: Sequence[Tone], every: Sequence[Stroke], onsets: int, terms: Terms
) -> list[int | None]:
    """How many notes may sound at each onset: what somebody placed may always."""
    if terms.most_notes is None:
        return [None] * onsets
    placed = [0] * onsets
    for tone, stroke in zip(tones, every, strict=True):
        if stroke.firm is not None:
            for number in range(tone.first, tone.last + 1):
                placed[number] += 1
    return [max(terms.most_notes, n) for n in placed]


def barred(spots: Menu, barre: WrittenBarre | None) -> Menu:
    """What a written barre leaves of a menu: its notes belong to finger 1, and only they do."""
    if barre is None:
        return spots
    return tuple(
        spot for spot in spots
        if (spot.string > barre.thick or spot.string < barre.thin or spot.fret >= barre.fret)
        and (spot.finger == 1) == (
            spot.fret == barre.fret and barre.thin <= spot.string <= barre.thick
        )
    )  # fmt: skip


def _wanted(stroke: Stroke, window: Collection[int] | None) -> bool:
    return window is None or any(m in window for s in stroke.sounds for m in s.measures)


def _counts(sound: Heard, terms: Terms) -> bool:
    """Outside the window only what has a place counts."""
    if terms.window is None or any(m in terms.window for m in sound.measures):
        return True
    return any(note.place is not None for note in sound.notes)


def _stroke(sound: Heard, terms: Terms) -> Stroke:
    outside = terms.window is not None and not any(m in terms.window for m in sound.measures)
    kept = outside or terms.keep in ("places", "all")
    place = next(
        (n.place.value for n in sound.notes if n.place is not None and (kept or n.place.firm)),
        None,
    )
    found = (place,) if place is not None else choices(sound.first, terms.limits)
    return Stroke((sound,), sound.end, found, place)


def menu(stroke: Stroke, terms: Terms, *, free: bool = False) -> Menu:
    """Every string, fret and finger of a stroke, pins respected (`free`: but for the finger's)."""
    wanted = None if free else given_finger(stroke, terms)
    spots: list[Spot] = []
    for place in stroke.choices:
        for finger in _fingers(place, stroke.sounds[0].first, terms.fingers):
            if wanted is None or finger == wanted:
                spots.append(Spot(place.string, place.fret, finger))
        if wanted == THUMB and place.fret:
            spots.append(Spot(place.string, place.fret, THUMB))
    return tuple(spots)


def _fingers(place: Place, note: Note, fingers: int) -> Sequence[int]:
    """An open string needs none; neither does a natural harmonic, which is only touched."""
    if place.fret == 0:
        return (0,)
    return range(1, fingers + 1)


def given_finger(stroke: Stroke, terms: Terms) -> int | None:
    """The finger that is set for a stroke, or kept."""
    outside = terms.window is not None and not _wanted(stroke, terms.window)
    kept = outside or terms.keep in ("fingers", "all")
    for sound in stroke.sounds:
        for note in sound.notes:
            if note.finger is not None and (kept or note.finger.firm):
                return THUMB if note.finger.value is Finger.THUMB else int(note.finger.value)
    return None


def _last(stroke: Stroke, number: int, moments: tuple[Moment, ...]) -> int:
    """The last onset at which a stroke still rings."""
    last = number
    while last + 1 < len(moments) and moments[last + 1][0] < stroke.end:
        last += 1
    return last


def _returns(flat: list[tuple[Stroke, int]], moments: tuple[Moment, ...]) -> list[int]:
    """For every stroke, the last onset to which its finger may stay down: -1 where its pitch does
    not come back soon, or where others come back before."""
    following: dict[int, int] = {}
    spans: list[tuple[int, int, int]] = []
    for index in range(len(flat) - 1, -1, -1):
        stroke, number = flat[index]
        back = following.get(stroke.midi)
        if back is not None and stroke.choices:
            rest = moments[back][0] - stroke.end
            last = _last(stroke, number, moments)
            if rest <= KEEP_QUARTERS * TICKS_PER_QUARTER and back - 1 > last:
                spans.append((back, index, last))
        following[stroke.midi] = number
    kept = [0] * len(moments)
    found = [-1] * len(flat)
    for back, index, last in sorted(spans):
        if all(kept[n] < MOST_KEPT for n in range(last + 1, back)):
            found[index] = back - 1
            for n in range(last + 1, back):
                kept[n] += 1
    return found
