"""Thirty chorales and dances of music21's corpus as lessons with a melody and a bass."""

from __future__ import annotations

import warnings

from msgspec import structs

from core.formats import musicxml_read
from core.model import Arrangement, Lesson, Note, Pitch, walk

CHORALES = tuple(
    f"bach/bwv{n}" for n in (
        "66.6", "10.7", "101.7", "102.7", "103.6", "104.6", "108.6", "11.6", "110.7", "111.6",
        "112.5", "113.8", "114.7", "115.6", "116.6", "117.4", "119.9", "120.6", "121.6", "122.6",
    )
)  # fmt: skip
DANCES = ("airdsAirs/book1.abc",)
DANCE_COUNT = 10


def lessons() -> list[tuple[str, Lesson]]:
    """Name and lesson of every piece; music21 reads, its exporter writes, our importer imports."""
    from music21 import corpus

    found = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in CHORALES:
            found.append((name, _lesson(name, corpus.parse(name))))
        book = corpus.parse(DANCES[0])
        for score in list(book.scores)[:DANCE_COUNT]:
            title = score.metadata.title or "dance"
            found.append((title, _lesson(title, score)))
    return found


def chorale(name: str) -> tuple[str, Lesson]:
    """One chorale."""
    from music21 import corpus

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return name, _lesson(name, corpus.parse(name))


def _lesson(name: str, score) -> Lesson:
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    data = GeneralObjectExporter(score).parse()
    return fitted(musicxml_read.read(data, f"{name}.musicxml").lesson)


def fitted(lesson: Lesson) -> Lesson:
    """The lesson moved down by the semitones that leave the fewest notes outside frets 0 to 5."""
    every = [n.pitch.midi for m in walk.measures(lesson.arrangement) for _, n in walk.notes(m)]
    down = min(range(13), key=lambda k: sum(not 40 <= midi - k <= 69 for midi in every))
    return structs.replace(lesson, arrangement=_moved(lesson.arrangement, down))


def _moved(arrangement: Arrangement, down: int) -> Arrangement:
    sections = []
    for section in arrangement.sections:
        measures = []
        for measure in section.measures:
            voices = tuple(
                tuple(
                    structs.replace(e, notes=tuple(_lower(n, down) for n in e.notes)) for e in row
                )
                for row in measure.voices
            )
            measures.append(structs.replace(measure, voices=voices))
        sections.append(structs.replace(section, measures=tuple(measures)))
    return structs.replace(arrangement, sections=tuple(sections))


def _lower(note: Note, down: int) -> Note:
    return structs.replace(note, pitch=Pitch.from_midi(note.pitch.midi - down), place=None)
