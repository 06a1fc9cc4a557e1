"""What the command line does, without a screen. Heavy rooms are imported where they are used."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct, structs

from app.reading import LESSON_SUFFIX, read
from app.sentences import plain
from core.formats.imported import PartChoice
from core.model import BadInput, Lesson, Section
from core.store.files import write_atomically

if TYPE_CHECKING:
    from core.kit.make import Artefact
    from core.sound import Plan

PX_PER_SPACE = 8.0
WRITTEN = (LESSON_SUFFIX, ".musicxml", ".xml", ".mid", ".pdf", ".svg", ".wav")


def opened(path: Path, parts: str = "", octave: int | None = None) -> Lesson:
    """The lesson of a file; what became of a foreign file's content is told on stderr.

    `parts` are the numbers of the parts for melody and bass (``1,4``), empty for the highest and
    the lowest; `octave` leads from the file's pitches to what sounds, None as the file says.
    """
    found = read(path, _choice(parts), octave)
    for sentence in found.sentences:
        print(plain(sentence), file=sys.stderr)
    return found.lesson


def _choice(parts: str) -> PartChoice | None:
    if not parts:
        return None
    numbers = [figure.strip() for figure in parts.split(",")]
    if len(numbers) not in (1, 2) or not all(n.isdecimal() and int(n) > 0 for n in numbers):
        raise BadInput(f"{parts} names no parts; write 1,4 (melody, bass) or 1 (melody alone).")
    melody, *bass = (int(number) - 1 for number in numbers)
    return PartChoice(melody, bass[0] if bass else None)


WORDS = {"none": "", "both": "staff and tab", "a4": "A4", "letter": "Letter"}


class Shown(Struct, frozen=True):
    """What the pages are to show, where that is said: else as the lesson has it. The fields are
    called as those of the lesson's settings."""

    names: str | None = None
    shape_sheet: bool | None = None
    staves: str | None = None
    paper: str | None = None
    large_print: bool | None = None

    def on(self, lesson: Lesson) -> Lesson:
        """The lesson with its settings so."""
        said = {field: _meant(v) for field, v in structs.asdict(self).items() if v is not None}
        return structs.replace(lesson, settings=structs.replace(lesson.settings, **said))


def _meant(value: str | bool) -> str | bool:
    """What a word of the command line is among the settings: ``fixed-do`` is ``fixed do``."""
    return WORDS.get(value, value.replace("-", " ")) if isinstance(value, str) else value


AS_IT_IS = Shown()


def convert(
    source: Path, target: Path, parts: str = "", octave: int | None = None, shown: Shown = AS_IT_IS
) -> None:
    """Write the lesson of one file as another, by the suffix of its name."""
    known_suffix(target)
    written(shown.on(opened(source, parts, octave)), target)


def known_suffix(target: Path) -> None:
    """Raises BadInput where a file's name ends in nothing that can be written."""
    if target.suffix.lower() not in WRITTEN:
        known = ", ".join(WRITTEN)
        raise BadInput(f"{target.name} is of no kind that Footstool writes ({known}).")


def written(lesson: Lesson, target: Path) -> None:
    """Write a lesson as the file's suffix says; nothing is left half-written."""
    suffix = target.suffix.lower()
    if suffix == LESSON_SUFFIX:
        from core.store import save

        save(lesson, target)
    else:
        write_atomically(target, _encoded(lesson, suffix))


def _encoded(lesson: Lesson, suffix: str) -> bytes | Iterator[bytes]:
    match suffix:
        case ".mid":
            from core.formats import midi

            return midi.write(lesson)
        case ".pdf":
            from app.printing import press
            from core.kit.make import handout

            return handout(lesson, press(), _today())
        case ".svg":
            return _strip(lesson)
        case ".wav":
            from core.sound import Plan

            return _sound(lesson, Plan(percent=lesson.settings.practice_percent))
        case _:
            from core.formats import musicxml_write

            return musicxml_write.write(lesson)


