"""A box to choose one of several rows, with the arrow that says it opens."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QPolygonF
from PySide6.QtWidgets import QComboBox

ROOM = 22  # the width the stylesheet keeps at the right for the arrow


class ChoiceBox(QComboBox):
    """A combo box whose arrow is painted in the ink of the theme: a stylesheet takes it away."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        half = max(4.0, self.fontMetrics().height() / 5)
        x, y = self.width() - ROOM / 2 - 1, self.height() / 2
        arrow = QPolygonF(
            [
                QPointF(x - half, y - half / 2),
                QPointF(x + half, y - half / 2),
                QPointF(x, y + half / 2),
            ]
        )
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().color(QPalette.ColorRole.WindowText))
        painter.drawPolygon(arrow)
        painter.end()
