"""With a capo on, the staff shows what is fingered, as if there were no capo.

Common practice, no source: the capo line says "Capo 2", and the staff, its key signature and the
tab agree with the hand: a player reads an open string as an open string. So a written note sounds
an octave lower (the clef says so) and `capo` semitones higher (the capo line says so). The model
and every file keep what sounds; only the page and what is typed as a note's name are moved.

All pitches of a piece move by the same interval, spelled so that its keys have the fewest
accidentals. Where no one interval keeps every key within seven sharps or flats, a measure in a key
beyond that takes the enharmonic interval, and so do the notes held over from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache

from msgspec import Struct, structs

from core.model import (
    Arrangement,
    Event,
    Key,
    Lesson,
    Measure,
    OtherVersion,
    Pitch,
    Section,
    walk,
)
from core.model.pitch import SHARP_ORDER

MOST_FIFTHS = 7
_STEP_FIFTHS = {step: index - 1 for index, step in enumerate(SHARP_ORDER)}
_NATURAL = {step: Pitch(step, 0, 4).midi for step in SHARP_ORDER}
_WIDEST_ALTER = 2  # what would need a triple sharp or flat is spelled anew


class Shift(Struct, frozen=True):
    """From what sounds to what is fingered: down by `semitones`, by `fifths` on the line of
    fifths; in a key that would have too many accidentals, by twelve fifths more or fewer."""

    semitones: int = 0
    fifths: int = 0

    def key(self, key: Key) -> Key:
        """The key as fingered."""
        return _moved_key(key, self.in_key(key))

    def pitch(self, pitch: Pitch, key: Key) -> Pitch:
        """A sounding pitch as fingered, in a measure of that sounding key."""
        return _moved(pitch, -self.semitones, self.in_key(key), self.key(key))

    def sounding(self, pitch: Pitch, key: Key) -> Pitch:
        """A fingered pitch as it sounds, in a measure of that sounding key."""
        return _moved(pitch, self.semitones, -self.in_key(key), key)

    def measure(self, measure: Measure) -> Measure:
        """A measure as it is fingered, seen alone."""
        return fingered_measure(measure, self, {}) if self.semitones else measure

    def in_key(self, key: Key) -> int:
        """The interval in fifths for a measure in that key."""
        return self.fifths + _back_in(key.fifths + self.fifths)


def _back_in(fifths: int) -> int:
    """What brings a signature back within seven sharps or flats: 0, 12 or -12."""
    return 0 if abs(fifths) <= MOST_FIFTHS else (-12 if fifths > 0 else 12)


def shift_for(capo: int, keys: Iterable[Key]) -> Shift:
    """The interval for a piece with these keys."""
    if not capo:
        return Shift()
    signatures = {key.fifths for key in keys} or {0}
    least = -(7 * capo) % 12  # a semitone is seven fifths, octaves left aside

    def price(fifths: int) -> tuple[int, int, int]:
        moved = [abs(s + fifths) for s in signatures]
        return sum(m > MOST_FIFTHS for m in moved), sum(moved), -fifths

    return Shift(capo, min((least - 24, least - 12, least, least + 12), key=price))


def shift_of(arrangement: Arrangement) -> Shift:
    """The interval of an arrangement: none without a capo."""
    capo = arrangement.instrument.capo
    if not capo:
        return Shift()
    return shift_for(capo, (m.key for m in walk.measures(arrangement)))


@lru_cache(maxsize=512)
def _moved_key(key: Key, fifths: int) -> Key:
    return Key(key.fifths + fifths, key.mode)


@lru_cache(maxsize=4096)
def _moved(pitch: Pitch, semitones: int, fifths: int, key: Key) -> Pitch:
    """The pitch moved by an interval, its spelling too; `key` spells what that cannot."""
    if not semitones and not fifths:
        return pitch
    at = _STEP_FIFTHS[pitch.step] + 7 * pitch.alter + fifths
    alter, index = divmod(at + 1, 7)
    midi = pitch.midi + semitones
    if abs(alter) > _WIDEST_ALTER:
        return Pitch.from_midi(midi, key)
    step = SHARP_ORDER[index]
    return Pitch(step, alter, 4 + (midi - alter - _NATURAL[step]) // 12)


class Kept:
    """Fingered sections and measures that an owner keeps between layouts.

    An entry is used only for the very same section or measure, so unchanged ones stay identical.
    """

    def __init__(self) -> None:
        self._shift = Shift()
        self._sections: dict[int, tuple[Section, dict[Pitch, Pitch], Section]] = {}
        self._measures: dict[int, tuple[Measure, dict[Pitch, Pitch], Measure]] = {}

    def lesson(self, lesson: Lesson) -> Lesson:
        """The lesson as it is fingered; the same lesson where there is no capo."""
        arrangement = lesson.arrangement
        shift = shift_of(arrangement)
        if shift != self._shift:
            self._sections.clear()
            self._measures.clear()
            self._shift = shift
        if not shift.semitones:
            return lesson
        held: dict[Pitch, Pitch] = {}
        made: list[Section] = []
        for section in arrangement.sections:
            made.append(self._section(section, held))
            if section.measures:
                held = _tied_out(section.measures[-1], made[-1].measures[-1])
        return structs.replace(
            lesson, arrangement=structs.replace(arrangement, sections=tuple(made))
        )

    def _section(self, section: Section, held: dict[Pitch, Pitch]) -> Section:
        kept = self._sections.get(section.id)
        if kept is not None and kept[0] is section and kept[1] == held:
            return kept[2]
        measures: list[Measure] = []
        before = held
        for measure in section.measures:
            measures.append(self._measure(measure, before))
            before = _tied_out(measure, measures[-1])
        made = structs.replace(section, measures=tuple(measures))
        self._sections[section.id] = (section, held, made)
        return made

    def _measure(self, measure: Measure, held: dict[Pitch, Pitch]) -> Measure:
        """`held` are the pitches tied into the measure and how they were spelled."""
        shift, key = self._shift, measure.key
        other = {p: w for p, w in held.items() if shift.pitch(p, key) != w}
        kept = self._measures.get(measure.id)
        if kept is not None and kept[0] is measure and kept[1] == other:
            return kept[2]
        made = fingered_measure(measure, shift, other)
        self._measures[measure.id] = (measure, other, made)
        return made


def _tied_out(measure: Measure, made: Measure) -> dict[Pitch, Pitch]:
    """The pitches tied over the end of a measure and how they are spelled."""
    return {
        note.pitch: shown.pitch
        for events, fingered in zip(measure.voices, made.voices, strict=True)
        if events
        for note, shown in zip(events[-1].notes, fingered[-1].notes, strict=True)
        if note.tied
    }


def fingered_measure(measure: Measure, shift: Shift, held: dict[Pitch, Pitch]) -> Measure:
    """A measure as it is fingered; notes held over keep the spelling they began with."""
    key = measure.key

    def rows(voices: tuple[tuple[Event, ...], ...], tied: dict[Pitch, Pitch]) -> Rows:
        return tuple(tuple(_fingered(events, shift, key, tied)) for events in voices)

    others = tuple(OtherVersion(other.purpose, rows(other.voices, {})) for other in measure.others)
    return structs.replace(
        measure, key=shift.key(key), voices=rows(measure.voices, held), others=others
    )


Rows = tuple[tuple[Event, ...], ...]


def _fingered(
    events: tuple[Event, ...], shift: Shift, key: Key, tied: dict[Pitch, Pitch]
) -> Iterator[Event]:
    for event in events:
        notes = tuple(
            structs.replace(n, pitch=tied.get(n.pitch) or shift.pitch(n.pitch, key))
            for n in event.notes
        )
        if event.grace is None:
            pairs = zip(event.notes, notes, strict=True)
            tied = {n.pitch: shown.pitch for n, shown in pairs if n.tied}
        yield structs.replace(event, notes=notes) if notes else event
