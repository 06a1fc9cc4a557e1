"""What an independent reader (music21) and ours find in a file: measure, onset, pitch of notes."""

import os
import warnings
from fractions import Fraction
from math import floor
from pathlib import Path

from core.model import TICKS_PER_QUARTER

ROOT = Path(__file__).resolve().parents[3]


def shared() -> Path | None:
    """The folder of open test data, where it is there."""
    places = [os.environ.get("FOOTSTOOL_SHARED", ""), str(ROOT.parent / "shared")]
    return next((Path(p) for p in places if p and Path(p, "data").is_dir()), None)


def suite() -> list[Path]:
    """The files of the open MusicXML test suite (see its LICENSE beside the data)."""
    folder = shared()
    if folder is None:
        return []
    return sorted(p for p in (folder / "data/musicxml-suite").iterdir() if p.suffix)


def parsed(path_or_data, sounding=True):
    """A file read by music21."""
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if isinstance(path_or_data, bytes):
            score = music21.converter.parseData(path_or_data, format="musicxml")
        else:
            score = music21.converter.parse(str(path_or_data), format="musicxml", forceSource=True)
        return score.toSoundingPitch() if sounding else score


def notes_of_score(score, lengths=False):
    """(measure index, onset in quarters, MIDI number) of each notehead music21 found, sorted."""
    import music21

    rows = []
    for part in score.parts:
        for index, measure in enumerate(part.getElementsByClass(music21.stream.Measure)):
            for element in measure.recurse().notes:
                if isinstance(element, music21.harmony.Harmony):
                    continue
                onset = Fraction(element.getOffsetInHierarchy(measure)).limit_denominator(5040)
                last = (Fraction(element.quarterLength).limit_denominator(5040),) * lengths
                pitches = getattr(element, "pitches", ())
                rows += [(index, onset, floor(pitch.ps + 0.5), *last) for pitch in pitches]
    return sorted(rows)


def notes_of_measures(measures, lengths=False):
    """The same of measures of ours."""
    rows = []
    for index, measure in enumerate(measures):
        for row in measure.voices:
            onset = 0
            for event in row:
                last = (Fraction(event.ticks, TICKS_PER_QUARTER),) * lengths
                at = Fraction(onset, TICKS_PER_QUARTER)
                rows += [(index, at, note.pitch.midi, *last) for note in event.notes]
                onset += event.ticks
    return sorted(rows)


def notes_of_import(imported, lengths=False):
    """The same of everything a file brought: its source parts, or the arrangement."""
    lesson = imported.lesson
    if lesson.sources:
        parts = [part.measures for part in lesson.sources[0].parts]
        return sorted(row for part in parts for row in notes_of_measures(part, lengths))
    measures = [m for section in lesson.arrangement.sections for m in section.measures]
    return notes_of_measures(measures, lengths)
