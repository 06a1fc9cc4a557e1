"""What the bench draws over the music: the caret and the selection."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.selecting import Stretch
from core.display.items import Box
from core.edit.rows import Mode
from core.page.layout import Layout

Seen = Callable[[int, Box], QRectF | None]  # page, box in spaces -> box in pixels where visible

SELECTED_ALPHA = 46  # of 255: notes stay readable under it, on paper light or dark


def paint_caret(
    painter: QPainter, box: QRectF, colour: QColor, focused: bool, mode: Mode, note: float | None
) -> None:
    """A frame where figures write over; an upright bar before the notes where they are put in.

    `note` is the height of the note on the staff that a finger will be for.
    """
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(colour, 2.2 if focused else 1.2))
    if note is not None:
        # The finger stands left of the head: the caret leaves it free.
        box = box.adjusted(0.16 * box.width(), 0, 0, 0)
    box = box.adjusted(-1.5, 0.0, 1.5, 0.0)  # not into the strings beside it
    if mode == "insert":
        left = box.left()
        painter.drawLine(QPointF(left, box.top()), QPointF(left, box.bottom()))
        for height in (box.top(), box.bottom()):
            painter.drawLine(QPointF(left - 4, height), QPointF(left + 4, height))
    else:
        painter.drawRoundedRect(box, 3, 3)
    if note is not None:
        painter.setBrush(colour)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawEllipse(QPointF(box.right(), note), 4.0, 4.0)


def paint_selection(
    painter: QPainter, stretches: Iterable[Stretch], layout: Layout, seen: Seen, colour: QColor
) -> None:
    """A wash over every selected part of a measure."""
    wash = QColor(colour)
    wash.setAlpha(SELECTED_ALPHA)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(wash)
    for stretch in stretches:
        found = layout.where(stretch.measure) if stretch.measure in layout.index else None
        if found is None:
            continue
        page, whole = found
        _, x, top, bottom = layout.playhead(stretch.measure, stretch.start)
        left = whole.left if stretch.start == 0 else x - 1.2
        right = whole.right
        if stretch.end is not None:
            right = layout.playhead(stretch.measure, stretch.end)[1] - 1.2
        box = seen(page, Box(left, top, max(right, left + 1), bottom))
        if box is not None:
            painter.drawRect(box)
