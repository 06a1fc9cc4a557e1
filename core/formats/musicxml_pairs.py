"""A staff and its tablature say the same music twice: finding such pairs and joining them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from core.formats.musicxml_raw import RawMeasure, RawNote, RawPart

LEAST_MATCHED = 0.8
Wanted = Callable[[RawNote], bool]


def tablature_staves(part: RawPart) -> frozenset[int]:
    """The staves of a part that begin with a TAB clef."""
    return frozenset(staff for staff, clef in part.clefs.items() if clef.sign.upper() == "TAB")


def used_staves(part: RawPart) -> frozenset[int]:
    """The staves on which the part has notes or rests."""
    return frozenset(event.staff for measure in part.measures for event in measure.events)


def join_within(part: RawPart) -> frozenset[int]:
    """Join the staves of one part; the staves whose events count afterwards."""
    used = used_staves(part) or frozenset({1})
    tabs = tablature_staves(part) & used
    staves = used - tabs
    if not tabs or not staves:
        return used
    pairs = _pairs(
        part.measures, part.measures, lambda note: note.staff in staves,
        lambda note: note.staff in tabs,
    )  # fmt: skip
    if pairs is None:
        return used
    _join(pairs)
    return staves


def join_parts(first: RawPart, second: RawPart) -> bool:
    """Join a part and the tablature part beside it, if they are the same music."""
    used = used_staves(second)
    if (
        not used
        or not used <= tablature_staves(second)
        or used_staves(first) <= (tablature_staves(first))
    ):
        return False
    pairs = _pairs(first.measures, second.measures, lambda note: True, lambda note: True)
    if pairs is None:
        return False
    _join(pairs)
    first.ends += second.ends
    for staff, tuning in second.tunings.items():
        first.tunings.setdefault(staff + first.staves, tuning)
    return True


def _notes(measure: RawMeasure, wanted: Wanted) -> Iterable[tuple[int, RawNote]]:
    for event in measure.events:
        for note in event.notes:
            if wanted(note):
                yield round(event.onset), note


def _pairs(
    staves: Sequence[RawMeasure], tabs: Sequence[RawMeasure], on_staff: Wanted, on_tab: Wanted
) -> list[tuple[RawNote, RawNote]] | None:
    """Notes of the staff with those of the tablature; None where the music differs."""
    exact: list[tuple[RawNote, RawNote]] = []
    total = 0
    for staff_measure, tab_measure in zip(staves, tabs, strict=False):
        waiting: dict[tuple[int, int], list[RawNote]] = defaultdict(list)
        for onset, note in _notes(staff_measure, on_staff):
            waiting[onset, note.midi].append(note)
        for onset, note in _notes(tab_measure, on_tab):
            total += 1
            for shift in (0, 12, -12):
                found = waiting.get((onset, note.midi + shift))
                if found:
                    exact.append((_alike(found, note), note))
                    break
    if not total:
        return []
    return exact if len(exact) >= LEAST_MATCHED * total else None


def _alike(waiting: list[RawNote], tab: RawNote) -> RawNote:
    """The note of the staff that already has the tablature's place, else the first; taken out."""
    same = [n for n in waiting if (n.string, n.fret) == (tab.string, tab.fret)]
    chosen = same[0] if same else waiting[0]
    waiting.remove(chosen)
    return chosen


def _join(pairs: Iterable[tuple[RawNote, RawNote]]) -> None:
    for note, tab in pairs:
        tab.partner = note
        if note.string is None or note.fret is None:
            note.circled = (note.string is not None) if note.circled is None else note.circled
            note.string = tab.string if tab.string is not None else note.string
            note.fret = tab.fret if tab.fret is not None else note.fret
        note.fingers = note.fingers or tab.fingers
        note.pluck = note.pluck or tab.pluck
        note.harmonic = note.harmonic or tab.harmonic
        note.bend = tab.bend if note.bend is None else note.bend
        note.let_ring |= tab.let_ring
