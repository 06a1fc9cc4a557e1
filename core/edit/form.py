"""The form: sections with letter, title and times; splitting and joining them; endings; signs."""

from __future__ import annotations

from typing import Literal, get_args, get_type_hints

from msgspec import Struct, structs

from core.edit.base import (
    Ids,
    find_measure,
    find_section,
    refuse,
    with_section,
    with_sections,
)
from core.edit.mend import check_length, put_measure
from core.model import SIGN_WORDS, EditRefused, Ending, Lesson, Section, Sign
from core.model.validate import MOST_TIMES, span_problems, upper

SIGN_KINDS: tuple[str, ...] = get_args(get_type_hints(Sign)["kind"])


def _name(section: Section) -> str:
    name = section.letter or section.title
    return f"section {name}" if name else "the section"


class SetSection(Struct, frozen=True):
    """Set the letter, title or times of a section; None leaves one as it is.

    With fewer times, endings for passes that are no longer played go.
    """

    section: int
    letter: str | None = None
    title: str | None = None
    times: int | None = None

    @property
    def label(self) -> str:
        if self.times is not None:
            return "play once" if self.times == 1 else f"play {self.times} times"
        return f"section letter {self.letter}" if self.letter is not None else "section title"

    def apply(self, lesson: Lesson) -> Lesson:
        index, section = find_section(lesson, self.section)
        if self.times is not None and not 1 <= self.times <= MOST_TIMES:
            raise EditRefused(f"A section is played 1 to {MOST_TIMES} times, not {self.times}.")
        letter = section.letter if self.letter is None else self.letter.strip()
        if len(letter) > 4:
            raise EditRefused("A section letter has at most four characters; use the title.")
        title = section.title if self.title is None else self.title.strip()
        times = section.times if self.times is None else self.times
        endings = tuple(
            structs.replace(ending, passes=passes) if passes != ending.passes else ending
            for ending in section.endings
            if (passes := tuple(p for p in ending.passes if p <= times))
        )
        updated = structs.replace(section, letter=letter, title=title, times=times, endings=endings)
        if updated == section:
            return lesson
        return check_length(with_section(lesson, index, [updated]))


class SplitSection(Struct, frozen=True):
    """Begin a new section at a measure; both are played once, or the former's times are kept.

    A section with endings is split only where no ending is torn.
    """

    measure: int
    letter: str = ""
    title: str = ""

    @property
    def label(self) -> str:
        return "begin a section"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        section = lesson.arrangement.sections[found.section]
        if found.index == 0:
            why = "a section begins already; change its letter or title."
            raise refuse(lesson, self.measure, why)
        order = {measure.id: index for index, measure in enumerate(section.measures)}
        early: list[Ending] = []
        late: list[Ending] = []
        for ending in section.endings:
            if order[ending.first] < found.index <= order[ending.last]:
                raise refuse(lesson, self.measure, "an ending would be torn; take it off first.")
            (early if order[ending.last] < found.index else late).append(ending)
        first = structs.replace(
            section, measures=section.measures[: found.index], endings=tuple(early)
        )
        second = Section(
            ids.take(), section.measures[found.index :], self.letter.strip(), self.title.strip(),
            section.times, tuple(late),
        )  # fmt: skip
        return check_length(with_section(lesson, found.section, [first, second], ids))


class JoinSection(Struct, frozen=True):
    """Join a section with the one before it; the letter, title and times of the former stay."""

    section: int

    @property
    def label(self) -> str:
        return "join sections"

    def apply(self, lesson: Lesson) -> Lesson:
        index, second = find_section(lesson, self.section)
        if index == 0:
            raise EditRefused(
                f"There is no section before {_name(second)} to join it with; it is the first."
            )
        first = lesson.arrangement.sections[index - 1]
        if first.times != second.times and (first.endings or second.endings):
            raise EditRefused(
                f"{upper(_name(first))} and {_name(second)} are played differently often and "
                "have endings; take the endings off first."
            )
        joined = structs.replace(
            first,
            measures=(*first.measures, *second.measures),
            endings=(*first.endings, *second.endings),
        )
        row = lesson.arrangement.sections
        return check_length(with_sections(lesson, (*row[: index - 1], joined, *row[index + 1 :])))


