"""Where the caret is, in words: for the line under the sheet and for screen readers."""

from __future__ import annotations

from app import caret as carets
from app.caret import Caret
from app.panels.duties import pitch_words
from app.session import Outline
from core.edit.rows import Mode
from core.model import VOICE_NAMES, Base, Key, Note, Value
from core.model.time import length_words
from core.page.fingered import Shift

VOICES = tuple(name.removeprefix("the ") for name in VOICE_NAMES)
VALUE_NAMES = {
    Base.WHOLE: "whole", Base.HALF: "half", Base.QUARTER: "quarter", Base.EIGHTH: "eighth",
    Base.SIXTEENTH: "sixteenth", Base.THIRTY_SECOND: "thirty-second",
}  # fmt: skip


def moment_words(outline: Outline, caret: Caret) -> str:
    """``Measure 6, second beat``."""
    measure = outline.measure(caret.measure)
    if measure is None:
        return ""
    name = outline.name(caret.measure)
    return f"{name[:1].upper()}{name[1:]}, {carets.beat_words(measure, caret.onset)}"


def caret_words(outline: Outline, caret: Caret) -> str:
    """Moment, then what the caret is on: ``..., tab, string 2: A3, fret 2, finger 2 suggested``."""
    measure = outline.measure(caret.measure)
    if measure is None:
        return ""
    found = carets.note_at(measure, caret)
    side = f"tab, string {caret.string}" if caret.on == "tab" else "staff"
    if found is not None:
        note = note_words(found.note, outline.shift, measure.key)
        at = f"{note}, {value_words(found.at.event.value)}"
    else:
        event = carets.event_at(measure, caret)
        if event is None:
            at = "nothing yet; type a figure, or a letter for another value first"
        elif event.event.is_rest:
            at = f"{value_words(event.event.value)} rest"
        else:
            at = "no note here" if caret.on == "staff" else "no note on this string"
    told = f"{_sum_words(outline, caret)}{_link_words(outline, caret)}"
    return f"{moment_words(outline, caret)}, {side}: {at}{told}"


def _link_words(outline: Outline, caret: Caret) -> str:
    measure = outline.measure(caret.measure)
    if measure is None or measure.same_as not in outline.index:
        return ""
    return f". Written as the same as {outline.name(measure.same_as)}"


def _sum_words(outline: Outline, caret: Caret) -> str:
    measure = outline.measure(caret.measure)
    assert measure is not None
    filled = [measure.filled_ticks(v) for v, row in enumerate(measure.voices) if row or v == 0]
    over, under = max(filled) - measure.ticks, measure.ticks - min(filled)
    if over > 0:
        return f". The measure is over-full by {length_words(over)}; C trims it"
    return f". The measure is short by {length_words(under)}; C fills it up" if under > 0 else ""


def note_words(note: Note, shift: Shift, key: Key) -> str:
    """``A3, string 3 fret 2, finger 2 suggested``; under a capo as it is written, and what then
    sounds."""
    shown = shift.pitch(note.pitch, key)
    heard = "" if shown == note.pitch else f" (sounds {pitch_words(str(note.pitch))})"
    parts = [pitch_words(str(shown)) + heard]
    if note.place is None:
        parts.append("no place yet")
    else:
        place = note.place.value
        where = "open string" if place.fret == 0 else f"fret {place.fret}"
        parts.append(f"string {place.string} {where}" + _suggested(note.place.firm))
    if note.finger is not None:
        parts.append(f"finger {note.finger.value.value}" + _suggested(note.finger.firm))
    elif note.place is None or note.place.value.fret:
        parts.append("finger undecided")
    return ", ".join(parts)


def _suggested(firm: bool) -> str:
    return "" if firm else " suggested"


def value_words(value: Value) -> str:
    """``quarter``, ``dotted eighth``, ``eighth of a triplet``."""
    dots = {0: "", 1: "dotted ", 2: "double-dotted "}.get(value.dots, "many-dotted ")
    name = VALUE_NAMES.get(value.base, value.base.value)
    return f"{dots}{name}" + (" of a tuplet" if value.tuplets else "")


def entry_words(value: Value, caret: Caret, mode: Mode, is_open: bool, selected: str) -> str:
    """What the next figure does, and the value and voice of the next new note."""
    voice = VOICES[caret.voice]
    if caret.on == "staff":
        figure = "a figure is a finger"
    elif mode == "insert" and not is_open:
        figure = "PUTTING IN: a figure is a new note before the caret"
    elif is_open:
        figure = "a figure is a fret, and the caret goes on"
    else:
        figure = "WRITING OVER: a figure is a fret here"
    new = f"next new note: {value_words(value)}, {voice}"
    return " · ".join(part for part in (selected, figure, new) if part)
