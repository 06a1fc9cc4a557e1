"""One case of the table of every command: where it is done, what it does, where the caret goes."""

from __future__ import annotations

import re
from dataclasses import dataclass

from msgspec import structs

from core.edit.base import Ids
from core.edit.copying import copied_measure
from core.hand.places import with_places
from core.model import Lesson, Source, SourcePart, walk
from tests import build

TUNE = (
    "E4s1f0:quarter F4s1f1!1:quarter G4s1f3:half | C3s5f3:whole",
    "A4:half C5s1f8:half | A2:whole",
    "E4s1f0:half D4s2f3:half",
)
EMPTY = ("",)
FULL = ("E4s1f0:half F4s1f1:half",)
PENCIL = ("E4s1f0?:quarter G4s1f3?:quarter A4s1f5?:half",)
SOURCE = ("", "E4s1f0:whole")


@dataclass(frozen=True)
class Case:
    """`action` is an id of the table of actions, `commands` the commands it carries out.

    `walk` are the keys that lead to `start`, `then` those after the action's own key, `answer` what
    is typed into the line that asks. `music` and `end` are the measures and the caret afterwards
    (tests/app/shorthand.py), `form` its sections where they change. Undo must lead back to `start`,
    redo to `end`. `before` are signs written there first, in words. `lines` are the lines and bows
    afterwards, `piece` what is said of the whole piece (tests/app/sign_shorthand.py).
    """

    action: str
    commands: str
    walk: str
    start: str
    music: tuple[str, ...]
    end: str
    of: tuple[str, ...] = TUNE
    then: str = ""
    answer: str | None = None
    about: str = ""
    form: str = ""
    before: tuple[str, ...] = ()
    lines: str = ""
    piece: str = ""

    @property
    def name(self) -> str:
        what = self.answer if self.action == "sign" else self.action
        return f"{what} {self.about}".strip()


def lesson(case: Case) -> Lesson:
    """The lesson a case begins with. A third measure begins a section B."""
    if case.of is PENCIL:
        return with_places(build.lesson([re.sub(r"s\df\d\?", "", text) for text in PENCIL]))[0]
    if case.of is SOURCE:
        return with_source()
    first, second = case.of[:2], case.of[2:]
    return build.lesson(first, second) if second else build.lesson(first)


def with_source() -> Lesson:
    """A lesson that keeps a source of two parts, its first measure empty."""
    lesson = build.lesson(SOURCE)
    ids = Ids(lesson)
    parts = tuple(
        SourcePart(
            name,
            tuple(
                copied_measure(measure, ids)
                for measure in walk.measures(build.lesson(texts).arrangement)
            ),
        )
        for name, texts in (
            ("Treble", ("C5:half G5:half", "C5:whole")),
            ("Tenor", ("D4:half G4:half", "D4:whole")),
        )
    )
    return structs.replace(lesson, sources=(Source("An old song", parts),), next_id=ids.next)
