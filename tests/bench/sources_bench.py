"""Reading and writing MusicXML, beside music21's parse of the same file in the same run."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator

from core.formats import musicxml_read, musicxml_write
from tests.bench.music import long_lesson
from tests.bench.row import Row, median, seconds

CORPUS = ("bach/bwv66.6", "mozart/k155/movement2", "schoenberg/opus19/movement2")


def rows() -> Iterator[Row]:
    lesson = long_lesson(500)
    data = musicxml_write.write(lesson)
    size = f"500 measures, {len(data) // 1024} kB"
    yield Row("sources.musicxml-write", size, median(lambda: musicxml_write.write(lesson)), "s")
    yield _reading("sources.musicxml-read", size, data, 3)
    yield from _corpus()


def _corpus() -> Iterator[Row]:
    from music21 import corpus

    for name in CORPUS:
        path = corpus.getWork(name)
        with zipfile.ZipFile(path) as archive:
            inside = next(n for n in archive.namelist() if not n.startswith("META-INF"))
            data = archive.read(inside)
        yield _reading(
            f"sources.musicxml-read-{name.split('/')[0]}", f"{len(data) // 1024} kB", data, 5
        )


def _reading(name: str, size: str, data: bytes, times: int) -> Row:
    """Seconds of our reading, the best of several turn about; the goal is music21's figure."""
    pairs = [
        (seconds(lambda: musicxml_read.read(data, name)), seconds(lambda: _music21(data)))
        for _ in range(times)
    ]
    mine, theirs = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
    return Row(name, size, mine, "s", goal=theirs, peer="music21", peer_figure=theirs)


def _music21(data: bytes) -> object:
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return music21.converter.parseData(data, format="musicxml")
