"""The outline of a system: how far up (or down) things reach at each x. Marks rest on it."""

from __future__ import annotations

from core.page.pen import Rect

CELL = 0.5  # spaces


class Skyline:
    """One outline over `width` spaces. `up` makes it the upper one; y grows downwards."""

    def __init__(self, width: float, start: float, *, up: bool) -> None:
        self.up = up
        self.start = start
        self.cells = [start] * (int(width / CELL) + 40)

    def _range(self, left: float, right: float) -> tuple[int, int]:
        last = len(self.cells)
        a = min(max(int(left / CELL) + 16, 0), last - 1)
        return a, min(max(int(right / CELL) + 17, a + 1), last)

    def add(self, rect: Rect) -> None:
        """Let the outline pass around a rectangle."""
        y = rect[1] if self.up else rect[3]
        if (y >= self.start) if self.up else (y <= self.start):
            return
        a, b = self._range(rect[0], rect[2])
        cells = self.cells
        if self.up:
            cells[a:b] = [y if y < cell else cell for cell in cells[a:b]]
        else:
            cells[a:b] = [y if y > cell else cell for cell in cells[a:b]]

    def reach(self, left: float, right: float) -> float:
        """The outermost y between two places."""
        a, b = self._range(left, right)
        return min(self.cells[a:b]) if self.up else max(self.cells[a:b])

    @property
    def extreme(self) -> float:
        """The outermost y of all."""
        return min(self.cells) if self.up else max(self.cells)
