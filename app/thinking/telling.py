"""What the search found, in a teacher's words: what cannot be played, and what speaks against."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from msgspec import structs

from app.panels.duties import beats_words, pitch_words
from app.thinking.questions import Clash, WhyNot
from core.hand.fingering import Release, Solved, Workshop, narrowed, solve_task, tone_of
from core.hand.other_ways import Conflict, Facts, conflicts, facts, why_not
from core.hand.passage import Spot
from core.hand.strokes import Stroke
from core.model import TICKS_PER_QUARTER, Arrangement, Measure, walk

NAMES = ("an open string", "finger 1", "finger 2", "finger 3", "finger 4", "the thumb")


def clashes(
    solved: Solved, arrangement: Arrangement, released: Collection[Release]
) -> tuple[Clash, ...]:
    """The spots of a solution where something had to give way."""
    return tuple(_clash(c, solved, arrangement, released) for c in conflicts(solved))


def _clash(
    conflict: Conflict, solved: Solved, arrangement: Arrangement, released: Collection[Release]
) -> Clash:
    strokes = solved.task.strokes
    involved = sorted({*conflict.holds, *conflict.strokes})
    held = [_stroke_words(strokes[i], held=True) for i in conflict.holds]
    struck = [_stroke_words(strokes[i]) for i in conflict.strokes]
    words = _joined([*held, *struck])
    cannot = "cannot be had together"
    if len(involved) == 1:
        bare = not solved.task.strokes[involved[0]].choices
        fret = solved.terms.contract.highest_fret
        cannot = f"has no place up to fret {fret}" if bare else "is out of this hand's reach"
    measures = [strokes[i].sounds[0].measures[0] for i in involved]
    last = measures[-1] if measures else 0
    notes = tuple(strokes[i].sounds[0].first.id for i in involved)
    out = _joined(list(_ways_out(conflict, solved, arrangement, released)))
    return Clash(last, notes, f"{words} {cannot}.", f"Cheapest: {out}." if out else "")


def facts_words(found: Facts) -> str:
    """What a fingering asks of the hand: ``1 move of the hand, 12 mm of stretch``."""
    counts = (
        (found.moves, "move of the hand", "moves of the hand"),
        (found.leaps, "leap of a finger", "leaps of a finger"),
        (found.kept, "finger kept", "fingers kept"),
        (found.barres, "barre", "barres"),
        (found.released, "note cut short", "notes cut short"),
    )
    parts = [f"{count} {one if count == 1 else many}" for count, one, many in counts if count]
    if found.stretch_mm >= 1:
        parts.append(f"{found.stretch_mm:.0f} mm of stretch beyond ease")
    return ", ".join(parts) or "the hand stays where it is, nothing is stretched"


def _joined(parts: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join(", ".join(parts).rsplit(", ", 1)) if len(parts) > 1 else "".join(parts)


def _stroke_words(stroke: Stroke, held: bool = False) -> str:
    """``A4 held``, ``F4 with finger 1 as pinned``."""
    note = stroke.sounds[0].first
    words = pitch_words(str(note.pitch)) + (" held" if held else "")
    pins = []
    if note.place is not None and note.place.firm:
        pins.append(f"on string {note.place.value.string}")
    if note.finger is not None and note.finger.firm and note.finger.value.value != "0":
        pins.append(f"with finger {note.finger.value.value}")
    return f"{words} {' '.join(pins)} as pinned" if pins else words


def _ways_out(
    conflict: Conflict, solved: Solved, arrangement: Arrangement, released: Collection[Release]
) -> Iterator[str]:
    """What the solution lets go in the stretch of a conflict."""
    cuts = solved.task.passage.cuts()
    start = max(cut for cut in cuts if cut <= conflict.onset)
    end = min(cut for cut in cuts if cut > conflict.onset)
    by_note = {release.note: release for release in released}
    beats = {m.id: m for m in walk.measures(arrangement)}
    for index, tone in enumerate(solved.task.passage.tones):
        if not start <= tone.first < end:
            continue
        first = solved.task.strokes[index].sounds[0].first
        name = pitch_words(str(first.pitch))
        if solved.spots[index] is None:
            yield f"leave out or move {name}"
        elif first.id in by_note:
            yield _release_words(name, by_note[first.id], beats)


def _release_words(name: str, release: Release, measures: dict[int, Measure]) -> str:
    beat = measures[release.measure].metre.pulse_ticks[0]
    rings = beats_words(round(release.quarters * TICKS_PER_QUARTER), beat)
    written = beats_words(round(release.written * TICKS_PER_QUARTER), beat)
    return f"let {name} go after {rings} of its {written}"


def against(
    solved: Solved,
    arrangement: Arrangement,
    question: WhyNot,
    wanted: list[Spot],
    workshop: Workshop,
) -> str:
    """Why a note is not played in one of the wanted ways: the difference, in words."""
    asked = NAMES[question.finger]
    if not wanted:
        return f"Not {asked}: no such way lies within the level, the neck and the other pins."
    tone = tone_of(solved, question.note)
    best = solved.spots[tone]
    if best is not None and best in wanted:
        return f"{asked.capitalize()} is the easiest here: {spot_words(best)}."
    difference = why_not(solved, question.note, wanted, workshop)
    passage = narrowed(solved.task.passage, {tone: wanted})
    task = structs.replace(solved.task, passage=passage)
    other = solve_task(task, solved.terms, solved.reach, workshop)
    if not difference.playable:
        return f"Not {asked}: {_hindrance(other, arrangement, tone) or difference.words()}"
    more = _more(facts(solved), facts(other))
    instead = f" instead of {NAMES[best.finger]}" if best is not None else ""
    head = f"{asked.capitalize()}{instead}: {', '.join(more) or 'the hand does as much'}."
    return f"{head} {difference.words()}" if difference.more > 0.05 else f"{head} No dearer."


def _hindrance(other: Solved, arrangement: Arrangement, tone: int) -> str:
    """What clashes where a note is held to a finger; empty where that is not known."""
    found = next((c for c in conflicts(other) if tone in (*c.strokes, *c.holds)), None)
    if found is None or {*found.strokes, *found.holds} == {tone}:
        return "that lies outside what the level lets the hand do." if found else ""
    return _clash(found, other, arrangement, ()).words


def spot_words(spot: Spot) -> str:
    """``string 2, fret 1, finger 1``; ``string 1 open``."""
    if spot.fret == 0:
        return f"string {spot.string} open"
    return f"string {spot.string}, fret {spot.fret}, {NAMES[spot.finger]}"


def _more(mine: Facts, theirs: Facts) -> Iterator[str]:
    """What the other fingering asks more or less of the hand."""
    counts = (
        ("move of the hand", "moves of the hand", theirs.moves - mine.moves),
        ("leap of a finger", "leaps of a finger", theirs.leaps - mine.leaps),
        ("finger kept", "fingers kept", theirs.kept - mine.kept),
        ("barre", "barres", theirs.barres - mine.barres),
    )
    for one, many, more in counts:
        if more:
            yield f"{abs(more)} {'more' if more > 0 else 'fewer'} {one if abs(more) == 1 else many}"
    stretch = theirs.stretch_mm - mine.stretch_mm
    if abs(stretch) >= 1:
        yield f"{abs(stretch):.0f} mm {'more' if stretch > 0 else 'less'} stretch"
