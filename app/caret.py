"""The caret: where the teacher is in the music, and how keys move it. Values and pure functions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from msgspec import Struct, structs

from app.session import Outline
from core.model import Event, Measure, Note, walk
from core.model.walk import Located

On = Literal["staff", "tab"]


class Caret(Struct, frozen=True):
    """A moment of a measure, on the staff or on the tab.

    `onset` is in ticks from the measure's start. On the tab it stands on `string`; on the staff
    on the note of that `rank`, counted from the highest of the notes struck there. `voice` is
    where new notes and rests go (0 melody, 1 bass).
    """

    measure: int
    onset: int = 0
    on: On = "tab"
    string: int = 1
    rank: int = 0
    voice: int = 0


class Struck(Struct, frozen=True):
    """One note where it stands: its event (with voice and onset) and itself."""

    at: Located
    note: Note


def beginning(measure: Measure, onset: int) -> list[Located]:
    """The events that begin at an onset, grace notes apart; voice by voice."""
    return [at for at in walk.events(measure) if at.onset == onset and at.event.grace is None]


def struck(measure: Measure, onset: int) -> list[Struck]:
    """The notes that begin at an onset, grace notes apart; highest first."""
    found = [Struck(at, note) for at in beginning(measure, onset) for note in at.event.notes]
    return sorted(found, key=lambda s: (-s.note.pitch.midi, s.at.voice))


def filled(measure: Measure, voice: int) -> int:
    """The time a voice takes in a measure; 0 where there is no such voice."""
    return measure.filled_ticks(voice) if voice < len(measure.voices) else 0


def stops(measure: Measure, voice: int, final: bool = False) -> list[int]:
    """The onsets the caret walks along: every voice's, and where `voice` could go on.

    In the `final` measure of the piece a full voice goes on behind its end, in a new measure.
    """
    found = {at.onset for at in walk.events(measure) if at.event.grace is None}
    end = filled(measure, voice)
    if end < measure.ticks or final:
        found.add(end)
    return sorted(found) or [0]


def is_final(outline: Outline, measure: Measure) -> bool:
    """Whether the piece ends with this measure."""
    return outline.measures[-1].id == measure.id


def is_open(measure: Measure, caret: Caret) -> bool:
    """Whether the caret's voice has no event at the caret yet and would go on there."""
    return caret.onset >= filled(measure, caret.voice)


def note_at(measure: Measure, caret: Caret) -> Struck | None:
    """The note the caret is on."""
    here = struck(measure, caret.onset)
    if caret.on == "staff":
        return here[min(caret.rank, len(here) - 1)] if here else None
    on_string = (
        s for s in here if s.note.place is not None and s.note.place.value.string == caret.string
    )
    return next(on_string, None)


def event_at(measure: Measure, caret: Caret) -> Located | None:
    """The event the caret is on: of its note, else of its voice, else of any voice there.

    None where the caret's own voice would go on: what is typed there is written in it.
    """
    found = note_at(measure, caret)
    if found is not None:
        return found.at
    if is_open(measure, caret):
        return None
    here = beginning(measure, caret.onset)
    own = (at for at in here if at.voice == caret.voice)
    return next(own, here[0] if here else None)


def voice_at(measure: Measure, caret: Caret) -> int:
    """The voice an edit at the caret means: that of its note, else the caret's own."""
    found = note_at(measure, caret)
    return caret.voice if found is None else found.at.voice


def _at(outline: Outline, caret: Caret, position: int, last: bool) -> Caret:
    measure = outline.measures[position]
    row = stops(measure, caret.voice)
    return structs.replace(caret, measure=measure.id, onset=row[-1 if last else 0], rank=0)


def after(outline: Outline, caret: Caret, end: int) -> Caret:
    """Where the next note of the voice goes when one ends at `end` of the caret's measure."""
    position = outline.index[caret.measure]
    measure = outline.measures[position]
    if end >= measure.ticks and not is_final(outline, measure):
        following = outline.measures[position + 1].id
        return structs.replace(caret, measure=following, onset=0, rank=0)
    return structs.replace(caret, onset=end, rank=0)


