"""What is said about the piece: title, credit, source, brief, settings, waivers, tempo, key."""

from __future__ import annotations

from math import isfinite

from msgspec import Struct, structs

from core.edit.base import Ids, find_measure, with_arrangement
from core.edit.copying import copied_measure
from core.model import (
    Brief,
    EditRefused,
    Key,
    Lesson,
    Settings,
    Source,
    SourceCard,
    Tempo,
    Waiver,
)


class SetTitle(Struct, frozen=True):
    """Set the title."""

    title: str

    @property
    def label(self) -> str:
        return "title"

    def apply(self, lesson: Lesson) -> Lesson:
        title = self.title.strip()
        return lesson if title == lesson.title else structs.replace(lesson, title=title)


class SetSourceCard(Struct, frozen=True):
    """Set composer, credit line, year, edition, rights and notes of the source."""

    card: SourceCard

    @property
    def label(self) -> str:
        return "source card"

    def apply(self, lesson: Lesson) -> Lesson:
        return lesson if self.card == lesson.source else structs.replace(lesson, source=self.card)


class SetCredit(Struct, frozen=True):
    """Set the line printed under the title."""

    credit: str

    @property
    def label(self) -> str:
        return "credit"

    def apply(self, lesson: Lesson) -> Lesson:
        card = structs.replace(lesson.source, credit=self.credit.strip())
        return SetSourceCard(card).apply(lesson)


class SetSources(Struct, frozen=True):
    """Keep these multi-part originals with the lesson; the command gives them fresh ids."""

    sources: tuple[Source, ...]

    @property
    def label(self) -> str:
        return "kept sources"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.sources == lesson.sources:
            return lesson
        ids = Ids(lesson)
        for source in self.sources:
            for part in (source.melody, source.bass):
                if part is not None and not 0 <= part < len(source.parts):
                    raise EditRefused(f"The source {source.name} has no part {part + 1}.")
        kept = tuple(
            structs.replace(
                source,
                parts=tuple(
                    structs.replace(
                        part, measures=tuple(copied_measure(m, ids) for m in part.measures)
                    )
                    for part in source.parts
                ),
            )
            for source in self.sources
        )
        return structs.replace(lesson, sources=kept, next_id=max(ids.next, lesson.next_id))


class SetBrief(Struct, frozen=True):
    """Set who the lesson is for: student, age, goal, minutes, hand profile, level contract."""

    brief: Brief

    @property
    def label(self) -> str:
        return "brief"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.brief == lesson.brief:
            return lesson
        check_brief(self.brief)
        return structs.replace(lesson, brief=self.brief)


def check_brief(brief: Brief) -> None:
    """Refuse figures no student or lesson has."""
    if brief.age is not None and not 2 <= brief.age <= 120:
        raise EditRefused("An age is 2 to 120 years.")
    if brief.minutes is not None and not (isfinite(brief.minutes) and 0 < brief.minutes <= 600):
        raise EditRefused("A lesson lasts more than 0 and at most 600 minutes.")
    for pair, span in brief.hand.spans_mm.items():
        if not (isfinite(span) and 0 < span <= 300):
            raise EditRefused(f"The span between fingers {pair[0]} and {pair[1]} is 1 to 300 mm.")
    level = brief.level
    if not 0 <= level.highest_fret <= 24 or not 1 <= level.fingers <= 4:
        raise EditRefused("A level contract has frets 0 to 24 and 1 to 4 fingers.")
    if not (isfinite(level.notes_per_second) and 0 < level.notes_per_second <= 30):
        raise EditRefused("A level contract has more than 0 and at most 30 notes a second.")


class SetSettings(Struct, frozen=True):
    """Set how the lesson is shown and practised."""

    settings: Settings

    @property
    def label(self) -> str:
        return "settings"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.settings == lesson.settings:
            return lesson
        if not 10 <= self.settings.practice_percent <= 200:
            raise EditRefused("The practice tempo is 10 to 200 percent of the goal.")
        return structs.replace(lesson, settings=self.settings)


class SetTempo(Struct, frozen=True):
    """Set the goal tempo."""

    tempo: Tempo

    @property
    def label(self) -> str:
        return f"tempo {self.tempo.per_minute:g}"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.tempo == lesson.arrangement.tempo:
            return lesson
        return with_arrangement(lesson, structs.replace(lesson.arrangement, tempo=self.tempo))


class SetMainKey(Struct, frozen=True):
    """Set the key the lesson is said to be in, without touching a measure."""

    key: Key

    @property
    def label(self) -> str:
        return f"key of the piece {self.key}"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.key == lesson.arrangement.key:
            return lesson
        return with_arrangement(lesson, structs.replace(lesson.arrangement, key=self.key))


class SetClef(Struct, frozen=True):
    """Show the 8 below the treble clef, or the plain clef of guitar music."""

    shows_octave: bool

    @property
    def label(self) -> str:
        return "clef"

    def apply(self, lesson: Lesson) -> Lesson:
        if self.shows_octave == lesson.arrangement.clef_shows_octave:
            return lesson
        arrangement = structs.replace(lesson.arrangement, clef_shows_octave=self.shows_octave)
        return with_arrangement(lesson, arrangement)


class AddWaiver(Struct, frozen=True):
    """Let a remark of the red pen stand, with the reason."""

    waiver: Waiver

    @property
    def label(self) -> str:
        return f"let {self.waiver.rule} stand"

    def apply(self, lesson: Lesson) -> Lesson:
        find_measure(lesson, self.waiver.measure)
        if not self.waiver.reason.strip():
            raise EditRefused("A waiver needs a reason; write one.")
        kept = tuple(
            waiver
            for waiver in lesson.waivers
            if (waiver.rule, waiver.measure) != (self.waiver.rule, self.waiver.measure)
        )
        if self.waiver in lesson.waivers:
            return lesson
        return structs.replace(lesson, waivers=(*kept, self.waiver))


class RemoveWaiver(Struct, frozen=True):
    """Let the red pen remark on a rule in a measure again."""

    rule: str
    measure: int

    @property
    def label(self) -> str:
        return f"no longer let {self.rule} stand"

    def apply(self, lesson: Lesson) -> Lesson:
        kept = tuple(w for w in lesson.waivers if (w.rule, w.measure) != (self.rule, self.measure))
        if len(kept) == len(lesson.waivers):
            raise EditRefused("That waiver is no longer there; choose another.")
        return structs.replace(lesson, waivers=kept)
