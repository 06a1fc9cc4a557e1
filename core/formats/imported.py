"""What a reader of foreign files gives back: the lesson, and what became of the file's content."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from core.model import Lesson

MOST_MEASURES_NAMED = 12


class PartInfo(Struct, frozen=True):
    """One part (or staff) of a file, so that the teacher can choose.

    `mean_midi` is the mean sounding pitch of its notes (None without notes); `role` is what
    became of it: ``melody``, ``bass``, ``guitar``, ``tablature`` or, where it was kept out of
    the arrangement, empty.
    """

    index: int
    name: str
    notes: int
    mean_midi: float | None
    lowest_midi: int | None
    highest_midi: int | None
    role: str = ""


class PartChoice(Struct, frozen=True):
    """Which parts (index of `PartInfo`) become melody and bass; no bass: the melody alone."""

    melody: int
    bass: int | None = None


class OctaveDecision(Struct, frozen=True):
    """How the octave of a part was understood: `shift` octaves from the file's pitch to sound.

    `sure` is False where the file leaves it in doubt and the teacher should listen.
    """

    part: str
    shift: int
    reason: str
    sure: bool = True


class Finding(Struct, frozen=True):
    """Something left out (`kept` is False) or kept in another way, how often and where."""

    text: str
    count: int
    measures: tuple[str, ...] = ()
    kept: bool = False

    @property
    def sentence(self) -> str:
        """The finding for the user: ``2 trills left out (measures 3, 5).``"""
        where = _where(self.measures)
        return f"{self.text}{f' ({where})' if where else ''}."


def _where(measures: tuple[str, ...]) -> str:
    if not measures:
        return ""
    named = ", ".join(measures[:MOST_MEASURES_NAMED])
    more = len(measures) - MOST_MEASURES_NAMED
    tail = f" and {more} more" if more > 0 else ""
    return f"measure {named}" if len(measures) == 1 else f"measures {named}{tail}"


class Report(Struct, frozen=True):
    """What a reader found, decided and could not keep."""

    parts: tuple[PartInfo, ...] = ()
    octaves: tuple[OctaveDecision, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def dropped(self) -> tuple[Finding, ...]:
        """What the lesson does not hold."""
        return tuple(finding for finding in self.findings if not finding.kept)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Everything worth telling the user, in order: parts, octave, losses, mendings."""
        rows = [
            f"The part {part.name} is left out of the arrangement and kept as the source."
            for part in self.parts
            if not part.role
        ]
        rows += [
            f"{octave.part}: {octave.reason}" + ("" if octave.sure else " Please listen and check.")
            for octave in self.octaves
        ]
        rows += [finding.sentence for finding in self.findings]
        return tuple(rows)


class Imported(Struct, frozen=True):
    """A lesson made from a foreign file, and the report."""

    lesson: Lesson
    report: Report


class Ledger:
    """Collects findings while a file is read."""

    def __init__(self) -> None:
        self._dropped: dict[tuple[str, str], dict[object, list[str]]] = {}
        self._mended: dict[str, list[str]] = {}

    def drop(self, one: str, many: str, measure: str, key: object = None) -> None:
        """Count something left out; things with the same `key` count once."""
        row = self._dropped.setdefault((one, many), {})
        row.setdefault(len(row) if key is None else key, []).append(measure)

    def mend(self, text: str, measure: str = "") -> None:
        """Note something kept in another way than the file says it."""
        self._mended.setdefault(text, []).append(measure)

    def findings(self) -> tuple[Finding, ...]:
        rows = []
        for (one, many), counted in self._dropped.items():
            count = len(counted)
            where = _distinct(m for row in counted.values() for m in row)
            rows.append(Finding(f"{count} {one if count == 1 else many} left out", count, where))
        for text, places in self._mended.items():
            rows.append(Finding(text, len(places), _distinct(places), kept=True))
        return tuple(rows)


def _distinct(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))
