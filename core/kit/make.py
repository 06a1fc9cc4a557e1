"""The kit: every artefact of a lesson, made together from one version of it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from hashlib import sha256
from pathlib import Path

from msgspec import Struct

from core.display.items import Sheet
from core.display.pdf import to_pdf
from core.formats import lesson_json, midi, musicxml_write
from core.kit.contents import LIST, contents, listed_in
from core.kit.folder import Part, fill
from core.kit.names import section_name, section_slugs, slug
from core.model import BadInput, Lesson, Section
from core.page.engrave import engrave
from core.page.layout import Layout
from core.page.metrics import Metrics
from core.page.printed import printed
from core.page.style import A4, PageStyle, for_pages
from core.sound import wav
from core.sound.bank import NoteBank
from core.sound.plan import OneSection, Plan
from core.sound.timeline import DEFAULT_RATE, timeline

COUNT_IN_MEASURES = 1


class Press(Struct, frozen=True):
    """What printing needs: font measures, the font file of every face, the paper.

    `raster` turns a page into a PNG file; where it is given, a kit has a picture of each page.
    """

    metrics: Metrics
    fonts: Mapping[str, bytes]
    style: PageStyle = A4
    raster: Callable[[Sheet], bytes] | None = None


class Artefact(Struct, frozen=True):
    """A file of the kit: its name, what it is, its size, and whether an older one made way."""

    name: str
    what: str
    size_bytes: int
    replaced: bool = False


class _Plan(Struct, frozen=True):
    name: str
    what: str
    pieces: Callable[[], Iterable[bytes]]


def stamp(lesson: Lesson) -> str:
    """Which version of the lesson this is: twelve hexadecimal digits of its file's SHA-256."""
    return sha256(lesson_json.write(lesson)).hexdigest()[:12]


def make(
    lesson: Lesson,
    folder: Path,
    press: Press,
    date: str,
    tell: Callable[[str], None] = lambda name: None,
) -> list[Artefact]:
    """Write the kit of a lesson into a folder, whole or not at all; what was made, in order.

    Handout, sound and MIDI of each section, MusicXML, the lesson itself and a list of contents.
    The same lesson and `date` (ISO 8601) make the same files. `tell` hears each file's name before
    it is made, and may raise to stop. Files of an older kit are replaced. Raises BadInput, also
    where a file that no kit lists there would have to make way.
    """
    plans = [*_plans(lesson, press, date)]
    rows = [(plan.name, plan.what) for plan in plans]
    listed = contents(lesson, rows, stamp(lesson), date)
    plans.append(_Plan(LIST, "This list", lambda: [listed.encode()]))
    parts: list[Part] = [(plan.name, plan.pieces) for plan in plans]
    old = _in_the_way(folder, [plan.name for plan in plans])
    sizes = fill(folder, parts, tell)
    return [
        Artefact(plan.name, plan.what, size, plan.name in old)
        for plan, size in zip(plans, sizes, strict=True)
    ]


def _in_the_way(folder: Path, names: Sequence[str]) -> list[str]:
    """Which files of an older kit will be replaced; raises BadInput for any other file."""
    there = [name for name in names if os.path.lexists(folder / name)]
    if not there:
        return []
    ours = listed_in(folder / LIST)
    foreign = [name for name in there if name not in ours]
    if foreign:
        more = f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""
        raise BadInput(
            f"The folder {folder} holds {foreign[0]}{more}, which no list of contents of a kit "
            f"names there; move {'it' if not more else 'them'} away or choose another folder."
        )
    return there


def handout(lesson: Lesson, press: Press, date: str) -> bytes:
    """The pages of the lesson as one PDF file."""
    layout = _pages(lesson, press)
    return to_pdf(
        layout.sheets,
        layout.space_mm,
        press.fonts,
        title=lesson.title,
        date=date,
        author=lesson.source.composer,
    )


def _pages(lesson: Lesson, press: Press) -> Layout:
    """The lesson laid out as its settings ask, and as paper shows it."""
    style = for_pages(press.style, lesson.settings)
    return engrave(printed(lesson, style), style, press.metrics)


def _plans(lesson: Lesson, press: Press, date: str) -> Iterator[_Plan]:
    name = slug(lesson.title, "lesson")
    yield _Plan(f"{name}-handout.pdf", "The pages to print", lambda: [handout(lesson, press, date)])
    if press.raster is not None:
        yield from _pictures(lesson, press, press.raster, name)
    yield from _sounds(lesson, name)
    yield _Plan(f"{name}.mid", "The whole piece as MIDI", lambda: [midi.write(lesson)])
    yield from _midi_sections(lesson, name)
    yield _Plan(
        f"{name}.musicxml",
        "The score for other notation programs (MusicXML 4.0)",
        lambda: [musicxml_write.write(lesson)],
    )
    yield _Plan(
        f"{name}.footstool", "The lesson itself, to open again", lambda: [lesson_json.write(lesson)]
    )


def _pictures(
    lesson: Lesson, press: Press, raster: Callable[[Sheet], bytes], name: str
) -> Iterator[_Plan]:
    for number, sheet in enumerate(_pages(lesson, press).sheets, start=1):
        picture = partial(raster, sheet)
        yield _Plan(
            f"{name}-page-{number}.png", f"Page {number} as a picture", partial(_once, picture)
        )


def _once(make_bytes: Callable[[], bytes]) -> list[bytes]:
    return [make_bytes()]


def _sounds(lesson: Lesson, name: str) -> Iterator[_Plan]:
    bank = NoteBank(DEFAULT_RATE)
    percent = lesson.settings.practice_percent
    tempo = lesson.arrangement.tempo
    beats = round(tempo.per_minute * percent / 100)
    for section, called, part in _sections(lesson):
        what = f"{called} at practice tempo: {beats} beats a minute ({percent} %), counted in"
        title = f"{lesson.title}, {called}, {beats} beats a minute"
        yield _Plan(f"{name}-{part}.wav", what, partial(_sound, lesson, section, bank, title))


def _sound(lesson: Lesson, section: Section, bank: NoteBank, title: str) -> Iterator[bytes]:
    plan = Plan(
        OneSection(section.id),
        percent=lesson.settings.practice_percent,
        count_in=COUNT_IN_MEASURES,
    )
    return wav.pieces(timeline(lesson, plan, bank.rate), bank, title)


def _midi_sections(lesson: Lesson, name: str) -> Iterator[_Plan]:
    for section, called, part in _sections(lesson):
        yield _Plan(
            f"{name}-{part}.mid",
            f"{called} as MIDI",
            partial(_once, partial(midi.write, lesson, section.id)),
        )


def _sections(lesson: Lesson) -> Iterator[tuple[Section, str, str]]:
    """The sections with what people call them and their part of a file name."""
    slugs = section_slugs(lesson.arrangement)
    for number, section in enumerate(lesson.arrangement.sections, start=1):
        yield section, section_name(section.letter, section.title, number), slugs[section.id]