def step_beat(outline: Outline, caret: Caret, by: int) -> Caret:
    """To the next stop on a beat (by=1), or the one before (by=-1), over barlines."""
    while True:
        moved = step(outline, caret, by)
        measure = outline.measures[outline.index[moved.measure]]
        if moved == caret or moved.onset in beats(measure):
            return moved
        caret = moved


def beats(measure: Measure) -> set[int]:
    """The ticks at which the felt beats of a measure begin."""
    found, start = set[int](), 0
    for ticks in measure.metre.pulse_ticks:
        found.add(start)
        start += ticks
    return found


def step(outline: Outline, caret: Caret, by: int) -> Caret:
    """One event to the right (by=1) or left (by=-1), over barlines, staying at the ends."""
    position = outline.index[caret.measure]
    measure = outline.measures[position]
    row = stops(measure, caret.voice, is_final(outline, measure))
    beyond = [o for o in row if o > caret.onset] if by > 0 else [o for o in row if o < caret.onset]
    if beyond:
        return structs.replace(caret, onset=beyond[0] if by > 0 else beyond[-1], rank=0)
    if not 0 <= position + by < len(outline.measures):
        return caret
    return _at(outline, caret, position + by, last=by < 0)


def step_measure(outline: Outline, caret: Caret, by: int) -> Caret:
    """To the start of the next measure, or of this one and then the one before."""
    position = outline.index[caret.measure]
    if by < 0 and caret.onset > 0:
        by = 0
    position = max(0, min(len(outline.measures) - 1, position + by))
    return _at(outline, caret, position, last=False)


def step_section(outline: Outline, caret: Caret, by: int) -> Caret:
    """To the first measure of the next section, or of this one and then the one before."""
    section = outline.section_of[caret.measure]
    starts = [
        i for i, m in enumerate(outline.measures) if outline.section_of[m.id].measures[0] is m
    ]
    here = outline.index[section.measures[0].id]
    at_start = caret.measure == section.measures[0].id and caret.onset == 0
    index = starts.index(here) + (by if by > 0 or at_start else 0)
    return _at(outline, caret, starts[max(0, min(len(starts) - 1, index))], last=False)


def ends(outline: Outline, caret: Caret, last: bool) -> Caret:
    """To the very start of the piece, or to where its voice goes on at the end."""
    if not last:
        return _at(outline, caret, 0, last=False)
    measure = outline.measures[-1]
    return structs.replace(caret, measure=measure.id, onset=filled(measure, caret.voice), rank=0)


def climb(outline: Outline, caret: Caret, by: int, strings: int) -> Caret:
    """One string or note down (by=1) or up (by=-1); over the top string lies the staff."""
    measure = outline.measures[outline.index[caret.measure]]
    here = struck(measure, caret.onset)
    if caret.on == "tab":
        if caret.string + by < 1:
            return structs.replace(caret, on="staff", rank=max(0, len(here) - 1))
        return structs.replace(caret, string=min(strings, caret.string + by))
    rank = min(caret.rank, max(0, len(here) - 1)) + by
    if rank >= max(1, len(here)):
        return structs.replace(caret, on="tab", string=1)
    return structs.replace(caret, rank=max(0, rank))


def cross(outline: Outline, caret: Caret, on: On) -> Caret:
    """To the staff or the tab, staying on the same note where there is one."""
    if caret.on == on:
        return caret
    measure = outline.measures[outline.index[caret.measure]]
    here = struck(measure, caret.onset)
    found = note_at(measure, caret)
    if on == "staff":
        rank = here.index(found) if found is not None else 0
        return structs.replace(caret, on=on, rank=rank)
    string = found.note.place.value.string if found and found.note.place else caret.string
    return structs.replace(caret, on=on, string=string)


