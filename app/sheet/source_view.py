"""The kept source above the sheet: its parts at the caret's measure, to draft from."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import structs
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from app.drafting import Drafting
from app.look import Look
from app.session import OPENED, Session
from app.sheet.painter import SheetPainter, colours
from app.writing import Writing
from core.edit.base import map_events
from core.edit.change import Change
from core.edit.source import measure_at, time_of
from core.model import (
    Arrangement,
    Base,
    Event,
    Label,
    Lesson,
    Measure,
    Place,
    Section,
    SourcePart,
    TempoMark,
    Value,
)
from core.page.layout import Layout
from core.page.style import PageStyle

STAFF = PageStyle(staves="staff", flow="line", title=False, footer=False, talk=False)
MOST_PARTS = 4  # staves shown at once
FEWEST, MOST = 3, 8  # measures from the caret's on
WIDE = 140  # pixels for a measure at 100 % text
ROW = 72  # pixels to a staff at 100 % text
NAME = 118  # pixels for the part's name at 100 % text
SMALLEST, LARGEST = 3.4, 7.0  # pixels to the staff space

Staves = Callable[[Sequence[Lesson], PageStyle], tuple[Layout, ...]]
BESIDE = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
SOME_PLACE = Label(Place(1, 0))


class SourceView(QWidget):
    """Hidden until asked for. A click on a staff chooses the part that measures are taken from."""

    def __init__(
        self, session: Session, writing: Writing, drafting: Drafting, look: Look,
        painter: SheetPainter, staves: Staves,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._writing, self._drafting = session, writing, drafting
        self._look, self._painter, self._staves = look, painter, staves
        self._made: dict[tuple[int | None, ...], tuple[Layout | None, ...]] = {}
        self._wanted = False
        self.setAccessibleName("The source")
        self.hide()
        session.changed.connect(self._session_changed)
        writing.moved.connect(self.update)
        drafting.source_changed.connect(self._show_again)
        look.changed.connect(self._show_again)

    def toggle(self) -> None:
        """Show or hide it; raises EditRefused where no source is kept."""
        if self.isHidden():
            self._drafting.required_parts()
        self._wanted = self.isHidden()
        self._show_again()

    def first_shown(self) -> int:
        """The first of the parts that are shown: the chosen one is always among them."""
        return max(0, self._drafting.part - MOST_PARTS + 1)

    def first_measure(self, row: int = 0) -> int | None:
        """The measure (from 0) of a shown part at the time of the caret's measure: the first one
        shown; None behind the source's end."""
        return self._first_measures()[row]

    def _first_measures(self) -> list[int | None]:
        time = time_of(self._session.lesson, self._writing.caret.measure)
        return [measure_at(part, time) for part in self._parts()]

    def _parts(self) -> list[SourcePart]:
        first = self.first_shown()
        return [part for _, _, part in self._drafting.parts()[first : first + MOST_PARTS]]

    def _show_again(self) -> None:
        parts = self._parts()
        self.setVisible(self._wanted and bool(parts))
        self.setFixedHeight(max(1, self._row() * len(parts)))
        self.update()

    def _row(self) -> int:
        return self._look.px(ROW)

    def _session_changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields or "sources" in change.fields:
            self._made.clear()
            self._show_again()

    def layout_of(self, row: int) -> Layout | None:
        """The staff of a shown part from the caret's measure on; None behind the source's end."""
        return self._layouts()[row]

    def _layouts(self) -> tuple[Layout | None, ...]:
        """The staves of all shown parts, their barlines in line."""
        count, firsts = self._measures(), self._first_measures()
        key = self.first_shown(), count, *firsts
        if key not in self._made:
            if len(self._made) > 64:
                self._made.clear()
            found = [_lesson(p, f, count) for p, f in zip(self._parts(), firsts, strict=True)]
            made = iter(self._staves([lesson for lesson in found if lesson is not None], STAFF))
            self._made[key] = tuple(None if one is None else next(made) for one in found)
        return self._made[key]

    def _measures(self) -> int:
        """How many measures are shown: more where the window is wide."""
        return max(FEWEST, min(MOST, (self.width() - self._look.px(NAME)) // self._look.px(WIDE)))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.colour("panel"))
        left, layouts = self._look.px(NAME), self._layouts()
        pixels = self._pixels(layouts, left)
        for row, (part, layout) in enumerate(zip(self._parts(), layouts, strict=True)):
            self._paint_name(painter, row, part)
            area = QRectF(left, row * self._row(), self.width(), self._row())
            if layout is None:
                painter.setPen(self._look.colour("pencil"))
                painter.drawText(
                    area.adjusted(4, 0, 0, 0), BESIDE, "the source has no such measure"
                )
            else:
                self._paint_staff(painter, layout, area, pixels)
        painter.setPen(QPen(self._look.colour("hairline"), 1))
        bottom = self.height() - 0.5
        painter.drawLine(QPointF(0, bottom), QPointF(self.width(), bottom))

    def _paint_name(self, painter: QPainter, row: int, part: SourcePart) -> None:
        top, height = row * self._row(), self._row()
        chosen = self.first_shown() + row == self._drafting.part
        if chosen:
            painter.fillRect(QRectF(0, top + 4, 4, height - 8), self._look.colour("accent"))
        font = QFont(self.font())
        font.setBold(chosen)
        painter.setFont(font)
        painter.setPen(self._look.colour("accent" if chosen else "ink"))
        title = self._drafting.taken_words() if chosen else part.name
        name = QRectF(10, top, self._look.px(NAME) - 16, height)
        painter.drawText(name, BESIDE | Qt.TextFlag.TextWordWrap, title)

    def _pixels(self, layouts: Sequence[Layout | None], left: float) -> float:
        """The size of a staff space, the same on every staff: all must fit."""
        sizes = [LARGEST]
        for layout in (one for one in layouts if one is not None):
            top, bottom = _extent(layout)
            sheet = layout.sheets[0]
            sizes.append((self.width() - left - 8) / (sheet.width - layout.systems[0].x))
            sizes.append((self._row() - 8) / max(1.0, bottom - top))
        return max(SMALLEST, min(sizes))

    def _paint_staff(self, painter: QPainter, layout: Layout, area: QRectF, pixels: float) -> None:
        top, bottom = _extent(layout)
        painter.save()
        painter.setClipRect(area)
        painter.translate(
            area.left() - (layout.systems[0].x - 1) * pixels,
            area.center().y() - (top + bottom) / 2 * pixels,
        )
        painter.scale(pixels, pixels)
        self._painter.paint(painter, layout.sheets[0], colours(self._look.theme.palette))
        painter.restore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        row = int(event.position().y() // self._row())
        if event.button() == Qt.MouseButton.LeftButton and row < len(self._parts()):
            self._drafting.choose_part(self.first_shown() + row)


def _extent(layout: Layout) -> tuple[float, float]:
    """The highest and the lowest y of what is drawn."""
    bodies = [(system.y, system.body) for system in layout.systems]
    return min(y + body.top for y, body in bodies), max(y + body.bottom for y, body in bodies)


def _lesson(part: SourcePart, first: int | None, count: int) -> Lesson | None:
    """A part as the page room takes it: one section, as long as what is shown."""
    if first is None or not part.measures[first : first + count]:
        return None
    row = list(map(_plain, part.measures[first : first + count]))
    if first + count < len(part.measures):  # the music goes on: no final barline
        row[-1] = structs.replace(row[-1], barline="single")
    # A beat without a number: the page then prints no tempo, as the source's parts have none.
    row[0] = structs.replace(row[0], marks=(TempoMark(beat=Value(Base.QUARTER)), *row[0].marks))
    section = Section(1, tuple(row))
    return Lesson("", Arrangement((section,)), next_id=1)


def _plain(measure: Measure) -> Measure:
    """The measure with plain heads, and without numbers, which count from the caret here.

    The page crosses out notes without a place; in a source no note has one, so that for the
    picture, on which no string is shown, each gets some place.
    """

    def held(event: Event) -> Event:
        notes = tuple(structs.replace(n, place=n.place or SOME_PLACE) for n in event.notes)
        return structs.replace(event, notes=notes)

    return structs.replace(map_events(measure, held), counted=False, signs=())
