"""The question a score may ask: which parts become melody and bass, and how high it sounds."""

from __future__ import annotations

from msgspec import Struct
from PySide6.QtWidgets import QComboBox, QDialog, QFormLayout, QHBoxLayout, QVBoxLayout, QWidget

from app.panels.parts import button, words
from core.formats.imported import PartChoice, PartInfo, Report
from core.model import Pitch

AS_READ = "as Footstool understood the file"
OCTAVES = (
    (AS_READ, None),
    ("as written in the file", 0),
    ("an octave below what is written", -1),
    ("two octaves below what is written", -2),
    ("an octave above what is written", 1),
)


class ScoreChoices(Struct, frozen=True):
    """What the teacher chose: parts for melody and bass, octaves from written to sounding.

    None leaves the reader's own decision.
    """

    parts: PartChoice | None = None
    octave: int | None = None


def in_doubt(report: Report) -> bool:
    """Whether there is something to ask: several parts with notes, or an octave to check."""
    return len(playable(report)) > 1 or any(not octave.sure for octave in report.octaves)


def playable(report: Report) -> list[PartInfo]:
    """The parts that have notes and are more than the tablature of another."""
    return [part for part in report.parts if part.notes and part.role != "tablature"]


class ScoreQuestion(QDialog):
    """Asks once, with the reader's own answer filled in; `choices` after it was accepted."""

    def __init__(self, parent: QWidget | None, name: str, report: Report) -> None:
        super().__init__(parent)
        self.setWindowTitle("How to read this score")
        self.setMinimumWidth(560)
        self.setAccessibleName("How to read this score")
        self._parts = playable(report)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(10)
        layout.addWidget(words(f"How to read {name}", "title", wrap=True))
        form = QFormLayout()
        form.setSpacing(8)
        self._melody = self._bass = None
        if len(self._parts) > 1:
            self._melody = self._part_box("Melody", self._index("melody"))
            self._bass = self._part_box("Bass", self._index("bass"), none=True)
            form.addRow("The melody is", self._melody)
            form.addRow("The bass is", self._bass)
        self._octave = QComboBox()
        self._octave.setAccessibleName("How high it sounds")
        self._octave.addItems([words for words, _ in OCTAVES])
        form.addRow("It sounds", self._octave)
        layout.addLayout(form)
        for decision in report.octaves:
            layout.addWidget(words(f"{decision.part}: {decision.reason}", "quiet", wrap=True))
        if len(self._parts) > 1:
            kept = "All parts are kept in the lesson as its source, also those left out here."
            layout.addWidget(words(kept, "quiet", wrap=True))
        layout.addLayout(self._buttons())

    @property
    def choices(self) -> ScoreChoices:
        """What is chosen now."""
        octave = OCTAVES[self._octave.currentIndex()][1]
        if self._melody is None or self._bass is None:
            return ScoreChoices(None, octave)
        bass = self._bass.currentData()
        melody = self._melody.currentData()
        return ScoreChoices(PartChoice(melody, None if bass == melody else bass), octave)

    def _index(self, role: str) -> int | None:
        return next((part.index for part in self._parts if part.role == role), None)

    def _part_box(self, name: str, chosen: int | None, none: bool = False) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        if none:
            box.addItem("none: leave the second voice empty", None)
        for part in self._parts:
            box.addItem(_described(part), part.index)
        position = next((i for i in range(box.count()) if box.itemData(i) == chosen), 0)
        box.setCurrentIndex(position)
        return box

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(button("Leave it unopened", self.reject))
        go = button("Open it so", self.accept, main=True)
        go.setDefault(True)
        row.addWidget(go)
        return row


def _described(part: PartInfo) -> str:
    notes = "1 note" if part.notes == 1 else f"{part.notes} notes"
    if part.lowest_midi is None or part.highest_midi is None:
        return f"{part.name} ({notes})"
    low, high = Pitch.from_midi(part.lowest_midi), Pitch.from_midi(part.highest_midi)
    return f"{part.name} ({notes}, {low} to {high})"
