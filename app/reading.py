"""Reading any file Footstool can open: which reader, places for what has none, what to tell."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct, structs

from core.formats import lesson_json, lesson_unknown
from core.formats.imported import PartChoice, Report
from core.hand.places import with_places
from core.model import BadInput, Lesson, walk
from core.store.files import read_whole

LESSON_SUFFIX = ".footstool"
SCORE_SUFFIXES = (".musicxml", ".xml", ".mxl")
MIDI_SUFFIXES = (".mid", ".midi")
MOST_BYTES = 64 * 1024 * 1024


class Opened(Struct, frozen=True):
    """A lesson from a file and the sentences that tell what became of the file's content.

    `foreign` is True where the file is not a lesson, so that saving needs a new name; `report` is
    then the reader's.
    """

    lesson: Lesson
    sentences: tuple[str, ...] = ()
    foreign: bool = False
    report: Report | None = None


def read(path: Path, parts: PartChoice | None = None, octave: int | None = None) -> Opened:
    """Open a lesson or a score; raises BadInput with one sentence that names the file.

    `parts` and `octave` (from written to sounding, MusicXML only) override what a score's reader
    would decide.
    """
    suffix = path.suffix.lower()
    if suffix == LESSON_SUFFIX:
        return _lesson(path)
    if suffix in SCORE_SUFFIXES or suffix in MIDI_SUFFIXES:
        return _foreign(path, suffix in MIDI_SUFFIXES, parts, octave)
    known = ", ".join((LESSON_SUFFIX, *SCORE_SUFFIXES, *MIDI_SUFFIXES))
    raise BadInput(f"{path.name} is of no kind that Footstool reads ({known}).")


def _lesson(path: Path) -> Opened:
    """A lesson file, and what of it this program does not know."""
    data = read_whole(path, lesson_json.MOST_BYTES)
    lesson = lesson_json.read(data, path.name)
    return Opened(lesson, lesson_unknown.sentences(data, path.name))


def _foreign(path: Path, is_midi: bool, parts: PartChoice | None, octave: int | None) -> Opened:
    name = path.name.encode(errors="replace").decode()  # the lesson keeps it, and is UTF-8
    data = read_whole(path, MOST_BYTES)
    if is_midi:
        from core.formats import midi_read  # mido, and lxml below, only where they are needed

        imported = midi_read.read(data, name, parts)
    else:
        from core.formats import musicxml_read

        imported = musicxml_read.read(data, name, parts, octave)
    # Pages show staff and tab until the teacher chooses, whatever staves the score had.
    settings = structs.replace(imported.lesson.settings, staves="staff and tab")
    lesson, unplaced = with_places(structs.replace(imported.lesson, settings=settings))
    sentences = (*imported.report.sentences, *_places(lesson, unplaced))
    return Opened(lesson, sentences, foreign=True, report=imported.report)


def _places(lesson: Lesson, unplaced: tuple[int, ...]) -> list[str]:
    """What the quick search for places did, in a sentence or two."""
    suggested = sum(
        note.place is not None and not note.place.firm
        for measure in walk.measures(lesson.arrangement)
        for _, note in walk.notes(measure)
    )
    found = []
    if suggested:
        found.append(f"{counted(suggested, 'note')} had no place; one is suggested for each.")
    if unplaced:
        left = counted(len(unplaced), "note")
        fret = lesson.brief.level.highest_fret
        found.append(
            f"{left} cannot be placed up to fret {fret} by this hand; you decide (drawn hollow)."
        )
    return found


def counted(number: int, word: str) -> str:
    """``1 note``, ``3 notes``."""
    return f"{number} {word}" + ("" if number == 1 else "s")