class MoveSection(Struct, frozen=True):
    """Move a section to another place in the order of sections (0 is the first).

    Refused where a span would then end before it begins.
    """

    section: int
    to: int

    @property
    def label(self) -> str:
        return "move the section"

    def apply(self, lesson: Lesson) -> Lesson:
        index, section = find_section(lesson, self.section)
        row = list(lesson.arrangement.sections)
        if not 0 <= self.to < len(row):
            raise EditRefused(
                f"There are {len(row)} sections; {_name(section)} cannot stand further on."
            )
        if index == self.to:
            return lesson
        row.insert(self.to, row.pop(index))
        updated = with_sections(lesson, row)
        if spans_turned(updated):
            raise EditRefused(
                f"A slur or another line reaches out of {_name(section)}; take it off first."
            )
        return updated


def spans_turned(lesson: Lesson) -> bool:
    """Whether a span ends in a measure before the one it begins in."""
    return any(span_problems(lesson.arrangement))


class SetEnding(Struct, frozen=True):
    """Make the measures from one to another of a section an ending for these passes.

    Earlier endings that overlap it go. A section played fewer times is played as often as the
    ending needs.
    """

    section: int
    first: int
    last: int
    passes: tuple[int, ...]
    closed: bool = True

    @property
    def label(self) -> str:
        return "ending " + ", ".join(f"{p}." for p in self.passes)

    def apply(self, lesson: Lesson) -> Lesson:
        index, section = find_section(lesson, self.section)
        order = {measure.id: place for place, measure in enumerate(section.measures)}
        if self.first not in order or self.last not in order:
            raise EditRefused(
                f"An ending lies inside one section; choose both its measures in {_name(section)}."
            )
        start, end = order[self.first], order[self.last]
        if start > end:
            raise refuse(
                lesson,
                self.last,
                "the ending would end before it begins; choose its measures in order.",
            )
        passes = tuple(sorted(set(self.passes)))
        if not passes or passes[0] < 1 or passes[-1] > MOST_TIMES:
            raise EditRefused(f"An ending is for passes between 1 and {MOST_TIMES}.")
        kept = [e for e in section.endings if order[e.last] < start or order[e.first] > end]
        kept.append(Ending(passes, self.first, self.last, self.closed))
        kept.sort(key=lambda ending: order[ending.first])
        updated = structs.replace(
            section, endings=tuple(kept), times=max(section.times, passes[-1])
        )
        if updated == section:
            return lesson
        return check_length(with_section(lesson, index, [updated]))


class RemoveEnding(Struct, frozen=True):
    """Take the ending that begins at a measure off; the measures stay."""

    section: int
    first: int

    @property
    def label(self) -> str:
        return "take the ending off"

    def apply(self, lesson: Lesson) -> Lesson:
        index, section = find_section(lesson, self.section)
        kept = tuple(ending for ending in section.endings if ending.first != self.first)
        if len(kept) == len(section.endings):
            raise EditRefused(
                f"No ending of {_name(section)} begins there; choose the first measure of one."
            )
        return with_section(lesson, index, [structs.replace(section, endings=kept)])


class SetSign(Struct, frozen=True):
    """Put a sign of the road map on a measure (segno, D.C. al Fine, ...), or take it off.

    `text` is printed in place of the usual words. Jumps replace each other.
    """

    measure: int
    kind: Literal[
        "segno", "coda", "fine", "to coda", "dc", "dc al fine", "dc al coda",
        "ds", "ds al fine", "ds al coda",
    ]  # fmt: skip
    on: bool = True
    text: str = ""

    @property
    def label(self) -> str:
        return SIGN_WORDS[self.kind] + ("" if self.on else " off")

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        if self.kind not in SIGN_KINDS:
            raise refuse(lesson, self.measure, f"{self.kind!r} is no sign of the road map.")
        jump = self.kind.startswith(("dc", "ds"))
        kept = tuple(
            sign
            for sign in found.measure.signs
            if sign.kind != self.kind
            and not (self.on and jump and sign.kind.startswith(("dc", "ds")))
        )
        signs = (*kept, Sign(self.kind, self.text)) if self.on else kept
        if signs == found.measure.signs:
            return lesson
        return put_measure(lesson, found, structs.replace(found.measure, signs=signs))
