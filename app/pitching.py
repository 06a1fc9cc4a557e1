"""Which octave a letter means: the pitch nearest to the note before."""

from __future__ import annotations

from app.caret import Caret
from app.session import Outline
from core.model import Pitch, walk

OPEN_G = 55  # MIDI number of the open third string
LOOK_BACK = 8  # measures


def nearest(outline: Outline, caret: Caret, step: str) -> Pitch:
    """What sounds where the staff shows a letter, altered as its key says, as near as can be to
    the last note of the voice."""
    key, shift = outline.measures[outline.index[caret.measure]].key, outline.shift
    shown = Pitch(step, shift.key(key).alter_of(step), 4)
    near = _before(outline, caret) - shift.semitones
    octave = round((near - shown.midi) / 12) + 4
    return shift.sounding(Pitch(step, shown.alter, octave), key)


def _before(outline: Outline, caret: Caret) -> int:
    """The MIDI number of the last note of the voice up to the caret; of a written g if there is
    none."""
    position = outline.index[caret.measure]
    for measure in reversed(outline.measures[max(0, position - LOOK_BACK) : position + 1]):
        before = [
            at.event.notes[-1].pitch.midi
            for at in walk.events(measure)
            if at.event.notes
            and at.event.grace is None
            and at.voice == caret.voice
            and (measure.id != caret.measure or at.onset <= caret.onset)
        ]
        if before:
            return before[-1]
    return OPEN_G + outline.shift.semitones
