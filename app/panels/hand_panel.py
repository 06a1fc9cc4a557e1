"""The hand panel: the neck in millimetres at the caret, and each finger's duty."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app.look import Look
from app.panels.duties import Dot, Duty, HandView, duties
from app.panels.parts import rule, words
from core.model import Instrument

ROMAN = ("", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII",
         "XIII", "XIV", "XV", "XVI", "XVII", "XVIII", "XIX", "XX", "XXI", "XXII", "XXIII",
         "XXIV")  # fmt: skip
FRETS_SHOWN = 5
OPEN_MM = 16.0  # room before the nut for open strings
WIDEN_AT_TWELFTH = 9.0  # mm a neck is wider at the twelfth fret than at the nut; house default


class Neck(QWidget):
    """The neck seen as tab is read: string 1 on top, the nut at the left, all lengths to scale."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._instrument = Instrument()
        self._hand = HandView()
        self._first = 0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("The neck at the caret")
        look.changed.connect(self.updateGeometry)
        look.changed.connect(self.update)

    def show_hand(self, instrument: Instrument, hand: HandView) -> None:
        self._instrument, self._hand = instrument, hand
        frets = [d.place.fret for d in (*hand.now, *hand.held, *hand.coming) if d.place.fret]
        low, high = min(frets, default=1), max(frets, default=1)
        # From the nut where the fifth fret is enough, else from the fret below the lowest.
        self._first = 0 if high <= FRETS_SHOWN else max(0, low - 1)
        self._last = max(self._first + FRETS_SHOWN, high)
        self.updateGeometry()
        self.update()

    _last = FRETS_SHOWN

    @property
    def first_fret(self) -> int:
        """The fret (0 the nut) at the left edge."""
        return self._first

    def sizeHint(self) -> QSize:
        return QSize(self._look.px(300), self.heightForWidth(self._look.px(300)))

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return round(self._width_mm() * self._scale(width)) + self._look.px(46)

    def _scale(self, width: float) -> float:
        """Pixels to the millimetre: the frets shown fill the width."""
        length = self._instrument.fret_mm(self._last) - self._instrument.fret_mm(self._first)
        return (width - 12) / (length + OPEN_MM)

    def _width_mm(self) -> float:
        return self._instrument.nut_mm + 14.0

    def fret_x(self, fret: int) -> float:
        """Where a fret (0 the nut) lies, in pixels from the left."""
        instrument = self._instrument
        mm = instrument.fret_mm(fret) - instrument.fret_mm(self._first)
        return 6 + (OPEN_MM + mm) * self._scale(self.width())

    def string_y(self, string: int, x: float) -> float:
        """The height of a string at an x: the outer strings spread from the nut on."""
        instrument = self._instrument
        scale = self._scale(self.width())
        mm = (x - 6) / scale - OPEN_MM + instrument.fret_mm(self._first)
        twelfth = instrument.fret_mm(12)
        spread = instrument.nut_mm + WIDEN_AT_TWELFTH * max(0.0, mm) / twelfth
        share = (string - 1) / (len(instrument.strings) - 1) - 0.5
        return self._middle() + share * spread * scale

    def _middle(self) -> float:
        return (self.height() - self._look.px(26)) / 2

    def dot_centre(self, dot: Dot) -> QPointF:
        """Where a note's pad lies: just behind its fret, an open string before the nut."""
        fret = dot.place.fret
        if fret == 0:
            x = self.fret_x(self._first) - OPEN_MM * 0.5 * self._scale(self.width())
        else:
            x = self.fret_x(fret) - 0.38 * (self.fret_x(fret) - self.fret_x(fret - 1))
        return QPointF(x, self.string_y(dot.place.string, x))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_neck(painter)
        for dot in self._hand.coming:
            self._paint_dot(painter, dot, "coming")
        for dot in self._hand.held:
            self._paint_dot(painter, dot, "held")
        for dot in self._hand.now:
            self._paint_dot(painter, dot, "now")

    def _paint_neck(self, painter: QPainter) -> None:
        strings = len(self._instrument.strings)
        left, right = self.fret_x(self._first), self.fret_x(self._last)
        ink, line = self._look.colour("ink"), self._look.colour("pencil")
        for fret in range(self._first, self._last + 1):
            x = self.fret_x(fret)
            nut = fret == 0
            painter.setPen(QPen(ink if nut else line, 4 if nut else 1))
            painter.drawLine(QPointF(x, self.string_y(1, x)), QPointF(x, self.string_y(strings, x)))
        for string in range(1, strings + 1):
            # A first string is about .7 mm, a sixth about 1.1 mm thick (common practice).
            painter.setPen(QPen(ink, 0.8 + 1.0 * (string - 1) / (strings - 1)))
            begin = left if self._first == 0 else left - 6
            y, end = self.string_y(string, begin), self.string_y(string, right)
            painter.drawLine(QPointF(begin, y), QPointF(right, end))
        self._paint_numerals(painter, strings)

    def _paint_numerals(self, painter: QPainter, strings: int) -> None:
        font = self._look.font("small", serif=True)
        painter.setFont(font)
        painter.setPen(self._look.colour("pencil"))
        metrics = QFontMetricsF(font)
        for fret in range(self._first + 1, self._last + 1):
            middle = (self.fret_x(fret - 1) + self.fret_x(fret)) / 2
            text = ROMAN[fret]
            base = self.string_y(strings, self.fret_x(self._last)) + self._look.px(22)
            painter.drawText(QPointF(middle - metrics.horizontalAdvance(text) / 2, base), text)

    def _paint_dot(self, painter: QPainter, dot: Dot, what: str) -> None:
        centre = self.dot_centre(dot)
        radius = min(
            self._look.px(11), self._instrument.nut_mm / 5 * self._scale(self.width()) * 0.48
        )
        fill = {"now": "accent", "held": "ink"}.get(what, "pencil")
        pen = QPen(self._look.colour(fill), 1.6)
        if what == "coming":
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        open_string = dot.place.fret == 0
        solid = what != "coming" and not open_string
        painter.setBrush(self._look.colour(fill) if solid else self._look.colour("panel"))
        painter.drawEllipse(centre, radius, radius)
        font = self._look.font("small", serif=True, bold=dot.firm, italic=not dot.firm)
        painter.setFont(font)
        painter.setPen(self._look.colour("on_accent" if what == "now" else "panel")
                       if solid else self._look.colour("ink"))  # fmt: skip
        text = dot.finger.value if dot.finger is not None else "?"
        box = QRectF(centre.x() - radius, centre.y() - radius, 2 * radius, 2 * radius)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


