"""String-true strokes: who really rings, on which string, how long."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct

from core.model import Finger, Instrument, frequency
from core.sound.performance import Performance, PlayedNote
from core.sound.strings import Kind, NoteKey, layer_of, note_samples

# Fades in seconds (house defaults): a lifted finger, a restruck string, a damping hand.
LIFT_SECONDS = 0.030
CHOKE_SECONDS = 0.006
DAMP_SECONDS = 0.060
TAIL_SECONDS = 2.5  # how long strings may ring on after the last measure, the last fade included
LAST_FADE_SECONDS = 0.3
# A broken chord: seconds from string to string, bass on the beat; rolled with the nails, quicker.
SPREAD_SECONDS = 0.028
ROLL_SECONDS = 0.012

# Node touched, in frets from the stopped end -> number of the partial that sounds.
NODES = {12: 2, 7: 3, 19: 3, 5: 4, 24: 4, 4: 5, 9: 5, 16: 5, 3: 6}


class Stroke(Struct, frozen=True):
    """One sound of one string. It starts at sample `on`, begins to fade at `off`, is silent at
    `end`. `string` 0 is a note without a place. `note` is the id in the lesson."""

    on: int
    off: int
    end: int
    key: NoteKey
    gain: float
    string: int
    voice: int
    note: int
    midi: int


class _Struck(Struct):
    """A stroke in the making."""

    on: int
    off: int
    played: PlayedNote
    string: int
    rings: bool
    gain: float
    fade: float = LIFT_SECONDS


def strokes(
    performance: Performance,
    instrument: Instrument,
    gains: Sequence[float],
    sample: Callable[[int], int],
    rate: int,
) -> tuple[Stroke, ...]:
    """The strokes of the heard voices in order of onset.

    `gains` is one for each voice; `sample` turns ticks into samples at `rate` a second.
    """
    heard = [n for n in performance.notes if gains[n.voice] > 0]
    struck = _merged([_struck(n, gains[n.voice], sample) for n in heard])
    _spread(struck, rate)
    struck.sort(key=lambda s: (s.on, s.string, s.played.note.pitch.midi))
    _ring_on(struck, [sample(t) for t in performance.silences], sample(performance.end), rate)
    _lift_fingers(struck)
    _choke(struck, rate)
    return tuple(_stroke(s, instrument, rate) for s in struck if s.off > s.on)


def _struck(played: PlayedNote, gain: float, sample: Callable[[int], int]) -> _Struck:
    note = played.note
    place = note.place.value if note.place is not None else None
    length = int((played.end - played.start) * played.sounding)
    short = played.sounding < 1 or played.damps
    natural = note.harmonic is not None and note.harmonic.kind == "natural"
    free = place is not None and (place.fret == 0 or natural)
    return _Struck(
        sample(played.start),
        sample(played.start + length),
        played,
        0 if place is None else place.string,
        (free or (played.let_ring and place is not None)) and not short,
        gain,
    )


def _merged(struck: Sequence[_Struck]) -> list[_Struck]:
    """Two voices on one string at one onset are one stroke; so are two of one pitch unplaced.

    Of two different pitches on one string only the upper voice's can sound.
    """
    found: dict[tuple[int, int, int], _Struck] = {}
    for s in struck:
        key = (s.on, s.string, 0 if s.string else s.played.note.pitch.midi)
        first = found.setdefault(key, s)
        if first is not s and first.played.note.pitch.midi == s.played.note.pitch.midi:
            first.off = max(first.off, s.off)
            first.rings = first.rings or s.rings
            first.gain = max(first.gain, s.gain)
    return list(found.values())


def _spread(struck: Iterable[_Struck], rate: int) -> None:
    """Break the chords: each note later than the one before, at most a quarter of its length."""
    chords: dict[int, list[_Struck]] = {}
    for s in struck:
        if s.played.broken is not None:
            chords.setdefault(s.on, []).append(s)
    for chord in chords.values():
        mark = chord[0].played.broken
        assert mark is not None
        down = mark.direction == "down"
        chord.sort(key=lambda s: s.played.note.pitch.midi, reverse=down)
        step = round((ROLL_SECONDS if mark.roll else SPREAD_SECONDS) * rate)
        shortest = min(s.off - s.on for s in chord)
        step = min(step, shortest // (4 * max(1, len(chord) - 1)))
        for number, s in enumerate(chord):
            s.on += number * step


def _ring_on(struck: Iterable[_Struck], silences: list[int], end: int, rate: int) -> None:
    last = end + round((TAIL_SECONDS - LAST_FADE_SECONDS) * rate)
    for s in struck:
        if s.played.damps:
            s.fade = DAMP_SECONDS
        if not s.rings:
            continue
        index = bisect_left(silences, max(s.off, s.on + 1))
        s.off = silences[index] if index < len(silences) else last
        s.fade = DAMP_SECONDS if index < len(silences) else LAST_FADE_SECONDS


def _lift_fingers(struck: Sequence[_Struck]) -> None:
    """A fretted note ends where its finger is needed at another fret."""
    holding: dict[Finger, list[_Struck]] = {}
    for s in struck:
        place, finger = s.played.note.place, s.played.note.finger
        if place is None or finger is None or finger.value is Finger.OPEN or not place.value.fret:
            continue
        held = holding.setdefault(finger.value, [])
        for other in held:
            other_place = other.played.note.place
            assert other_place is not None
            moved = other_place.value.fret != place.value.fret
            if moved and other.on < s.on < other.off:
                other.off = s.on
        held[:] = [o for o in held if o.off > s.on] + [s]


def _choke(struck: Sequence[_Struck], rate: int) -> None:
    """A new stroke silences its string, the fade of a lifted finger included."""
    last: dict[int, _Struck] = {}
    for s in struck:
        if not s.string:
            continue
        before = last.get(s.string)
        if before is not None:
            before.off = min(before.off, s.on)
            before.fade = min(before.fade, (s.on - before.off) / rate + CHOKE_SECONDS)
        last[s.string] = s


def _stroke(s: _Struck, instrument: Instrument, rate: int) -> Stroke:
    note = s.played.note
    hz, midi = _sounding(s, instrument)
    place = note.place.value if note.place is not None else None
    kind: Kind = "slurred" if s.played.slurred else "plucked"
    if note.harmonic is not None:
        kind = "harmonic"
    key = NoteKey(hz, s.string, place.fret if place else 0, layer_of(s.played.velocity), kind)
    natural_end = s.on + note_samples(key, rate)
    off = min(s.off, natural_end)
    end = min(off + max(1, round(s.fade * rate)), natural_end)
    gain = s.gain * loudness(s.played.velocity)
    return Stroke(s.on, off, end, key, gain, s.string, s.played.voice, note.id, midi)


def loudness(velocity: int) -> float:
    """Amplitude of a velocity, 1 at 127: its square over 127 squared (the usual synthesizer
    curve, from memory: the DLS concave velocity curve, 40 log10(v / 127) dB)."""
    return (velocity / 127) ** 2


def _sounding(s: _Struck, instrument: Instrument) -> tuple[float, int]:
    """Hertz and nearest MIDI number: harmonics are whole multiples of their string's pitch."""
    note = s.played.note
    place, harmonic = note.place, note.harmonic
    if harmonic is None or place is None:
        return frequency(note.pitch.midi), note.pitch.midi
    stopped = 0 if harmonic.kind == "natural" else place.value.fret
    partial = NODES.get(harmonic.touched_fret - stopped)
    if partial is None or place.value.string > len(instrument.strings):
        return frequency(note.pitch.midi), note.pitch.midi
    return partial * frequency(instrument.open_midi(place.value.string) + stopped), note.pitch.midi
