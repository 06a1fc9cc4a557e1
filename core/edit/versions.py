"""Other versions of a measure (ossia): easier, harder, or for the second time."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.edit.base import Found, Ids, find_measure, refuse
from core.edit.copying import copied_voices
from core.edit.mend import put_measure
from core.model import Lesson, OtherVersion

Purpose = Literal["easier", "harder", "second time"]


def _version(lesson: Lesson, found: Found, purpose: Purpose) -> OtherVersion:
    for other in found.measure.others:
        if other.purpose == purpose:
            return other
    raise refuse(lesson, found.measure.id, f"there is no version kept as {purpose}.")


class KeepOtherVersion(Struct, frozen=True):
    """Keep a copy of a measure's music as its easier, harder or second-time version.

    It takes the place of an earlier one for the same purpose. To write another version: keep the
    music, change it, and exchange the two.
    """

    measure: int
    purpose: Purpose

    @property
    def label(self) -> str:
        return f"keep as {self.purpose}"

    def apply(self, lesson: Lesson) -> Lesson:
        found, ids = find_measure(lesson, self.measure), Ids(lesson)
        voices = copied_voices(found.measure.voices, ids)
        kept = tuple(o for o in found.measure.others if o.purpose != self.purpose)
        others = (*kept, OtherVersion(self.purpose, voices))
        return put_measure(lesson, found, structs.replace(found.measure, others=others), ids)


class ExchangeVersion(Struct, frozen=True):
    """Exchange a measure's music with the version kept for a purpose."""

    measure: int
    purpose: Purpose

    @property
    def label(self) -> str:
        return f"exchange with the {self.purpose} version"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        wanted = _version(lesson, found, self.purpose)
        others = tuple(
            OtherVersion(self.purpose, found.measure.voices) if other is wanted else other
            for other in found.measure.others
        )
        measure = structs.replace(found.measure, voices=wanted.voices, others=others)
        return put_measure(lesson, found, measure)


class DropVersion(Struct, frozen=True):
    """Drop the version kept for a purpose."""

    measure: int
    purpose: Purpose

    @property
    def label(self) -> str:
        return f"drop the {self.purpose} version"

    def apply(self, lesson: Lesson) -> Lesson:
        found = find_measure(lesson, self.measure)
        wanted = _version(lesson, found, self.purpose)
        others = tuple(other for other in found.measure.others if other is not wanted)
        return put_measure(lesson, found, structs.replace(found.measure, others=others))
