"""What the search found, in a teacher's words: what cannot be played, and what speaks against."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from app.panels.duties import beats_words, pitch_words
from app.thinking.questions import Clash, WhyNot
from core.hand.conflicts import Conflict, conflicts
from core.hand.fingering import Release, Solved, releases
from core.hand.music import given_finger
from core.hand.other_ways import Difference, Facts, facts
from core.hand.passage import Spot
from core.hand.strokes import Stroke
from core.model import TICKS_PER_QUARTER, Arrangement, Note, walk
from core.page.fingered import Shift

NO_MORE = 0.05  # a difference in price too small to be told
# What is counted of a way, and what one and several of it are called.
COUNTED = (
    ("moves", "move of the hand", "moves of the hand"),
    ("leaps", "leap of a finger", "leaps of a finger"),
    ("kept", "finger kept", "fingers kept"),
    ("barres", "barre", "barres"),
)
CUT = ("released", "note cut short", "notes cut short")
NAMES = ("an open string", "finger 1", "finger 2", "finger 3", "finger 4", "the thumb")


class Names:
    """What the notes of an arrangement are called: as the staff shows them under a capo."""

    def __init__(self, arrangement: Arrangement, shift: Shift) -> None:
        self._measures = {measure.id: measure for measure in walk.measures(arrangement)}
        self._shift = shift

    def of(self, stroke: Stroke) -> str:
        """``F♯4``."""
        return self.called(stroke.sounds[0].first, stroke.sounds[0].measures[0])

    def called(self, note: Note, measure: int) -> str:
        """A note of a measure."""
        pitch = self._shift.pitch(note.pitch, self._measures[measure].key)
        return pitch_words(str(pitch))

    def beat_ticks(self, measure: int) -> int:
        """The felt beat of a measure."""
        return self._measures[measure].metre.pulse_ticks[0]


def clashes(solved: Solved, names: Names, released: Collection[Release]) -> tuple[Clash, ...]:
    """The spots of a solution where something had to give way."""
    return tuple(_clash(c, solved, names, released) for c in conflicts(solved))


def _clash(
    conflict: Conflict, solved: Solved, names: Names, released: Collection[Release]
) -> Clash:
    strokes = solved.task.strokes
    involved = sorted({*conflict.holds, *conflict.strokes})
    measures = [strokes[i].sounds[0].measures[0] for i in involved]
    notes = tuple(strokes[i].sounds[0].first.id for i in involved)
    out = _joined(list(_ways_out(conflict, solved, names, released)))
    return Clash(
        measures[-1] if measures else 0, notes, conflict_words(conflict, solved, names),
        f"Cheapest: {out}." if out else "",
    )  # fmt: skip


def conflict_words(conflict: Conflict, solved: Solved, names: Names) -> str:
    """What cannot be together: ``A4 held and F2 cannot be had together.``"""
    parts = [_called(i, conflict, solved, names) for i in (*conflict.holds, *conflict.strokes)]
    parts += [f"position {solved.task.passage.onsets[n].position}" for n in conflict.positions]
    parts += [f"the barre at fret {solved.task.pinned.barres[n].fret}" for n in conflict.barres]
    words = _joined(parts)
    if conflict.most is not None:
        return f"{words} are more than the {conflict.most} notes at once of the level."
    if len(parts) > 1:
        return f"{words} cannot be had together."
    alone = (*conflict.holds, *conflict.strokes)
    if alone and not solved.task.strokes[alone[0]].choices:
        return f"{words} has no place up to fret {solved.terms.contract.highest_fret}."
    return f"{words} is out of reach within the level."


def _called(tone: int, conflict: Conflict, solved: Solved, names: Names) -> str:
    """A note with the pins that take part, and whether it must ring on."""
    stroke = solved.task.strokes[tone]
    words = names.of(stroke)
    if tone in conflict.places and stroke.firm is not None:
        words += f" on string {stroke.firm.string}, fret {stroke.firm.fret}"
    if tone in conflict.fingers:
        finger = given_finger(stroke, solved.task.terms)
        words += f" with {NAMES[finger]}" if finger is not None else ""
    return f"{words} held" if tone in conflict.holds else words


def way_words(solved: Solved, names: Names) -> str:
    """What a way asks and what it cuts: ``1 move of the hand, C3 cut after 2 beats``."""
    told = facts_words(facts(solved)._replace(released=0))
    notes = {n.id: n for stroke in solved.task.strokes for s in stroke.sounds for n in s.notes}
    cuts = []
    for cut in releases(solved):
        ticks = round(cut.quarters * TICKS_PER_QUARTER)
        rings = beats_words(ticks, names.beat_ticks(cut.measure))
        cuts.append(f"{names.called(notes[cut.note], cut.measure)} cut after {rings}")
    return ", ".join([told, *cuts])


def facts_words(found: Facts) -> str:
    """``1 move of the hand, 12 mm of stretch``."""
    counts = ((getattr(found, field), one, many) for field, one, many in (*COUNTED, CUT))
    parts = [f"{count} {one if count == 1 else many}" for count, one, many in counts if count]
    if found.stretch_mm >= 1:
        parts.append(f"{found.stretch_mm:.0f} mm of stretch beyond ease")
    return ", ".join(parts) or "the hand stays where it is, nothing is stretched"


def _joined(parts: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def _ways_out(
    conflict: Conflict, solved: Solved, names: Names, released: Collection[Release]
) -> Iterator[str]:
    """What the solution lets go in the stretch of a conflict."""
    cuts = solved.task.passage.cuts()
    start = max(cut for cut in cuts if cut <= conflict.onset)
    end = min(cut for cut in cuts if cut > conflict.onset)
    by_note = {release.note: release for release in released}
    left: list[str] = []
    for index, tone in enumerate(solved.task.passage.tones):
        if not start <= tone.first < end:
            continue
        first = solved.task.strokes[index].sounds[0].first
        name = names.of(solved.task.strokes[index])
        if solved.spots[index] is None:
            left.append(name)
        elif first.id in by_note:
            yield _release_words(name, by_note[first.id], names)
    if left:
        yield f"leave out or move {_joined(left)}"


def _release_words(name: str, release: Release, names: Names) -> str:
    beat = names.beat_ticks(release.measure)
    rings = beats_words(round(release.quarters * TICKS_PER_QUARTER), beat)
    written = beats_words(round(release.written * TICKS_PER_QUARTER), beat)
    return f"let {name} go after {rings} of its {written}"


def dearer(
    solved: Solved, tone: int, question: WhyNot, other: Solved, difference: Difference
) -> str:
    """Why a note is not played as asked although it could be: what it would ask of the hand."""
    asked, best = NAMES[question.finger].capitalize(), solved.spots[tone]
    if difference.more < NO_MORE:
        return f"{asked} is as easy as any here: {spot_words(other.spots[tone] or best)}."
    more = list(_more(facts(solved), facts(other)))
    instead = f" instead of {NAMES[best.finger]}" if best is not None else ""
    return f"{asked}{instead}: {', '.join(more) or 'as many moves'}. {difference.words()}"


def hindered(question: WhyNot, best: Solved | None, names: Names) -> str:
    """Why a note cannot be played as asked; `best` is the best there is when it is pinned so."""
    reason = "the level, the neck or the other pins leave no room for it."
    if best is not None:
        strokes = best.task.strokes
        for conflict in conflicts(best):
            involved = (*conflict.holds, *conflict.strokes)
            if question.note in {
                n.id for i in involved for s in strokes[i].sounds for n in s.notes
            }:
                reason = conflict_words(conflict, best, names)
                break
    return f"Not {NAMES[question.finger]}: {reason}"


def spot_words(spot: Spot | None) -> str:
    """``string 2, fret 1, finger 1``; ``string 1 open``."""
    if spot is None:
        return "no place"
    if spot.fret == 0:
        return f"string {spot.string} open"
    return f"string {spot.string}, fret {spot.fret}, {NAMES[spot.finger]}"


def _more(mine: Facts, theirs: Facts) -> Iterator[str]:
    """What the other fingering asks more or less of the hand."""
    for field, one, many in COUNTED:
        more = getattr(theirs, field) - getattr(mine, field)
        if more:
            yield f"{abs(more)} {'more' if more > 0 else 'fewer'} {one if abs(more) == 1 else many}"
    stretch = theirs.stretch_mm - mine.stretch_mm
    if abs(stretch) >= 1:
        yield f"{abs(stretch):.0f} mm {'more' if stretch > 0 else 'less'} stretch"