class HandPanel(QWidget):
    """Heading with the moment, the neck, a line for each finger, and the keys that act here."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.setAccessibleName("Hand panel: the left hand at the caret")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.setSpacing(8)
        head = QHBoxLayout()
        self._moment = words("", "heading", wrap=True)
        self._scale = words("", "quiet")
        head.addWidget(self._moment, 1)
        head.addWidget(self._scale)
        layout.addLayout(head)
        self.neck = Neck(look)
        layout.addWidget(self.neck)
        layout.addWidget(rule())
        self._grid = QGridLayout()
        self._grid.setColumnStretch(1, 1)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(4)
        layout.addLayout(self._grid)
        layout.addWidget(rule())
        self._below = QVBoxLayout()
        layout.addLayout(self._below)
        self._legend = words(
            "Filled: plays now or is held. Dashed ring: comes next. Slanted: suggested.",
            "quiet", wrap=True,
        )  # fmt: skip
        layout.addWidget(self._legend)
        layout.addStretch(1)
        self._hint = words("", "quiet", wrap=True)
        layout.addWidget(self._hint)
        self._rows: list[tuple[QLabel, QLabel]] = []

    def add(self, widget: QWidget) -> None:
        """Put a widget under what the hand does."""
        self._below.addWidget(widget)

    def show_hand(self, moment: str, instrument: Instrument, hand: HandView) -> None:
        """Show the hand at a moment."""
        self._moment.setText(moment)
        capo = f", capo {instrument.capo}" if instrument.capo else ""
        self._scale.setText(f"{instrument.scale_mm:g} mm scale{capo}")
        self.neck.show_hand(instrument, hand)
        lines = duties(hand)
        self._show_duties(lines)
        spoken = "; ".join(f"finger {d.finger} {d.words}" for d in lines if d.busy)
        self.setAccessibleDescription(f"{moment}. {spoken}")

    def _show_duties(self, lines: tuple[Duty, ...]) -> None:
        while len(self._rows) < len(lines):
            row = (words("", "heading"), words("", "serif", wrap=True))
            row[0].setAlignment(Qt.AlignmentFlag.AlignTop)
            self._grid.addWidget(row[0], len(self._rows), 0)
            self._grid.addWidget(row[1], len(self._rows), 1)
            self._rows.append(row)
        for index, (figure, text) in enumerate(self._rows):
            shown = index < len(lines)
            figure.setVisible(shown)
            text.setVisible(shown)
            if shown:
                figure.setText(lines[index].finger)
                text.setText(lines[index].words)

    def duty_words(self) -> list[str]:
        """The lines as shown, for tests and for reading aloud."""
        return [f"{a.text()} {b.text()}" for a, b in self._rows if not a.isHidden()]

    def set_hint(self, text: str) -> None:
        self._hint.setText(text)
