"""A row of the bench, and ways to measure."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Row:
    """One figure. `name` starts with the room; `goal` is a limit (`at_most`) or a floor.

    `peer` names what the same job was also measured with in this run, `peer_figure` its figure.
    """

    name: str
    size: str
    figure: float
    unit: str
    goal: float | None = None
    at_most: bool = True
    peer: str = ""
    peer_figure: float | None = None

    @property
    def ok(self) -> bool | None:
        """Whether the goal is met; None where there is none."""
        if self.goal is None:
            return None
        return self.figure <= self.goal if self.at_most else self.figure >= self.goal

    def as_dict(self) -> dict[str, object]:
        return {**asdict(self), "ok": self.ok}


def cpu_seconds(work: Callable[[], object]) -> float:
    """How long some work keeps a processor busy: what else the machine does counts for little."""
    start = time.thread_time()
    work()
    return time.thread_time() - start


def seconds(work: Callable[[], object]) -> float:
    """Wall-clock seconds of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def median(work: Callable[[], object], times: int = 5) -> float:
    """Median wall-clock seconds of several calls."""
    return statistics.median(seconds(work) for _ in range(times))


def percentile(values: list[float], percent: float) -> float:
    """The value that `percent` of the values do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))]
