"""Which octave a part sounds in: what the file says, what the frets prove, what is usual.

MusicXML pitches are written pitches; ``transpose`` leads to what sounds. A clef with an 8 below
only moves the drawing, so its pitches sound as they are given. Many files give a guitar part in a
plain treble clef without ``transpose``: then string and fret numbers decide, else the range.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

from core.formats.imported import OctaveDecision
from core.formats.musicxml_names import BASS_GUITAR, GUITAR, PIANO
from core.formats.musicxml_raw import RawNote, RawPart
from core.model import Instrument, Pitch
from core.model.pitch import STEPS, Key

LOWEST_WRITTEN_OF_GUITAR = 50  # D3, an octave above a sixth string lowered to D2
LEAST_SHARE = 0.6


def instrument_of(part: RawPart) -> Instrument:
    """The tuning and capo of a part's ``staff-details``; the usual ones where it says nothing.

    Line 1 of ``staff-tuning`` is the lowest (MusicXML 4.0), so the last string of ours.
    """
    for staff in sorted(part.tunings, reverse=True):
        tuning = part.tunings[staff]
        lines = sorted(tuning.strings, reverse=True)
        try:
            if lines:
                pitches = tuple(Pitch(*tuning.strings[line]) for line in lines)
                return Instrument(strings=pitches, capo=tuning.capo or 0)
        except ValueError:
            continue
    capo = next((t.capo for t in part.tunings.values() if t.capo is not None), 0)
    return Instrument(capo=capo)


def decide(
    part: RawPart, instrument: Instrument, octave: int | None, ours: bool
) -> tuple[int, OctaveDecision]:
    """Semitones to add to `RawNote.midi`, and how that was found.

    `octave` overrides: octaves from the file's own pitches to what sounds.
    """
    notes = [note for m in part.measures for e in m.events for note in e.notes]
    moved = notes[0].semitones if notes else 0
    known = (moved + 6) // 12
    if octave is not None:
        return 12 * (octave - known), _said(part, octave, "the octave was chosen by hand.")
    if ours:
        return 0, _said(part, known, "the octave is as this program wrote it.")
    fitting = _by_frets(notes, instrument)
    if fitting is not None:
        shift, share = fitting
        capo = shift % 12 != 0
        reason = "the strings and frets say which octave sounds" + (
            ", and that the capo is not in the pitches." if capo else "."
        )
        return shift, _said(part, known + round(shift / 12), reason, share > 0.9)
    return _by_signs(part, notes, instrument, moved)


def _by_signs(
    part: RawPart, notes: Sequence[RawNote], instrument: Instrument, moved: int
) -> tuple[int, OctaveDecision]:
    """The octave by transposition (`moved` semitones), clef and range."""
    known = (moved + 6) // 12
    clef = part.clefs.get(1)
    low = min((note.midi for note in notes), default=60)
    if moved == -12 and clef is not None and clef.octave == -1 and low < _floor(instrument):
        # said twice: the clef already tells it, and no string reaches an octave lower
        words = "both clef and transposition lower it; one octave is believed, no string is lower."
        return 12, _said(part, 0, words, False)
    if moved:
        words = f"the file transposes the part by {moved} semitone{'s' * (abs(moved) != 1)}."
        return 0, _said(part, known, words)
    if clef is not None and clef.octave:
        return 0, _said(part, 0, "the figure 8 at the clef gives the octave that sounds.")
    return _by_range(part, notes, clef is None or clef.sign == "G")


def _floor(instrument: Instrument) -> int:
    """MIDI number of the lowest open string."""
    return min(instrument.open_midi(s) for s in range(1, len(instrument.strings) + 1))


def _by_frets(notes: Sequence[RawNote], instrument: Instrument) -> tuple[int, float] | None:
    """The shift that most notes with string and fret agree on, and their share."""
    counts: Counter[int] = Counter()
    total = 0
    for note in notes:
        if note.string is None or note.fret is None or note.harmonic:
            continue
        if note.string > len(instrument.strings):
            continue
        total += 1
        counts[instrument.open_midi(note.string) + note.fret - note.midi] += 1
    capo = instrument.capo
    allowed = {0, -12, 12, *(shift + capo for shift in (0, -12, 12))}
    usual = [(count, shift) for shift, count in counts.items() if shift in allowed]
    if not usual:
        return None
    count, shift = max(usual)
    return (shift, count / total) if count >= LEAST_SHARE * total else None


def _by_range(part: RawPart, notes: Sequence[RawNote], treble: bool) -> tuple[int, OctaveDecision]:
    guitar = is_guitar(part)
    if not guitar or not treble or not notes:
        return 0, _said(part, 0, "the pitches sound as written.", not (guitar and not treble))
    lowest = min(note.midi for note in notes)
    if lowest < LOWEST_WRITTEN_OF_GUITAR:
        reason = "notes lie lower than a guitar's are written, so they sound as written."
        return 0, _said(part, 0, reason, False)
    reason = "a guitar part in a plain treble clef, taken to sound an octave lower."
    return -12, _said(part, -1, reason, False)


def is_guitar(part: RawPart) -> bool:
    """Whether a part is a guitar's by its name, its sound or its General MIDI program (25-32)."""
    if "pluck.guitar" in part.sound:
        return True
    if GUITAR.search(part.name):
        return not BASS_GUITAR.search(part.name)
    return part.program is not None and 25 <= part.program <= 32 and not part.name.strip()


def is_keyboard(part: RawPart) -> bool:
    """Whether 1 would be the thumb: a piano, organ or the like, by name or program (1-24)."""
    known = part.program is not None and 1 <= part.program <= 24
    return bool(PIANO.search(part.name)) or (known and not is_guitar(part))


def _said(part: RawPart, octaves: int, reason: str, sure: bool = True) -> OctaveDecision:
    return OctaveDecision(part.name, octaves, reason, sure)


def sounding(note: RawNote, shift: int, key: Key) -> Pitch | None:
    """The pitch that sounds, spelled as the part's own; None beyond what the model holds."""
    octaves = (shift + 6) // 12 if shift % 12 == 0 else 0
    place = STEPS.index(note.step) + 7 * (note.octave + octaves) + note.steps
    if shift % 12 == 0:
        pitch = _on_staff(place, note.midi + shift)
        if pitch is not None:
            return pitch
    try:
        pitch = Pitch.from_midi(note.midi + shift, key)
    except ValueError:
        return None
    return pitch if 0 <= pitch.octave <= 9 else None


@lru_cache(maxsize=2048)
def _on_staff(place: int, midi: int) -> Pitch | None:
    """The pitch at a height on the staff, so many steps above C0; None if no sign reaches it."""
    octave, index = divmod(place, 7)
    if not 0 <= octave <= 9:
        return None
    natural = Pitch(STEPS[index], 0, octave).midi
    alter = midi - natural
    return Pitch(STEPS[index], alter, octave) if abs(alter) <= 3 else None
