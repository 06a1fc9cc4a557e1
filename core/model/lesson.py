"""The lesson: one arrangement and everything said about it. This is what a lesson file holds."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.model.form import Arrangement
from core.model.measure import Measure

LESSON_VERSION = 1


class SourceCard(Struct, frozen=True, omit_defaults=True):
    """Where the tune comes from. `credit` is the line printed under the title."""

    composer: str = ""
    credit: str = ""
    year: str = ""
    edition: str = ""
    rights: str = ""
    notes: str = ""


class SourcePart(Struct, frozen=True, omit_defaults=True):
    """One part of a source as it came: its measures, in written order."""

    name: str
    measures: tuple[Measure, ...]


class Source(Struct, frozen=True, omit_defaults=True):
    """A multi-part original kept with the lesson, and which parts became which voice."""

    name: str
    parts: tuple[SourcePart, ...]
    melody: int | None = None
    bass: int | None = None


class HandProfile(Struct, frozen=True, omit_defaults=True):
    """The student's left hand: spans in mm between finger pads, stretched but at ease."""

    spans_mm: dict[Literal["12", "13", "14", "23", "24", "34"], float] = {}
    note: str = ""


class LevelContract(Struct, frozen=True, omit_defaults=True):
    """What the student may be asked to do. House defaults of level 1, not published numbers."""

    level: int = 1
    highest_fret: int = 5
    highest_position: int = 2
    fingers: int = 4
    most_notes: int = 3
    barre: bool = False
    notes_per_second: float = 2.0
    chords_per_measure: int = 2


class Brief(Struct, frozen=True, omit_defaults=True):
    """Who the lesson is for and what it should teach."""

    student: str = ""
    age: int | None = None
    goal: str = ""
    minutes: float | None = None
    hand: HandProfile = HandProfile()
    level: LevelContract = LevelContract()


class Waiver(Struct, frozen=True, omit_defaults=True):
    """A remark of the red pen that the teacher lets stand, and why."""

    rule: str
    measure: int
    reason: str


class Settings(Struct, frozen=True, omit_defaults=True):
    """How this lesson is shown and practised; never what the music is.

    `names` are note names for beginners: letters in the heads, or syllables beside the staff.
    `sounding` writes what sounds under a capo, for reading with others, not what is fingered.
    `shape_sheet` adds a sheet of all chord shapes to the handout. `staves`, `paper`,
    `large_print` and `phrase_lines` (a phrase to a line) are for pages; `beat_dots` tells strong
    and weak beats under the staff.
    """

    practice_percent: int = 70
    staves: Literal["staff and tab", "staff", "tab"] = "staff and tab"
    names: Literal["", "letters", "fixed do", "movable do"] = ""
    sounding: bool = False
    shape_sheet: bool = False
    paper: Literal["A4", "Letter"] = "A4"
    large_print: bool = False
    phrase_lines: bool = False
    beat_dots: bool = False


class Lesson(Struct, frozen=True, omit_defaults=True, eq=False):
    """One lesson file. `next_id` is the high-water mark of ids: outside equality, never lowered."""

    title: str
    arrangement: Arrangement
    next_id: int
    source: SourceCard = SourceCard()
    sources: tuple[Source, ...] = ()
    brief: Brief = Brief()
    waivers: tuple[Waiver, ...] = ()
    settings: Settings = Settings()
    solver: str = ""

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Lesson):
            return NotImplemented
        return all(
            mine is theirs or mine == theirs
            for name, mine, theirs in (
                (name, getattr(self, name), getattr(other, name)) for name in self.__struct_fields__
            )
            if name != "next_id"
        )

    def __ne__(self, other: object) -> bool:
        """Spelled out: the struct's own ``!=`` would compare identity."""
        return not self == other

    __hash__ = None  # type: ignore[assignment]

    def with_ids_from(self, other: Lesson) -> Lesson:
        """This lesson with the higher of the two high-water marks."""
        if other.next_id <= self.next_id:
            return self
        return structs.replace(self, next_id=other.next_id)