def _strip(lesson: Lesson) -> bytes:
    """The whole piece as one long line."""
    from app.printing import press
    from core.display.faces import read_all
    from core.display.outlines import Outlines
    from core.display.svg import to_svg
    from core.page.engrave import engrave
    from core.page.printed import printed
    from core.page.style import PageStyle, for_settings

    printer = press(for_settings(PageStyle(flow="line"), lesson.settings))
    sheet = engrave(printed(lesson, printer.style), printer.style, printer.metrics).sheets[0]
    return to_svg(
        sheet, PX_PER_SPACE, Outlines(read_all(printer.fonts)), title=lesson.title
    ).encode()


def _sound(lesson: Lesson, plan: Plan) -> Iterator[bytes]:
    from core.sound import timeline, wav
    from core.sound.bank import NoteBank
    from core.sound.timeline import DEFAULT_RATE

    return wav.pieces(timeline(lesson, plan, DEFAULT_RATE), NoteBank(DEFAULT_RATE), lesson.title)


def render(source: Path, target: Path, section: str, tempo: str, count_in: int) -> None:
    """Write a WAV file of the piece, or of one section, at a practice tempo."""
    if target.suffix.lower() != ".wav":
        raise BadInput(f"{target.name} does not end in .wav; render writes WAV files.")
    lesson = opened(source)
    from core.sound import OneSection, Plan, Whole

    what = OneSection(_section(lesson, section).id) if section else Whole()
    percent, per_minute = _tempo(tempo, lesson)
    plan = Plan(what, percent=percent, per_minute=per_minute, count_in=count_in)
    write_atomically(target, _sound(lesson, plan))


def _section(lesson: Lesson, name: str) -> Section:
    """The section with that letter, title or number."""
    wanted = name.strip().casefold()
    sections = lesson.arrangement.sections
    for number, section in enumerate(sections, start=1):
        if wanted in (section.letter.casefold(), section.title.casefold(), str(number)):
            return section
    raise BadInput(f"There is no section {name}; {_its_sections(sections)}.")


def _its_sections(sections: Sequence[Section]) -> str:
    """What the sections of a lesson can be called."""
    names = [
        section.letter or section.title or f"number {number} (it has no letter)"
        for number, section in enumerate(sections, start=1)
    ]
    if len(names) == 1:
        only = sections[0].letter or sections[0].title
        return f"its one section is {only}" if only else "its one section has no letter: number 1"
    return f"its sections are {', '.join(names[:-1])} and {names[-1]}"


def _tempo(text: str, lesson: Lesson) -> tuple[float, float | None]:
    """Percent of the goal, or beats a minute: ``50%``, ``60``; empty is the practice tempo."""
    if not text:
        return float(lesson.settings.practice_percent), None
    figure = text.strip().removesuffix("%").strip()
    try:
        number = float(figure)
    except ValueError:
        raise BadInput(f"{text} is no tempo; write 60 (beats a minute) or 50%.") from None
    if not number > 0:
        raise BadInput(
            f"A tempo is more than 0, not {figure}; write 60 (beats a minute) or 50% of the goal."
        )
    return (number, None) if text.strip().endswith("%") else (100.0, number)


def kit(source: Path, folder: Path, shown: Shown = AS_IT_IS) -> None:
    """Make every artefact of a lesson in a folder and print what was made."""
    lesson = shown.on(opened(source))
    from app.printing import press
    from core.kit.make import make

    made = make(lesson, folder, press(), _today())
    width = max(len(artefact.name) for artefact in made)
    print(plain(f"The kit of {lesson.title or 'the lesson'}, in {folder}:"))
    for artefact in made:
        print(f"  {artefact.name:<{width}}  {plain(artefact.what)}, {size(artefact.size_bytes)}")
    old = replaced(made)
    if old:
        print(old)


def replaced(made: Sequence[Artefact]) -> str:
    """What a kit took the place of, as a sentence; empty where the folder held no kit."""
    count = sum(artefact.replaced for artefact in made)
    if not count:
        return ""
    files = "1 file" if count == 1 else f"{count} files"
    return f"{files} of the kit that was there before made way."


def size(count: int) -> str:
    """A file's size: ``812 bytes``, ``36 kB``, ``3.2 MB``."""
    if count < 1000:
        return f"{count} bytes"
    return f"{count / 1000:.0f} kB" if count < 1_000_000 else f"{count / 1_000_000:.1f} MB"


def _today() -> str:
    return datetime.now(UTC).date().isoformat()
