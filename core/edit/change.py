"""What an edit changed, found by identity."""

from __future__ import annotations

from msgspec import Struct

from core.model import Arrangement, Lesson, Measure


class Change(Struct, frozen=True):
    """The measure ids that were replaced, inserted or removed, and which fields are not the same.

    `fields` names lesson fields (``title``), ``arrangement.*`` fields (``arrangement.spans``) and
    ``sections`` when the sections themselves (letters, times, endings, order) changed.
    """

    label: str
    replaced: tuple[int, ...] = ()
    inserted: tuple[int, ...] = ()
    removed: tuple[int, ...] = ()
    fields: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        return not (self.replaced or self.inserted or self.removed or self.fields)


def difference(original: Lesson, updated: Lesson, label: str) -> Change:
    """Compare two snapshots that share what did not change."""
    fields = [
        name
        for name in original.__struct_fields__
        if name not in ("arrangement", "next_id")
        and getattr(original, name) is not getattr(updated, name)
    ]
    before, after = original.arrangement, updated.arrangement
    if before is after:
        return Change(label, fields=tuple(fields))
    fields += [
        f"arrangement.{name}"
        for name in before.__struct_fields__
        if name != "sections" and getattr(before, name) is not getattr(after, name)
    ]
    if _frames(before) != _frames(after):
        fields.append("sections")
    return _measures(before, after, label, tuple(fields))


def _frames(arrangement: Arrangement) -> list[tuple[object, ...]]:
    return [
        (s.id, s.letter, s.title, s.times, s.endings, len(s.measures)) for s in arrangement.sections
    ]


def _measures(
    before: Arrangement, after: Arrangement, label: str, fields: tuple[str, ...]
) -> Change:
    old, new = _apart(
        [m for s in before.sections for m in s.measures],
        [m for s in after.sections for m in s.measures],
    )
    former = {measure.id: measure for measure in old}
    present = {measure.id: measure for measure in new}
    replaced = tuple(i for i, m in present.items() if i in former and former[i] is not m)
    inserted = tuple(i for i in present if i not in former)
    removed = tuple(i for i in former if i not in present)
    if (
        not (inserted or removed)
        and "sections" not in fields
        and [m.id for m in old] != [m.id for m in new]
    ):
        fields = (*fields, "sections")
    return Change(label, replaced, inserted, removed, fields)


def _apart(old: list[Measure], new: list[Measure]) -> tuple[list[Measure], list[Measure]]:
    """The two rows without the measures they share at their beginning and at their end."""
    start = 0
    shorter = min(len(old), len(new))
    while start < shorter and old[start] is new[start]:
        start += 1
    end = 0
    while end < shorter - start and old[-1 - end] is new[-1 - end]:
        end += 1
    return old[start : len(old) - end], new[start : len(new) - end]
