"""Music of any length for the bench: the demo's measures over and over, with fresh ids."""

from __future__ import annotations

from itertools import count, cycle, islice
from pathlib import Path

from msgspec.structs import replace

import resources
from core.formats import lesson_json
from core.model import Lesson, Measure, walk


def demo_path() -> Path:
    return resources.path("demo", "rowing-home.footstool")


def demo() -> Lesson:
    return lesson_json.read(demo_path().read_bytes())


def long_lesson(measures: int) -> Lesson:
    """The demo's full measures repeated to the wanted number, in sections of 24."""
    original = demo()
    ids = count(1)
    full = [m for m in walk.measures(original.arrangement) if m.own_length is None]
    row = [_fresh(m, ids) for m in islice(cycle(full), measures)]
    pattern = original.arrangement.sections[0]
    sections = tuple(
        replace(
            pattern, id=next(ids), letter="", title=f"Part {start // 24 + 1}", times=1, endings=(),
            measures=tuple(row[start : start + 24]),
        )
        for start in range(0, measures, 24)
    )  # fmt: skip
    arrangement = replace(original.arrangement, sections=sections, spans=())
    return replace(original, arrangement=arrangement, next_id=next(ids))


def _fresh(measure: Measure, ids: count[int]) -> Measure:
    voices = tuple(
        tuple(
            replace(e, id=next(ids), notes=tuple(replace(n, id=next(ids)) for n in e.notes))
            for e in row
        )
        for row in measure.voices
    )
    return replace(measure, id=next(ids), voices=voices, signs=(), same_as=None)
