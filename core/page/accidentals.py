"""Which notes need an accidental, and how those of one chord stand side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from typing import Literal

from core.model import Key, Measure, Note, Pitch, walk

Shown = Literal["plain", "courtesy", "editorial"]


def needed(
    measure: Measure, before: Mapping[int, int], tied_in: frozenset[tuple[int, Pitch]]
) -> dict[int, Shown]:
    """Note id -> how its accidental is shown; a note without one is not in the table.

    An accidental holds to the end of its measure at its own height. `before` are the alterations
    the measure before left (diatonic -> alter): a return is reminded of once, so is another
    octave of the same measure. `tied_in` are (voice, pitch) held over the bar line; they take no
    accidental (common practice, no source).
    """
    state: dict[int, int] = {}
    settled: set[int] = set()
    shown: dict[int, Shown] = {}
    rows = sorted(walk.notes(measure), key=lambda pair: (pair[0].onset, pair[0].voice))
    for located, note in rows:
        if located.event.hidden or note.accidental == "hidden":
            continue
        if located.onset == 0 and (located.voice, note.pitch) in tied_in:
            continue
        at, alter = note.pitch.diatonic, note.pitch.alter
        if _tied_into(measure, located.voice, located.index, note):
            continue
        if alter != state.get(at, measure.key.alter_of(note.pitch.step)):
            shown[note.id] = "editorial" if note.accidental == "editorial" else "plain"
            settled = {height for height in settled if (height - at) % 7}
        elif note.accidental in ("courtesy", "editorial"):
            shown[note.id] = "courtesy" if note.accidental == "courtesy" else "editorial"
        elif at not in settled and _surprising(at, alter, state, before, settled):
            shown[note.id] = "courtesy"
        if note.id in shown:
            state[at] = alter
            settled.add(at)
    return shown


def _tied_into(measure: Measure, voice: int, index: int, note: Note) -> bool:
    """Whether the event before holds the same pitch over by a tie."""
    if index == 0:
        return False
    before = measure.voices[voice][index - 1]
    return any(other.tied and other.pitch == note.pitch for other in before.notes)


def _surprising(
    at: int,
    alter: int,
    state: Mapping[int, int],
    before: Mapping[int, int],
    settled: Set[int],
) -> bool:
    """Whether the same step was last heard altered otherwise, in another octave or measure."""
    here = [value for height, value in state.items() if (height - at) % 7 == 0]
    if here:
        return here[-1] != alter
    if any((height - at) % 7 == 0 for height in settled):
        return False
    return any((height - at) % 7 == 0 and value != alter for height, value in before.items())


def left_behind(measure: Measure, key: Key) -> dict[int, int]:
    """The alterations outside the key that a measure leaves in the ear: diatonic -> alter."""
    state: dict[int, int] = {}
    for _, note in sorted(walk.notes(measure), key=lambda pair: pair[0].onset):
        if note.pitch.alter != key.alter_of(note.pitch.step):
            state[note.pitch.diatonic] = note.pitch.alter
        else:
            state.pop(note.pitch.diatonic, None)
    return state


def stacked(positions: Sequence[int]) -> list[int]:
    """The column (0 nearest the heads) of each accidental, given staff positions.

    From the outside in: highest, lowest, next highest, ... Two share a column from a seventh
    (six steps) apart (a published engraving text, read).
    """
    order = sorted(range(len(positions)), key=lambda i: -positions[i])
    zigzag: list[int] = []
    while order:
        zigzag.append(order.pop(0))
        if order:
            zigzag.append(order.pop())
    columns: list[list[int]] = []
    result = [0] * len(positions)
    for index in zigzag:
        column = 0
        while column < len(columns) and any(
            abs(positions[index] - other) < 6 for other in columns[column]
        ):
            column += 1
        if column == len(columns):
            columns.append([])
        columns[column].append(positions[index])
        result[index] = column
    return result
