"""What an edit changed, found by identity."""

from __future__ import annotations

from msgspec import Struct

from core.model import Arrangement, Lesson


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
    old = {m.id: m for s in before.sections for m in s.measures}
    new = {m.id: m for s in after.sections for m in s.measures}
    replaced = tuple(i for i, m in new.items() if i in old and old[i] is not m)
    inserted = tuple(i for i in new if i not in old)
    removed = tuple(i for i in old if i not in new)
    if not (inserted or removed) and list(old) != list(new) and "sections" not in fields:
        fields = (*fields, "sections")
    return Change(label, replaced, inserted, removed, fields)
