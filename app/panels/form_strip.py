"""The form strip: the piece in played order, sections as blocks in proportion to time."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QToolTip, QWidget

from app.actions import Focus, Table, key_texts
from app.look import Look
from app.messages import Messages
from app.panels.course import Cell, Stretch, duration_words

GAP = 8.0  # pixels between blocks
PAD = 2.0


class FormStrip(QWidget):
    """`pointed(index)`: go to that place of the played order."""

    pointed = Signal(int)

    def __init__(self, look: Look, messages: Messages) -> None:
        super().__init__()
        self._look, self._messages = look, messages
        self._table: Table | None = None
        self._stretches: tuple[Stretch, ...] = ()
        self._names: dict[int, str] = {}
        self._here: int | None = None
        self._playing: tuple[int, float] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAccessibleName("Form strip: the piece in played order")
        look.changed.connect(self.updateGeometry)
        look.changed.connect(self.update)

    def use(self, table: Table) -> None:
        self._table = table

    def show_course(self, stretches: tuple[Stretch, ...], names: dict[int, str]) -> None:
        """Draw these blocks; `names` are the measures' names by id."""
        self._stretches, self._names = stretches, names
        self._describe()
        self.update()

    def show_here(self, measure: int) -> None:
        """Mark where the caret is: the place of the played order nearest to the last one."""
        places = [c.index for c in self._cells() if c.measure == measure]
        near = self._here or 0
        self._here = min(places, key=lambda i: abs(i - near), default=None)
        self._describe()
        self.update()

    @property
    def here(self) -> int | None:
        """The place in the played order where the caret is shown."""
        return self._here

    def set_here(self, index: int) -> None:
        self._here = index

    def show_playhead(self, index: int, share: float) -> None:
        """The playhead in the cell `index`, `share` (0 to 1) of the way through."""
        self._playing = (index, share)
        self.update()

    @property
    def playhead(self) -> tuple[int, float] | None:
        """The cell that plays and the share of it that is over; None while nothing plays."""
        return self._playing

    def hide_playhead(self) -> None:
        self._playing = None
        self.update()

    def _cells(self) -> list[Cell]:
        return [cell for stretch in self._stretches for cell in stretch.cells]

    def _describe(self) -> None:
        cell = next((c for c in self._cells() if c.index == self._here), None)
        if cell is not None:
            self.setAccessibleDescription(self.words(cell))

    def words(self, cell: Cell) -> str:
        """What a cell is, in a sentence: measure, moment, how busy."""
        return (
            f"{self._names.get(cell.measure, '').capitalize()}, at "
            f"{duration_words(cell.start)}: {cell.notes_per_second:.1f} notes struck a second "
            "at the goal tempo (the height of its bar)"
        )

    # ------------------------------------------------------------------ geometry

    def sizeHint(self) -> QSize:
        return QSize(600, self._look.px(50) + 8)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self._look.px(50) + 8)

    def _scale(self) -> tuple[float, float]:
        """Pixels a second and the gap between blocks, which narrows when blocks are many."""
        blocks = len(self._stretches)
        total = self._stretches[-1].end if blocks else 1.0
        gap = min(GAP, self.width() / 4 / max(1, blocks))
        return (self.width() - gap * max(0, blocks - 1) - 2) / max(total, 1e-9), gap

    def block_boxes(self) -> list[QRectF]:
        """Where each block lies, in pixels."""
        scale, gap = self._scale()
        return [
            QRectF(1 + s.start * scale + gap * i, 1, (s.end - s.start) * scale, self.height() - 9)
            for i, s in enumerate(self._stretches)
        ]

    def cell_box(self, index: int) -> QRectF:
        """The column of a played measure; empty when there is none."""
        scale, _ = self._scale()
        for box, stretch in zip(self.block_boxes(), self._stretches, strict=True):
            for cell in stretch.cells:
                if cell.index == index:
                    left = box.left() + (cell.start - stretch.start) * scale
                    return QRectF(left, box.top(), cell.seconds * scale, box.height())
        return QRectF()

    def cell_at(self, x: float) -> Cell | None:
        """The played measure under an x; beside the blocks the nearest one."""
        cells = self._cells()
        return min(
            cells,
            key=lambda c: max(
                self.cell_box(c.index).left() - x, x - self.cell_box(c.index).right(), 0.0
            ),
            default=None,
        )

    # ------------------------------------------------------------------ painting

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        busiest = max((c.notes_per_second for c in self._cells()), default=1.0) or 1.0
        for box, stretch in zip(self.block_boxes(), self._stretches, strict=True):
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(self._look.section_tint(stretch.section))
            painter.drawRoundedRect(box, 3, 3)
            self._paint_bars(painter, box, stretch, busiest)
            self._paint_title(painter, box, stretch.title)
        self._paint_here(painter)
        self._paint_playhead(painter)
        if self.hasFocus():
            painter.setPen(QPen(self._look.colour("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 3, 3)

    def _paint_bars(self, painter: QPainter, box: QRectF, stretch: Stretch, busiest: float) -> None:
        scale, _ = self._scale()
        room = box.height() - QFontMetricsF(self._title_font()).height() - 8
        ink = QColor(self._look.colour("pencil"))
        for cell in stretch.cells:
            width = cell.seconds * scale
            pad = min(PAD, width / 6)
            share = cell.notes_per_second / busiest
            ink.setAlphaF(0.45 + 0.45 * share)
            painter.setBrush(ink)
            height = max(2.0, room * share)
            left = box.left() + (cell.start - stretch.start) * scale + pad
            painter.drawRect(
                QRectF(left, box.bottom() - 2 - height, max(1.0, width - 2 * pad), height)
            )

    def _title_font(self) -> QFont:
        return self._look.font("small", serif=True, bold=True)

    def _paint_title(self, painter: QPainter, box: QRectF, title: str) -> None:
        font = self._look.font("small", serif=True, bold=True)
        metrics = QFontMetricsF(font)
        room = box.width() - 10
        if room < metrics.horizontalAdvance("M"):
            return
        painter.setFont(font)
        painter.setPen(self._look.colour("ink"))
        text = metrics.elidedText(title, Qt.TextElideMode.ElideRight, room)
        painter.drawText(QPointF(box.left() + 6, box.top() + 3 + metrics.ascent()), text)

    def _paint_here(self, painter: QPainter) -> None:
        box = self.cell_box(self._here) if self._here is not None else QRectF()
        if box.isEmpty():
            return
        middle = box.center().x()
        base = box.bottom() + 7
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._look.colour("accent"))
        painter.drawPolygon(
            QPolygonF(
                [QPointF(middle, base - 6), QPointF(middle - 5, base), QPointF(middle + 5, base)]
            )
        )

    def _paint_playhead(self, painter: QPainter) -> None:
        if self._playing is None:
            return
        box = self.cell_box(self._playing[0])
        x = box.left() + box.width() * self._playing[1]
        painter.setPen(QPen(self._look.colour("accent"), 2))
        painter.drawLine(QPointF(x, 0), QPointF(x, self.height()))

    # ------------------------------------------------------------------ events

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            cell = self.cell_at(event.pos().x())
            if cell is not None:
                QToolTip.showText(event.globalPos(), self.words(cell), self)
            return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position().x())
        if cell is not None and event.button() == Qt.MouseButton.LeftButton:
            self.pointed.emit(cell.index)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._table is not None:
            for text in key_texts(event):
                action = self._table.find(Focus.STRIP, text)
                if action is not None and action.enabled():
                    self._messages.attempt(action.run)
                    return
        event.ignore()

    def step(self, by: int) -> None:
        """One played measure on (1) or back (-1)."""
        cells = self._cells()
        index = max(0, min(len(cells) - 1, (self._here or 0) + by))
        if cells:
            self.pointed.emit(index)

    def move_block(self, by: int) -> None:
        """To the start of the next block or the one before."""
        starts = [s.cells[0].index for s in self._stretches]
        here = self._here or 0
        later = [i for i in starts if i > here]
        earlier = [i for i in starts if i < here]
        target = (later[:1] if by > 0 else earlier[-1:]) or [here]
        self.pointed.emit(target[0])
