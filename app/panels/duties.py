"""What the left hand does at the caret: what sounds, what is held, what comes. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from core.hand.sounding import Heard, heard
from core.model import Arrangement, Finger, Instrument, Measure, Place, Section
from core.page.fingered import Shift

MEASURES_BEFORE = 2
MEASURES_AFTER = 2
NO_SHIFT = Shift()
LEFT_HAND = (Finger.INDEX, Finger.MIDDLE, Finger.RING, Finger.LITTLE)


class Dot(Struct, frozen=True):
    """A note on the neck: its place, the finger as known, what it sounds, and times in ticks.

    `firm` is false for a suggested finger or none. `start` and `end` count from the caret; `end`
    is where the string really stops: at the next note on it, if that comes first.
    """

    place: Place
    finger: Finger | None
    firm: bool
    pitch: str
    start: int
    end: int


class HandView(Struct, frozen=True):
    """The hand at one moment. `unplaced` counts notes struck now that have no place."""

    now: tuple[Dot, ...] = ()
    held: tuple[Dot, ...] = ()
    coming: tuple[Dot, ...] = ()
    unplaced: int = 0
    beat_ticks: int = 1


def view(
    instrument: Instrument, measures: Sequence[Measure], index: int, onset: int,
    shift: Shift = NO_SHIFT,
) -> HandView:  # fmt: skip
    """The hand at `onset` ticks into the measure at `index`, seen in its neighbourhood. Under a
    capo, pitches are called as the staff shows them: `shift` leads there."""
    first = max(0, index - MEASURES_BEFORE)
    window = [shift.measure(m) for m in measures[first : index + MEASURES_AFTER + 1]]
    caret = sum(m.length_ticks for m in measures[first:index]) + onset
    sounds = heard(Arrangement((Section(0, tuple(window)),), instrument))
    struck = [s for s in sounds if s.start == (caret, 0)]
    ends = _ends(sounds)
    dots = [
        (sound, _dot(sound, ends[i], caret))
        for i, sound in enumerate(sounds)
        if sound.first.place is not None
    ]
    later = [d.start for _, d in dots if d.start > 0]
    soon = min(later, default=None)
    return HandView(
        tuple(d for s, d in dots if s.start == (caret, 0)),
        tuple(d for s, d in dots if s.start < (caret, 0) and d.end > 0),
        tuple(d for _, d in dots if d.start == soon),
        sum(s.first.place is None for s in struck),
        measures[index].metre.pulse_ticks[0],
    )


def _ends(sounds: Sequence[Heard]) -> list[int]:
    """Where each sound stops: at its written end, or when its string is struck again."""
    free_from: dict[int, int] = {}
    ends = [sound.end for sound in sounds]
    for i in range(len(sounds) - 1, -1, -1):
        place = sounds[i].first.place
        if place is None:
            continue
        string = place.value.string
        if string in free_from:
            ends[i] = min(ends[i], free_from[string])
        free_from[string] = sounds[i].start[0]
    return ends


def _dot(sound: Heard, end: int, caret: int) -> Dot:
    note = sound.first
    assert note.place is not None
    finger = note.finger.value if note.finger is not None else None
    if finger is None and note.place.value.fret == 0:
        finger = Finger.OPEN
    firm = finger is Finger.OPEN or (note.finger is not None and note.finger.firm)
    return Dot(
        note.place.value, finger, firm, pitch_words(str(note.pitch)), sound.start[0] - caret,
        end - caret,
    )  # fmt: skip


def pitch_words(text: str) -> str:
    """``F♯4`` for the model's ``F#4``."""
    return text.replace("#", "♯").replace("b", "♭")


_PARTS = {
    Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼",
    Fraction(3, 4): "¾", Fraction(1, 6): "⅙", Fraction(5, 6): "⅚", Fraction(1, 8): "⅛",
    Fraction(3, 8): "⅜", Fraction(5, 8): "⅝", Fraction(7, 8): "⅞",
}  # fmt: skip


def beats_words(ticks: int, beat_ticks: int) -> str:
    """A time in felt beats: ``½ beat``, ``1 beat``, ``1½ beats``."""
    beats = Fraction(ticks, beat_ticks)
    whole, part = divmod(beats, 1)
    if part and part not in _PARTS:
        return f"{float(beats):.2g} beats"
    text = (str(whole) if whole or not part else "") + (_PARTS[part] if part else "")
    return f"{text} beat" if beats <= 1 else f"{text} beats"


class Duty(Struct, frozen=True):
    """What one finger does, in words. `busy` is false for a free finger."""

    finger: str
    words: str
    busy: bool


def duties(hand: HandView) -> tuple[Duty, ...]:
    """A line for each finger, then lines for the open strings and what is undecided."""
    lines = [_finger_duty(hand, finger) for finger in LEFT_HAND]
    thumb = _finger_duty(hand, Finger.THUMB)
    lines += [thumb] if thumb.busy else []
    lines += [Duty("0", f"{d.pitch}, open string {d.place.string}", True)
              for d in hand.now if d.finger is Finger.OPEN]  # fmt: skip
    undecided = [d for d in hand.now if d.finger is None]
    lines += [
        Duty("?", f"{d.pitch}, string {d.place.string} fret {d.place.fret}: no finger yet", True)
        for d in undecided
    ]
    if hand.unplaced:
        notes = "1 note has" if hand.unplaced == 1 else f"{hand.unplaced} notes have"
        lines.append(Duty("?", f"{notes} no place yet", True))
    return tuple(lines)


def _finger_duty(hand: HandView, finger: Finger) -> Duty:
    parts = []
    suggested = False
    for dot in hand.now:
        if dot.finger is finger:
            parts.append(f"plays {dot.pitch}, string {dot.place.string} fret {dot.place.fret}")
            suggested |= not dot.firm
    for dot in hand.held:
        if dot.finger is finger:
            more = beats_words(dot.end, hand.beat_ticks)
            parts.append(f"holds {dot.pitch} on string {dot.place.string} for {more} more")
    if parts:
        note = " (suggested)" if suggested else ""
        return Duty(finger.value, "; ".join(parts) + note, True)
    for dot in hand.coming:
        if dot.finger is finger:
            when = beats_words(dot.start, hand.beat_ticks)
            return Duty(finger.value, f"free; needed on string {dot.place.string} in {when}", False)
    return Duty(finger.value, "free", False)