def on_note(outline: Outline, note_id: int, on: On | None = None) -> Caret | None:
    """The caret on a note, or None when it is gone; unplaced notes are met on the staff."""
    for measure in outline.measures:
        found = note_in(measure, note_id)
        if found is not None:
            return on_struck(measure, found, on)
    return None


def note_in(measure: Measure, note_id: int) -> Struck | None:
    """A note of a measure by its id."""
    return next((Struck(at, n) for at, n in walk.notes(measure) if n.id == note_id), None)


def on_struck(measure: Measure, found: Struck, on: On | None = None) -> Caret:
    """The caret on a note of a measure."""
    at, note = found.at, found.note
    here = struck(measure, at.onset)
    rank = next((i for i, s in enumerate(here) if s.note is note), 0)
    string = note.place.value.string if note.place else 1
    where: On = on or ("tab" if note.place else "staff")
    return Caret(measure.id, at.onset, where, string, rank, at.voice)


def needs_finger(note: Note) -> bool:
    """Whether a left-hand finger is still to be decided: no open string, no firm finger."""
    if note.place is not None and note.place.value.fret == 0:
        return False
    return note.finger is None or not note.finger.firm


def notes_from(outline: Outline, caret: Caret) -> Iterator[tuple[Measure, Struck]]:
    """The notes after the caret's, in the order they are read, to the end of the piece."""
    start = outline.index[caret.measure]
    for measure in outline.measures[start:]:
        first = measure.id == caret.measure
        for onset in stops(measure, caret.voice):
            if first and onset < caret.onset:
                continue
            here = struck(measure, onset)
            if first and onset == caret.onset:
                here = here[caret.rank + 1 :]
            yield from ((measure, s) for s in here)


def next_unfingered(outline: Outline, caret: Caret) -> Caret:
    """On the staff: the next note that needs a finger; the same caret when none does."""
    for measure, found in notes_from(outline, caret):
        if needs_finger(found.note) and not _tied_into(outline, measure, found):
            return on_struck(measure, found, "staff")
    return caret


def _tied_into(outline: Outline, measure: Measure, found: Struck) -> bool:
    previous = _event_before(outline, measure, found.at)
    return previous is not None and any(
        n.tied and n.pitch == found.note.pitch for n in previous.notes
    )


def _event_before(outline: Outline, measure: Measure, at: Located) -> Event | None:
    if at.index > 0:
        return measure.voices[at.voice][at.index - 1]
    position = outline.index[measure.id]
    if position == 0:
        return None
    before = outline.measures[position - 1].voices
    return before[at.voice][-1] if at.voice < len(before) and before[at.voice] else None


def mend(outline: Outline, caret: Caret, strings: int, fallback: int = 0) -> Caret:
    """The caret after an edit: where it was, or the nearest place that still exists.

    `fallback` is the position (0 = first measure) to go to when its measure is gone.
    """
    measure = outline.measure(caret.measure)
    if measure is None:
        position = max(0, min(len(outline.measures) - 1, fallback))
        return _at(outline, caret, position, last=False)
    row = stops(measure, caret.voice, is_final(outline, measure))
    onset = caret.onset if caret.onset in row else max([o for o in row if o <= caret.onset] or row)
    here = struck(measure, onset)
    return structs.replace(
        caret,
        onset=onset,
        string=min(caret.string, strings),
        rank=max(0, min(caret.rank, len(here) - 1)),
    )


ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")


def beat_words(measure: Measure, onset: int) -> str:
    """``second beat``, ``after the second beat``: in the felt beats of the metre."""
    start = 0
    name = "first"
    for index, ticks in enumerate(measure.metre.pulse_ticks):
        if onset < start:
            break
        name = ORDINALS[index] if index < len(ORDINALS) else f"{index + 1}th"
        if onset == start:
            return f"{name} beat"
        start += ticks
    return f"after the {name} beat" if onset < start else "after the last beat"
