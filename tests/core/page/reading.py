"""Finding the lesson again in what was drawn: measures, heads, moments."""

from __future__ import annotations

from collections.abc import Iterator

from core.display.items import Glyph
from core.model import Measure, walk
from core.page.cluster import Cluster
from core.page.layout import SystemBox
from tests.core.page.kit import NAMES
from tests.core.page.styles import Drawn


def measures(d: Drawn) -> list[Measure]:
    return list(walk.measures(d.lesson.arrangement))


def heads(d: Drawn) -> dict[int, tuple[SystemBox, Glyph]]:
    """Note id -> its system and notehead. Other versions of a measure, set small, are left out."""
    own = {note.id for measure in measures(d) for _, note in walk.notes(measure)}
    return {
        item.source: (system, item)
        for system in d.layout.systems
        for item in system.body.items
        if isinstance(item, Glyph) and item.source in own and NAMES[item.code].startswith("note")
    }


def placed_boxes(d: Drawn) -> Iterator[tuple[SystemBox, dict[int, float], Measure, list[Cluster]]]:
    """Every measure in its system: x of each onset, the measure, its clusters."""
    for system in d.layout.systems:
        for placed in system.body.measures:
            box = d.boxes[placed.measure]
            yield system, dict(placed.columns), box.measure, list(box.clusters)


def places_of(d: Drawn) -> dict[int, tuple[int, int]]:
    """Id of a note or event -> (measure, onset) in written order."""
    found: dict[int, tuple[int, int]] = {}
    for number, measure in enumerate(measures(d)):
        for row in walk.events(measure):
            found[row.event.id] = (number, row.onset)
            found.update((note.id, (number, row.onset)) for note in row.event.notes)
    return found
