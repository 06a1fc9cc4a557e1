"""What a MIDI file leaves to be guessed beside the rhythm, and the words for it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from core.formats.imported import Ledger
from core.formats.midi_grid import Grid, compound, exact
from core.formats.midi_raw import RawFile, notes_of
from core.model import TICKS_PER_QUARTER, Key

USUAL_MICROS = 500_000  # what a file means that says no tempo (SMF 1.1)
SMALLEST_CHANGE = 0.02  # of the tempo
# Moved this far on average, the notes were hardly played to the file's beat: a player's usual
# scatter is about half of it (our own choice).
FREE_SECONDS = 0.028
_UNNOTICED = 0.001  # seconds


def guessed_key(file: RawFile) -> Key:
    """The key whose scale holds most of the notes, of several the one with the fewest signs.

    Minor where the lowest of the last notes is its key note (our own rule).
    """
    count = [0] * 12
    notes = list(notes_of(file))
    for note in notes:
        count[note.midi % 12] += 1

    def outside(fifths: int) -> int:
        scale = {7 * (fifths + n) % 12 for n in range(-1, 6)}
        return sum(count[p] for p in range(12) if p not in scale)

    fifths = min(range(-6, 7), key=lambda f: (outside(f), abs(f), f))
    last = max(note.start for note in notes)
    lowest = min(note.midi for note in notes if note.start == last)
    minor = lowest % 12 == 7 * (fifths + 3) % 12
    return Key(fifths, "minor" if minor else "major")


def tempo_changes(file: RawFile, points: Grid, ledger: Ledger) -> list[tuple[int, int]]:
    """(tick of the file, microseconds a quarter) of the changes worth a mark.

    Those that hold for a measure or more; of a slowing or a pause, told in many short ones, only
    a word goes to the ledger.
    """
    found: list[tuple[int, int]] = []
    current = next((m for tick, m in file.tempi if not tick), USUAL_MICROS)
    stops = [tick for tick, _ in file.tempi[1:]]
    for (tick, micros), stop in zip(file.tempi, [*stops, file.end], strict=False):
        if not tick or abs(micros / current - 1) < SMALLEST_CHANGE:
            continue
        at = points.snap(exact(tick, file))
        index = points.bar_at(at)
        bar = points.bars[index]
        if exact(stop - tick, file) >= Fraction(9 * bar.length, 10):
            found.append((tick, micros))
            current = micros
        else:
            ledger.mend(
                "Short changes of tempo (a slowing, a pause) are left out", points.name_at(at)
            )
    return found


def tell(file: RawFile, points: Grid, ledger: Ledger) -> None:
    """What was worked out, so that the teacher can judge it."""
    if not file.metres:
        ledger.mend("The file says no metre; 4/4 is assumed")
    if not file.keys:
        ledger.mend(f"The file says no key; {guessed_key(file)} is guessed from the notes")
    if not file.tempi:
        ledger.mend("The file says no tempo; 120 quarters a minute are assumed")
    _tell_rounding(file, points, ledger)
    for beat, parts in zip(points.beats, points.parts, strict=True):
        if parts in (3, 6) and not compound(points.bars[points.bar_at(beat)].metre):
            ledger.mend("Beats are read as triplets", points.name_at(beat))


def _tell_rounding(file: RawFile, points: Grid, ledger: Ledger) -> None:
    moved = [(_seconds(file, points, note.start), note.start) for note in notes_of(file)]
    most, where = max(moved)
    if most < _UNNOTICED:
        ledger.mend("Every note stands on the beat grid of the file; no time was rounded")
        return
    mean = sum(seconds for seconds, _ in moved) / len(moved)
    name = points.name_at(points.snap(exact(where, file)))
    ledger.mend(
        f"Notes are set on a grid, moved by {mean * 1000:.0f} ms on average and by up to "
        f"{most * 1000:.0f} ms",
        name,
    )
    if mean > FREE_SECONDS:
        ledger.mend("It was hardly played to the beat of the file: please check the rhythm")


def _seconds(file: RawFile, points: Grid, tick: int) -> float:
    """How far the onset at a tick of the file was moved, in seconds."""
    moment = exact(tick, file)
    quarters = float(abs(points.snap(moment) - moment)) / TICKS_PER_QUARTER
    tempi: Sequence[tuple[int, int]] = file.tempi
    index = bisect_right(tempi, tick, key=lambda t: t[0])
    return quarters * (tempi[index - 1][1] if index else USUAL_MICROS) / 1e6
