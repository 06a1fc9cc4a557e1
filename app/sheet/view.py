"""The sheet: staff over tab as the page room lays them out, with the caret and the playhead."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea

from app.actions import Focus, Table, key_texts
from app.caret import Caret
from app.look import Look
from app.messages import Messages
from app.selecting import Selecting
from app.session import OPENED, Session
from app.sheet.images import BlockImages
from app.sheet.overlay import paint_caret, paint_selection
from app.sheet.painter import SheetPainter, colours
from app.writing import Writing
from core.display.items import Block, Box
from core.edit.change import Change
from core.page.layout import Hit, Layout
from core.page.style import PageStyle

GAP = 14.0  # pixels between pages and around them
LARGEST_FIT = 10.5  # a staff larger than this is wanted only when asked for
ROLL_PAD = 3.0  # spaces below the last line of a roll
ROLL_MM = 50_000.0  # a page this high is a roll of lines
SMALLEST, LARGEST = 3.0, 40.0  # pixels to the space
MOST_RECTANGLES = 6  # changed blocks painted one by one
SLACK = 6  # pixels a changed rectangle is widened by


class SheetView(QAbstractScrollArea):
    """Shows the session's layout. `pointed(hit, selects)` on a click, and while it is drawn on."""

    pointed = Signal(object, bool)
    asked_menu = Signal(object)
    zoomed = Signal()

    def __init__(
        self, session: Session, writing: Writing, selecting: Selecting, look: Look,
        painter: SheetPainter, messages: Messages,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._writing, self._look = session, writing, look
        self._selecting, self._painter, self._messages = selecting, painter, messages
        self._images = BlockImages(painter)
        self._table: Table | None = None
        self._pixels = 7.0
        self._fit = True
        self._playhead: tuple[int, float, float, float] | None = None
        self._layout: Layout = session.layout
        self._prefix: str | None = None
        self._tens = 10
        self._figure_for: Callable[[int], object] = lambda _: None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFrameShape(self.Shape.NoFrame)
        self.setAccessibleName("Sheet: staff and tab")
        self.viewport().setCursor(Qt.CursorShape.IBeamCursor)
        self.horizontalScrollBar().setSingleStep(30)
        self.verticalScrollBar().setSingleStep(30)
        session.changed.connect(self._session_changed)
        writing.moved.connect(self._caret_moved)
        selecting.changed.connect(self.viewport().update)
        look.changed.connect(self._look_changed)
        self._colours = colours(look.theme.palette)
        self._caret_rect = QRect()

    def use(self, table: Table) -> None:
        """Take the actions whose keys act here."""
        self._table = table

    # ------------------------------------------------------------------ geometry

    @property
    def pixels(self) -> float:
        """Pixels to the staff space."""
        return self._pixels

    @property
    def fits(self) -> bool:
        """Whether the zoom follows the width of the window."""
        return self._fit

    def zoom(self, factor: float) -> None:
        """Larger or smaller about the middle of what is seen."""
        self._fit = False
        self._set_pixels(self._pixels * factor)

    def fit_width(self) -> None:
        """The whole width of the page, whatever the window's; a line keeps its size."""
        self._fit = True
        self._set_pixels(self._fitting())

    def _fitting(self) -> float:
        if self._session.style.flow == "line":
            height = self._layout.pages.height
            return min(LARGEST_FIT, self.viewport().height() / height)
        width = self._layout.pages.width
        return min(LARGEST_FIT, (self.viewport().width() - 2 * self._gap()) / width)

    def _set_pixels(self, pixels: float) -> None:
        share = [
            (bar.value() + bar.pageStep() / 2) / max(1, bar.maximum() + bar.pageStep())
            for bar in (self.horizontalScrollBar(), self.verticalScrollBar())
        ]
        self._pixels = max(SMALLEST, min(LARGEST, pixels))
        self._set_bars()
        for bar, part in zip(
            (self.horizontalScrollBar(), self.verticalScrollBar()), share, strict=True
        ):
            bar.setValue(round(part * (bar.maximum() + bar.pageStep()) - bar.pageStep() / 2))
        self._caret_rect = self._caret_area()
        self.viewport().update()
        self.zoomed.emit()

    def _set_bars(self) -> None:
        width, height = self._content()
        area = self.viewport().size()
        for bar, content, seen in (
            (self.horizontalScrollBar(), width, area.width()),
            (self.verticalScrollBar(), height, area.height()),
        ):
            bar.setPageStep(seen)
            bar.setRange(0, max(0, round(content) - seen))

    def _height(self) -> float:
        """How much of a page is shown, in spaces: a roll ends with its last line."""
        pages = self._layout.pages
        if not is_roll(self._layout.style):
            return pages.height
        return min(pages.height, (pages.depth(0) or 20.0) + ROLL_PAD)

    def _gap(self) -> float:
        return 0.0 if is_roll(self._layout.style) else GAP

    def _stride(self) -> float:
        """From the top of a page to the top of the next, in pixels."""
        return self._height() * self._pixels + self._gap()

    def _content(self) -> tuple[float, float]:
        pages, gap = self._layout.pages, self._gap()
        return pages.width * self._pixels + 2 * gap, pages.count * self._stride() + gap

    def _page_box(self, page: int) -> QRectF:
        """Where a page lies in the viewport, in pixels; its corner is on a whole pixel."""
        gap = self._gap()
        width = self._layout.pages.width * self._pixels
        left = max(gap, (max(width + 2 * gap, self.viewport().width()) - width) / 2)
        return QRectF(
            round(left) - self.horizontalScrollBar().value(),
            round(gap + page * self._stride()) - self.verticalScrollBar().value(),
            width,
            self._height() * self._pixels,
        )

    def _pages_in(self, area: QRectF) -> range:
        """The pages that may show in a part of the viewport."""
        top, stride = self.verticalScrollBar().value() - self._gap(), self._stride()
        first = math.floor((area.top() + top - 1) / stride)
        last = math.floor((area.bottom() + top + 1) / stride)
        return range(max(0, first), min(self._layout.pages.count, last + 1))

    def _part_of_page(self, page: int, area: QRectF) -> Box:
        """A part of the viewport as a rectangle of a page, in spaces."""
        at, px = self._page_box(page).topLeft(), self._pixels
        return Box(
            (area.left() - at.x()) / px, (area.top() - at.y()) / px,
            (area.right() - at.x()) / px, (area.bottom() - at.y()) / px,
        )  # fmt: skip

    def _on_screen(self, page: int, box: Box) -> QRectF:
        at = self._page_box(page)
        px = self._pixels
        return QRectF(
            at.x() + box.left * px,
            at.y() + box.top * px,
            (box.right - box.left) * px,
            (box.bottom - box.top) * px,
        )

    def caret_on_screen(self) -> QRectF:
        """The caret's rectangle in the viewport; empty when it is in no layout."""
        return self.on_screen(self._writing.caret)

    def on_screen(self, caret: Caret) -> QRectF:
        """Where a caret would be drawn in the viewport; empty when it is in no layout."""
        try:
            page, box = self._layout.caret_box(caret.measure, caret.onset, caret.on, caret.string)
        except KeyError:
            return QRectF()
        return self._on_screen(page, box)

    def _caret_area(self) -> QRect:
        box = self.caret_on_screen()
        return box.toAlignedRect().adjusted(-SLACK, -SLACK, SLACK, SLACK)

    # ------------------------------------------------------------------ what changed

    def _session_changed(self, change: Change, initiator: object) -> None:
        old, self._layout = self._layout, self._session.layout
        opened = OPENED in change.fields or "style" in change.fields
        if opened or size(old) != size(self._layout):
            self._pixels = self._fitting() if self._fit else self._pixels
            self._set_bars()
            self.viewport().update()
            if opened:
                self.verticalScrollBar().setValue(0)
                self.horizontalScrollBar().setValue(0)
        else:
            if old.pages.depth(0) != self._layout.pages.depth(0):
                self._set_bars()
            self._repaint_difference(old)

    def _repaint_difference(self, old: Layout) -> None:
        """Paint again what differs of the part that is seen; nothing else is even drawn."""
        area = QRectF(self.viewport().rect())
        for page in self._pages_in(area):
            part = self._part_of_page(page, area)
            changed = changed_blocks(old.blocks(page, part), self._layout.blocks(page, part))
            if len(changed) > MOST_RECTANGLES:
                # Lines moved: measuring the ink of each would cost more than painting.
                self.viewport().update()
                continue
            for block in changed:
                box = self._painter.bounds(block)
                dirty = self._on_screen(page, Box(box.left(), box.top(), box.right(), box.bottom()))
                self.viewport().update(dirty.toAlignedRect().adjusted(-SLACK, -SLACK, SLACK, SLACK))
        self._caret_moved()

    def _caret_moved(self) -> None:
        self._layout = self._session.layout
        self.viewport().update(self._caret_rect)
        self._caret_rect = self._caret_area()
        self.viewport().update(self._caret_rect)
        self.show_rect(self.caret_on_screen())

    def show_rect(self, box: QRectF, margin: float = 40.0) -> None:
        """Scroll as little as needed to see a rectangle of the viewport."""
        if box.isEmpty():
            return
        area = QRectF(self.viewport().rect())
        for bar, low, high, size in (
            (self.horizontalScrollBar(), box.left(), box.right(), area.width()),
            (self.verticalScrollBar(), box.top(), box.bottom(), area.height()),
        ):
            if low < margin:
                bar.setValue(bar.value() + round(low - margin))
            elif high > size - margin:
                bar.setValue(bar.value() + round(high - size + margin))

    def _look_changed(self) -> None:
        self._colours = colours(self._look.theme.palette)
        self.viewport().update()

    # ------------------------------------------------------------------ playhead

    def show_playhead(self, measure: int, ticks: float) -> None:
        """Where the music is; the sheet turns to it when it leaves what is seen."""
        self._update_playhead()
        try:
            self._playhead = self._layout.playhead(measure, ticks)
        except KeyError:
            self._playhead = None
        self._update_playhead()
        if self._playhead is not None:
            page, x, top, bottom = self._playhead
            box = self._on_screen(page, Box(x, top, x + 1, bottom))
            if not QRectF(self.viewport().rect()).contains(box):
                self.show_rect(box, margin=min(120.0, self.viewport().height() / 4))

    @property
    def playhead(self) -> tuple[int, float, float, float] | None:
        """Where the playhead is: page, x, top and bottom in spaces; None while nothing plays."""
        return self._playhead

    def hide_playhead(self) -> None:
        self._update_playhead()
        self._playhead = None

    def _update_playhead(self) -> None:
        if self._playhead is not None:
            page, x, top, bottom = self._playhead
            box = self._on_screen(page, Box(x - 0.5, top, x + 0.5, bottom))
            self.viewport().update(box.toAlignedRect().adjusted(-3, -3, 3, 3))

    # ------------------------------------------------------------------ painting

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self.viewport())
        ground = "paper" if is_roll(self._layout.style) else "ground"
        painter.fillRect(event.rect(), self._look.colour(ground))
        for page in self._pages_in(QRectF(event.rect())):
            self._paint_page(painter, page, QRectF(event.rect()))
        self._paint_overlay(painter, QRectF(event.rect()))
        self._paint_playhead(painter)

    def _paint_page(self, painter: QPainter, page: int, dirty: QRectF) -> None:
        at = self._page_box(page)
        if not is_roll(self._layout.style):
            painter.setPen(QPen(self._look.colour("hairline"), 1))
            painter.setBrush(self._look.colour("paper"))
            painter.drawRect(at.adjusted(-0.5, -0.5, 0.5, 0.5))
        for block in self._layout.blocks(page, self._part_of_page(page, dirty)):
            self._images.paint(painter, block, at.topLeft(), self._pixels, self._colours, dirty)

    def _paint_overlay(self, painter: QPainter, dirty: QRectF) -> None:
        """What the bench says on the sheet: the selection and the caret."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        seen = partial(self._seen, dirty)
        accent = self._look.colour("accent")
        paint_selection(painter, self._selecting.stretches(), self._layout, seen, accent)
        box = self.caret_on_screen()
        if not box.isEmpty():
            caret, mode = self._writing.caret, self._writing.mode
            note = self._note_height() if caret.on == "staff" else None
            paint_caret(painter, box, accent, self.hasFocus(), mode, note)

    def _seen(self, dirty: QRectF, page: int, box: Box) -> QRectF | None:
        """A box of a page in the viewport, or None where it is not painted now."""
        found = self._on_screen(page, box)
        return found if found.intersects(dirty) else None

    def _note_height(self) -> float | None:
        note = self._writing.note_id()
        found = self._layout.where(note) if note else None
        if found is None:
            return None
        page, box = found
        # A note is drawn on the staff and again on the tab: its head is what stands highest.
        height = min(box.bottom - box.top, 1.0)
        return (
            self._on_screen(page, Box(box.left, box.top, box.right, box.top + height)).center().y()
        )

    def _paint_playhead(self, painter: QPainter) -> None:
        if self._playhead is None:
            return
        page, x, top, bottom = self._playhead
        box = self._on_screen(page, Box(x, top, x, bottom))
        painter.setPen(QPen(self._look.colour("accent"), 2))
        painter.drawLine(QPointF(box.x(), box.top()), QPointF(box.x(), box.bottom()))

    # ------------------------------------------------------------------ keys and mouse

    @property
    def focus_name(self) -> Focus:
        return Focus.TAB if self._writing.caret.on == "tab" else Focus.STAFF

    def await_fret(self) -> None:
        """The next figure is a fret from ten on; once more, from twenty on."""
        self._tens = 10 if self._prefix != "fret" else self._tens + 10
        self._prefix = "fret"
        self._messages.note(f"Fret {self._tens} and more: type its last figure; Escape leaves it.")

    def await_letter(self) -> None:
        """The next letter from A to G names a note."""
        self._prefix = "pitch"
        self._messages.note("Which note? A letter from A to G; Escape leaves it.")

    def await_figure(self, taken: Callable[[int], object]) -> None:
        """The next figure names a finger, and is handed on."""
        self._prefix, self._figure_for = "figure", taken
        self._messages.note("Why not which finger? A figure from 0 to 4; Escape leaves it.")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._prefix is not None and self._prefixed(event):
            return
        if self._table is not None:
            for text in key_texts(event):
                action = self._table.find(self.focus_name, text)
                if action is not None:
                    if action.enabled():
                        self._messages.attempt(action.run)
                    return
        event.ignore()

    def _prefixed(self, event: QKeyEvent) -> bool:
        """A key after a prefix: whether it was taken. Keys that only hold others wait."""
        if event.key() in (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt):
            return True
        text, kind = event.text().upper(), self._prefix
        if kind == "fret" and text == "X":
            return False
        self._prefix = None
        self._messages.clear()
        if kind == "pitch" and len(text) == 1 and text in "ABCDEFG":
            self._messages.attempt(lambda: self._writing.add_pitch(text))
            return True
        if kind == "fret" and len(text) == 1 and text in "0123456789":
            self._messages.attempt(lambda: self._writing.fret(self._tens + int(text)))
            return True
        if kind == "figure" and len(text) == 1 and text in "0123456789":
            self._messages.attempt(lambda: self._figure_for(int(text)))
            return True
        return event.key() == Qt.Key.Key_Escape

    def mousePressEvent(self, event: QMouseEvent) -> None:
        hit = self._hit(event)
        if hit is not None and event.button() == Qt.MouseButton.LeftButton:
            selects = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self.pointed.emit(hit, selects)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        hit = self._hit(event)
        if hit is not None and event.buttons() & Qt.MouseButton.LeftButton:
            self.pointed.emit(hit, True)

    def _hit(self, event: QMouseEvent) -> Hit | None:
        """What of the layout the pointer is on."""
        for page in self._pages_in(QRectF(event.position(), event.position())):
            at = self._page_box(page)
            if at.contains(event.position()):
                point = (event.position() - at.topLeft()) / self._pixels
                return self._layout.hit(page, point.x(), point.y())
        return None

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        self.asked_menu.emit(event.globalPos())

    def wheelEvent(self, event: QWheelEvent) -> None:
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom(1.1 if event.angleDelta().y() > 0 else 1 / 1.1)
        else:
            super().wheelEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self._fit:
            self._pixels = max(SMALLEST, min(LARGEST, self._fitting()))
        self._set_bars()
        self._caret_rect = self._caret_area()

    def scrollContentsBy(self, dx: int, dy: int) -> None:
        self._caret_rect = self._caret_area()
        self.viewport().scroll(dx, dy)  # moves what is painted; only what comes in is painted

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.viewport().update(self._caret_rect)
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self._prefix = None
        self.viewport().update(self._caret_rect)
        super().focusOutEvent(event)

    # ------------------------------------------------------------------ by system

    def system_step(self, by: int) -> None:
        """The caret to the same place of the next line (1) or the one before (-1)."""
        caret = self._writing.caret
        system, place = self._layout.index[caret.measure]
        target = max(0, min(len(self._layout.breaks) - 1, system + by))
        row = self._layout.breaks[target]
        measure = row[min(place, len(row) - 1)]
        if target != system:
            self._writing.go_to(measure, 0)

    def system_end(self, last: bool) -> None:
        """The caret to the first or last measure of its line."""
        system, _ = self._layout.index[self._writing.caret.measure]
        row = self._layout.breaks[system]
        self._writing.go_to(row[-1 if last else 0], 0)
        if last:
            self._writing.to_measure_end()


def is_roll(style: PageStyle) -> bool:
    """Whether the lines run on without pages, or in one long line."""
    return style.flow == "line" or style.height_mm >= ROLL_MM


def size(layout: Layout) -> tuple[int, float, float]:
    """How many pages a layout has, and how large they are."""
    return layout.pages.count, layout.pages.width, layout.pages.height


def changed_blocks(before: Sequence[Block], after: Sequence[Block]) -> list[Block]:
    """The blocks of two versions of a page that are not in both, by identity or value."""
    old = {id(block): block for block in before}
    new = {id(block): block for block in after}
    gone = [block for key, block in old.items() if key not in new]
    come = [block for key, block in new.items() if key not in old]
    same = [(a, b) for a in gone for b in come if a.key == b.key and a == b]
    left = {id(block) for pair in same for block in pair}
    return [block for block in (*gone, *come) if id(block) not in left]
