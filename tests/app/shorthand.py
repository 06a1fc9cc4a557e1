"""A lesson and a caret in short texts, so that a table of cases can be read.

A measure is written as in tests/build.py, and more: ``?`` after a place or a finger that is only
suggested, ``^`` after an event under a fermata; before the notes in brackets what is not 4/4 in
C major, counted and as long as its metre: ``[3/4, D minor, 1/8 long, no number, same as 1]``.

Signs stand in braces behind what they belong to: ``E4s1f0!1{pluck i}:quarter{staccato, mf}``; those
of a measure in its brackets: ``[position 5 at 1/2, double barline, easier: E4:whole]``. A grace
note stands in round brackets before its note.

A caret is ``measure quarters side``: ``2 1/2 s3`` is the third string of the tab half a quarter
into the second measure, ``1 0 n1`` on the staff the second note from above; ``v1`` is added where
new notes go to another voice than the melody (v1 the bass).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from app.caret import Caret
from app.session import Outline
from core.model import Base, Event, Fermata, Lesson, Measure, Note, Value, walk
from tests.app import sign_shorthand

QUARTER = Value(Base.QUARTER).ticks


def music(lesson: Lesson) -> list[str]:
    """Every measure in short."""
    row = list(walk.measures(lesson.arrangement))
    order = {measure.id: number for number, measure in enumerate(row, start=1)}
    return [_measure(measure, order) for measure in row]


def form(lesson: Lesson) -> str:
    """The sections with how many measures each has and how often it is played: ``A 2, B 1 x2``."""
    return ", ".join(
        f"{section.letter} {section.title}".strip()
        + f" {len(section.measures)}"
        + (f" x{section.times}" if section.times > 1 else "")
        + sign_shorthand.endings(section)
        for section in lesson.arrangement.sections
    ).replace("  ", " ")


def place(outline: Outline, caret: Caret) -> str:
    """A caret in short."""
    side = f"s{caret.string}" if caret.on == "tab" else f"n{caret.rank}"
    voice = f" v{caret.voice}" if caret.voice else ""
    number = outline.index[caret.measure] + 1
    return f"{number} {Fraction(caret.onset, QUARTER)} {side}{voice}"


def _measure(measure: Measure, order: dict[int, int]) -> str:
    voices = " | ".join(" ".join(map(_event, row)) for row in measure.voices)
    facts = ", ".join(_facts(measure, order))
    return " ".join(part for part in (f"[{facts}]" if facts else "", voices) if part)


def _facts(measure: Measure, order: dict[int, int]) -> Iterator[str]:
    if str(measure.metre) != "4/4":
        yield str(measure.metre)
    if str(measure.key) != "C major":
        yield str(measure.key)
    if measure.own_length is not None:
        yield f"{measure.own_length} long"
    if not measure.counted:
        yield "no number"
    if measure.same_as is not None:
        yield f"same as {order[measure.same_as]}"
    yield from sign_shorthand.of_measure(measure)
    for other in measure.others:
        voices = " | ".join(" ".join(map(_event, row)) for row in other.voices)
        yield f"{other.purpose}: {voices}"


def _event(event: Event) -> str:
    what = "+".join(map(_note, event.notes)) or "r"
    tied = "~" if event.notes and all(note.tied for note in event.notes) else ""
    held = "^" if any(isinstance(mark, Fermata) for mark in event.marks) else ""
    signs = sign_shorthand.braces(sign_shorthand.of_event(event))
    written = f"{what}:{event.value}{tied}{held}{signs}"
    return f"({written})" if event.grace is not None else written


def _note(note: Note) -> str:
    text = str(note.pitch)
    if note.place is not None:
        text += f"{note.place.value}{'' if note.place.firm else '?'}"
    if note.finger is not None:
        text += f"!{note.finger.value.value}{'' if note.finger.firm else '?'}"
    return text + sign_shorthand.braces(sign_shorthand.of_note(note))
