"""The level panel: what the student may be asked to do, and what this hand spans."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import structs
from PySide6.QtWidgets import QCheckBox, QGridLayout, QSpinBox, QVBoxLayout, QWidget

from app.panels.choice_box import ChoiceBox
from app.panels.note_ways import CAUTION
from app.panels.parts import rule, words
from core.edit.base import Command
from core.edit.lesson_fields import SetBrief
from core.hand.anatomy import PAIRS, spans
from core.hand.levels import LEVELS
from core.model import Brief, Lesson, LevelContract

OWN = "as set below"


class LevelPanel(QWidget):
    """Fields that write a command when they change; the suggestions wait until they are asked."""

    def __init__(self, do: Callable[[Command], None]) -> None:
        super().__init__()
        self._do = do
        self._brief = Brief()
        self._showing = False
        self.setAccessibleName("Level and hand panel")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.addWidget(words("Level and hand", "heading"))
        layout.addWidget(words("What suggestions may ask of the left hand.", "quiet", True))
        layout.addLayout(self._level_fields())
        layout.addWidget(rule())
        layout.addLayout(self._hand_fields())
        layout.addWidget(words(CAUTION, "quiet", wrap=True))
        layout.addStretch(1)
        self.hint = words("", "quiet", wrap=True)
        layout.addWidget(self.hint)

    def _level_fields(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setColumnStretch(0, 1)
        self.level = ChoiceBox()
        self.level.addItems([*(f"level {number}" for number in LEVELS), OWN])
        self.level.activated.connect(self._level_chosen)
        self.fret = self._number(0, 24, "Highest fret")
        self.position = self._number(1, 20, "Highest position")
        self.fingers = self._number(1, 4, "Fingers in use")
        self.barre = QCheckBox("Barre allowed")
        self.barre.toggled.connect(self._written)
        rows: tuple[tuple[str, QWidget], ...] = (("Level", self.level), ("Highest fret", self.fret),
                ("Highest position", self.position), ("Fingers in use", self.fingers))  # fmt: skip
        _fill(grid, rows)
        self.level.setAccessibleName("Level")
        grid.addWidget(self.barre, len(rows), 0, 1, 2)
        return grid

    def _hand_fields(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setColumnStretch(0, 1)
        self.age = self._number(0, 120, "Age of the student")
        self.age.setSpecialValueText("not said")
        self.age.setSuffix(" years")
        self.spans: dict[str, QSpinBox] = {}
        rows: list[tuple[str, QWidget]] = [("Age", self.age)]
        for low, high in PAIRS:
            field = self._number(0, 200, f"Span between fingers {low} and {high} in millimetres")
            self.spans[f"{low}{high}"] = field
            rows.append((f"Fingers {low} and {high} span", field))
        _fill(grid, rows)
        return grid

    def _number(self, least: int, most: int, name: str) -> QSpinBox:
        field = QSpinBox()
        field.setRange(least, most)
        field.setAccessibleName(name)
        field.setKeyboardTracking(False)
        field.valueChanged.connect(self._written)
        return field

    def show_lesson(self, lesson: Lesson) -> None:
        """Fill the fields from the brief."""
        if self._brief is lesson.brief:
            return
        self._brief, self._showing = lesson.brief, True
        level, hand = lesson.brief.level, lesson.brief.hand
        known = [LEVELS[number] == level for number in LEVELS]
        self.level.setCurrentIndex(known.index(True) if True in known else len(known))
        for field, value in (
            (self.fret, level.highest_fret), (self.position, level.highest_position),
            (self.fingers, level.fingers), (self.age, lesson.brief.age or 0),
        ):  # fmt: skip
            field.setValue(value)
        self.barre.setChecked(level.barre)
        usual = spans(None, lesson.brief.age)
        own: dict[str, float] = {str(pair): mm for pair, mm in hand.spans_mm.items()}
        for (pair, field), mm in zip(self.spans.items(), usual, strict=True):
            field.setSpecialValueText(f"usual, {mm:.0f} mm")
            field.setSuffix(" mm")
            field.setValue(round(own.get(pair, 0)))
        self._showing = False

    def _level_chosen(self, index: int) -> None:
        numbers = list(LEVELS)
        if index < len(numbers):
            self._do(SetBrief(structs.replace(self._brief, level=LEVELS[numbers[index]])))

    def _written(self) -> None:
        if self._showing:
            return
        brief = self._brief
        level = structs.replace(
            brief.level, highest_fret=self.fret.value(), highest_position=self.position.value(),
            fingers=self.fingers.value(), barre=self.barre.isChecked(),
        )  # fmt: skip
        own = {pair: float(field.value()) for pair, field in self.spans.items() if field.value()}
        hand = structs.replace(brief.hand, spans_mm=own)
        age = self.age.value() or None
        self._do(SetBrief(structs.replace(brief, level=level, hand=hand, age=age)))


def _fill(grid: QGridLayout, rows: Sequence[tuple[str, QWidget]]) -> None:
    for number, (label, field) in enumerate(rows):
        caption = words(label)
        caption.setBuddy(field)
        grid.addWidget(caption, number, 0)
        grid.addWidget(field, number, 1)


def level_words(brief: Brief) -> str:
    """``Level 1: frets to 5, positions to 2, no barre; usual spans``."""
    level: LevelContract = brief.level
    barre = "barre" if level.barre else "no barre"
    fingers = "" if level.fingers == 4 else f", {level.fingers} fingers"
    age = "" if brief.age is None else f" at {brief.age} years"
    hand = "measured spans" if brief.hand.spans_mm else f"usual spans{age}"
    return (
        f"Level {level.level}: frets to {level.highest_fret}, positions to "
        f"{level.highest_position}, {barre}{fingers}; {hand}"
    )
