"""What the left hand must do: strokes with the places that are possible for each."""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct, structs

from core.hand.reach import span_mm
from core.hand.sounding import Heard, Moment, by_moment
from core.model import Instrument, Note, Place
from core.model.notes import HARMONIC_SEMITONES


class Stroke(Struct, frozen=True):
    """Notes that one string must sound together: usually one, two where voices share a pitch.

    `end` is in ticks; a later stroke of the same pitch ends it. `firm` is a place somebody set.
    """

    sounds: tuple[Heard, ...]
    end: int
    choices: tuple[Place, ...]
    firm: Place | None = None

    @property
    def start(self) -> Moment:
        return self.sounds[0].start

    @property
    def midi(self) -> int:
        return self.sounds[0].first.pitch.midi


class Limits(Struct, frozen=True):
    """What the hand must stay within: frets counted from the capo (`high_fret` on string 1 alone),
    and millimetres."""

    instrument: Instrument
    highest_fret: int
    span_mm: float
    high_fret: int = 0

    @property
    def last_fret(self) -> int:
        """The highest fret that may be asked for and is there."""
        return min(self.highest_fret, self.instrument.highest_fret - self.instrument.capo)


def strokes(
    sounds: list[Heard], limits: Limits, measure_ids: Collection[int] | None = None
) -> list[list[Stroke]]:
    """The strokes of what is heard, those of one moment together.

    With `measure_ids`, places are sought there only: elsewhere notes count with the place they
    have, and those without one are passed over.
    """
    rows = [_grouped(row, limits, measure_ids) for row in by_moment(sounds).values()]
    rows = with_true_ends([row for row in rows if row])
    return [[_narrowed(stroke, rows, n, limits) for stroke in row] for n, row in enumerate(rows)]


def _grouped(
    sounds: list[Heard], limits: Limits, measure_ids: Collection[int] | None
) -> list[Stroke]:
    firm, free = [], []
    for sound in sounds:
        place = _given_place(sound, measure_ids)
        if place is not None:
            firm.append(Stroke((sound,), sound.end, (place,), place))
        elif measure_ids is None or sound.measures[0] in measure_ids:
            free.append(Stroke((sound,), sound.end, choices(sound.first, limits)))
    return merged([*firm, *free])


def merged(found: list[Stroke]) -> list[Stroke]:
    """Voices that strike the same pitch together share one string: one derived stroke."""
    rows: list[Stroke] = []
    for stroke in found:
        sound = stroke.sounds[0]
        for index, other in enumerate(rows):
            if _shares(other, stroke):
                sounds = (*other.sounds, sound)
                end = max(other.end, stroke.end)
                rows[index] = structs.replace(other, sounds=sounds, end=end)
                break
        else:
            rows.append(stroke)
    return rows


def _shares(other: Stroke, stroke: Stroke) -> bool:
    sound = stroke.sounds[0]
    return (
        other.midi == stroke.midi
        and other.sounds[0].first.harmonic == sound.first.harmonic
        and (stroke.firm is None or stroke.firm == other.firm)
        and all(mine.event != sound.event for mine in other.sounds)
    )


def _given_place(sound: Heard, measure_ids: Collection[int] | None) -> Place | None:
    for note, measure in zip(sound.notes, sound.measures, strict=True):
        if note.place is None:
            continue
        if note.place.firm or (measure_ids is not None and measure not in measure_ids):
            return note.place.value
    return None


def choices(note: Note, limits: Limits) -> tuple[Place, ...]:
    """Every place for a note up to the highest fret; a harmonic's place is what is stopped."""
    instrument = limits.instrument
    midi = note.pitch.midi
    if note.harmonic is None:
        found = instrument.places(midi, max(limits.last_fret, limits.high_fret))
        return tuple(p for p in found if p.fret <= limits.last_fret or p.string == 1)
    stopped = range(1) if note.harmonic.kind == "natural" else range(1, limits.last_fret + 1)
    return tuple(
        Place(string, fret)
        for string in range(1, len(instrument.strings) + 1)
        for fret in stopped
        if midi - instrument.open_midi(string) - fret
        == HARMONIC_SEMITONES.get(note.harmonic.touched_fret - fret)
    )


def with_true_ends(rows: list[list[Stroke]]) -> list[list[Stroke]]:
    """A pitch struck again ends its older sounding."""
    next_start: dict[int, int] = {}
    updated = []
    for row in reversed(rows):
        ends = {stroke.midi: next_start.get(stroke.midi, stroke.end) for stroke in row}
        updated.append([structs.replace(s, end=min(s.end, ends[s.midi])) for s in row])
        next_start.update((stroke.midi, stroke.start[0]) for stroke in row)
    return updated[::-1]


def _narrowed(stroke: Stroke, rows: list[list[Stroke]], index: int, limits: Limits) -> Stroke:
    """The stroke without the places that a firm place struck while it rings rules out."""
    if stroke.firm is not None or not stroke.choices:
        return stroke
    taken: list[Place] = []
    for row in rows[index + 1 :]:
        if row[0].start[0] >= stroke.end:
            break
        taken += [other.firm for other in row if other.firm is not None]
    if not taken:
        return stroke
    kept = tuple(place for place in stroke.choices if _fits(place, taken, limits))
    return structs.replace(stroke, choices=kept)


def _fits(place: Place, taken: list[Place], limits: Limits) -> bool:
    return all(
        place.string != other.string
        and span_mm(limits.instrument, (place.fret, other.fret)) <= limits.span_mm
        for other in taken
    )
