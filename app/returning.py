"""Where the caret goes when an edit is undone or done again. Holds no widget.

One rule: undo puts the caret back where it stood when the edit was made, and redo puts it where
the edit left it, wherever it has been walked since: string, note of the chord and voice too. An
edit that was not made at the caret (a field of a panel) keeps no place: the caret then stays, or
goes to the first measure that changed when it is in none of those.
"""

from __future__ import annotations

from app.caret import Caret


class Returning:
    """The carets before and after each step of the history, by the step's number.

    A step's number is `History.position` after it: the first edit of a lesson is 1.
    """

    def __init__(self) -> None:
        self._before: dict[int, Caret] = {}
        self._after: dict[int, Caret] = {}

    def made(self, step: int, before: Caret, after: Caret) -> None:
        """An edit at the caret became this step."""
        self._before[step], self._after[step] = before, after

    def left(self, step: int, caret: Caret) -> None:
        """The latest edit ends with the caret somewhere else."""
        if step in self._before:
            self._after[step] = caret

    def elsewhere(self, step: int) -> None:
        """An edit that was not made at the caret became this step."""
        self._before.pop(step, None)
        self._after.pop(step, None)

    def undone(self, step: int) -> Caret | None:
        """Where the caret goes when this step is undone; None: it was not made at the caret."""
        return self._before.get(step)

    def redone(self, step: int) -> Caret | None:
        """Where the caret goes when this step is done again; None as for `undone`."""
        return self._after.get(step)

    def forget(self) -> None:
        """Another lesson was opened."""
        self._before.clear()
        self._after.clear()
