"""The listening bar: hear the measure, section or piece; tempo, loop, count-in, click, voices."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import structs
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QSlider,
    QVBoxLayout,
)

from app.hearing import LADDER, Hearing, What
from app.look import Look
from app.panels.parts import button, words

WHAT: tuple[What, ...] = ("measure", "section", "piece")


class ListeningBar(QScrollArea):
    """Shows how `hearing` stands and passes on what is pressed. `attempt` runs what may fail."""

    def __init__(
        self, hearing: Hearing, look: Look, attempt: Callable[[Callable[[], object]], None]
    ) -> None:
        super().__init__()
        self._hearing, self._look, self._attempt = hearing, look, attempt
        self._filling = False
        self.setObjectName("listening-area")
        self.setAccessibleName("Listening bar")
        # With large text the bar may be wider than the window: it then scrolls sideways.
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._inner = inner = QFrame()
        inner.setObjectName("listening")
        self.setWidget(inner)
        self._row = QHBoxLayout(inner)
        self._row.setContentsMargins(20, 10, 20, 10)
        self._row.setSpacing(10)
        self._make_play()
        self._row.addStretch(1)
        self._make_tempo()
        self._row.addStretch(1)
        self._make_ways()
        hearing.changed.connect(self.refresh)
        look.changed.connect(self._sizes)
        self._sizes()
        self.refresh()

    def _make_play(self) -> None:
        self.play = button("Hear", lambda: self._attempt(self._hearing.toggle), main=True)
        self._row.addWidget(self.play)
        self._what = QButtonGroup(self)
        for what in WHAT:
            choice = QPushButton(what.capitalize())
            choice.setCheckable(True)
            choice.setAccessibleName(f"Hear the {what}")
            choice.clicked.connect(lambda _=False, w=what: self._choose(what=w))
            self._what.addButton(choice)
            self._row.addWidget(choice)

    def _make_tempo(self) -> None:
        column = QVBoxLayout()
        column.setSpacing(0)
        self._unit = words("", "quiet", name="tempo-share")
        column.addWidget(self._unit)
        self._tempo = words("", "heading", name="tempo")
        column.addWidget(self._tempo)
        self._row.addLayout(column)
        self._steps: dict[int, QPushButton] = {}
        for percent in LADDER:
            step = QPushButton("")
            step.setObjectName(f"tempo-{percent}")
            step.setCheckable(True)
            step.setProperty("narrow", True)
            step.clicked.connect(
                lambda _=False, p=percent: self._attempt(lambda: self._hearing.set_percent(p))
            )
            self._steps[percent] = step
            self._row.addWidget(step)

    def _make_ways(self) -> None:
        self.loop = self._check("Loop", "loop")
        self.count_in = self._check("Count-in", "count_in")
        self.click = self._check("Click", "click")
        self.melody = self._slider("Melody", "melody")
        self.bass = self._slider("Bass", "bass")

    def _check(self, text: str, name: str) -> QCheckBox:
        box = QCheckBox(text)
        box.setAccessibleName(text)
        box.toggled.connect(lambda on: self._choose(**{name: on}))
        self._row.addWidget(box)
        return box

    def _slider(self, text: str, name: str) -> QSlider:
        self._row.addWidget(words(text))
        slider = QSlider(Qt.Orientation.Horizontal)
        slider.setRange(0, 100)
        slider.setValue(100)
        slider.setAccessibleName(f"Loudness of the {text.lower()}")
        slider.valueChanged.connect(lambda value: self._choose(**{name: value / 100}))
        self._row.addWidget(slider)
        return slider

    def _choose(self, **choices: object) -> None:
        if not self._filling:
            chosen = structs.replace(self._hearing.choices, **choices)
            self._attempt(lambda: self._hearing.choose(chosen))

    def refresh(self) -> None:
        """Show the present state."""
        hearing, choices = self._hearing, self._hearing.choices
        self._filling = True
        what = hearing.what_words()
        self.play.setText("Stop" if hearing.playing else f"Hear {_short(what)}")
        self.play.setAccessibleName("Stop" if hearing.playing else f"Hear {what}")
        for made, name in zip(self._what.buttons(), WHAT, strict=True):
            made.setChecked(name == choices.what)
        self._show_tempo()
        self.loop.setChecked(choices.loop)
        self.count_in.setChecked(choices.count_in)
        self.click.setChecked(choices.click)
        self.melody.setValue(round(choices.melody * 100))
        self.bass.setValue(round(choices.bass * 100))
        self._filling = False

    def _show_tempo(self) -> None:
        percent, rate = self._hearing.percent, self._hearing.per_minute
        self._unit.setText(f"{percent} % of the goal")
        self._tempo.setText(f"{rate:.3g} a minute")
        self._tempo.setToolTip(f"{rate:.4g} beats a minute, {percent} % of the goal tempo")
        goal = rate * 100 / percent
        for step, made in self._steps.items():
            beats = goal * step / 100
            made.setText(f"{beats:.0f}")
            made.setAccessibleName(f"{beats:.4g} beats a minute, {step} percent")
            made.setToolTip(f"{step} % of the goal tempo: {beats:.4g} beats a minute")
            made.setChecked(step == percent)

    def sizeHint(self) -> QSize:
        inner = self._inner.sizeHint()
        # Room for the scroll bar where it will be needed.
        narrow = self.width() < self._inner.minimumSizeHint().width()
        return QSize(inner.width(), inner.height() + (12 if narrow else 0))

    def minimumSizeHint(self) -> QSize:
        return QSize(300, self.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.updateGeometry()

    def focusNextPrevChild(self, forward: bool) -> bool:
        moved = super().focusNextPrevChild(forward)
        focused = self.focusWidget()
        if focused is not None:
            self.ensureWidgetVisible(focused)
        return moved

    def _sizes(self) -> None:
        for made in self._steps.values():
            made.setFixedWidth(self._look.px(38))
        self.play.setFixedWidth(self._look.px(148))
        self._tempo.setFixedWidth(self._look.px(98))
        for slider in (self.melody, self.bass):
            slider.setFixedWidth(self._look.px(50))


def _short(text: str) -> str:
    return text if len(text) <= 16 else text[:15] + "…"
