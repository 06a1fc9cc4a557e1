"""The question a score may ask: which parts become melody and bass, and how high it sounds."""

from __future__ import annotations

from msgspec import Struct
from PySide6.QtWidgets import QDialog, QFormLayout, QHBoxLayout, QVBoxLayout, QWidget

from app.panels.choice_box import ChoiceBox
from app.panels.parts import button, words
from core.formats.imported import OctaveDecision, PartChoice, PartInfo, Report
from core.model import Pitch

SHIFTS = {
    0: "at the pitch that is written",
    -1: "an octave below what is written",
    -2: "two octaves below what is written",
    1: "an octave above what is written",
}


TWO_VOICES = (
    "Footstool makes a melody and a bass of a score. Choose the part for each; all parts are kept "
    "in the lesson as its source."
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
            layout.addWidget(words(TWO_VOICES, wrap=True))
            self._melody = self._part_box("Melody", self._index("melody"))
            self._bass = self._part_box("Bass", self._index("bass"), none=True)
            form.addRow("Melody from", self._melody)
            form.addRow("Bass from", self._bass)
        self._octave = self._octave_box(report)
        if report.octaves:
            form.addRow("It sounds", self._octave)
        layout.addLayout(form)
        for decision in report.octaves:
            layout.addWidget(words(_decided(decision), "quiet", wrap=True))
        layout.addLayout(self._buttons())

    @property
    def choices(self) -> ScoreChoices:
        """What is chosen now."""
        octave = self._octave.currentData()
        if self._melody is None or self._bass is None:
            return ScoreChoices(None, octave)
        bass = self._bass.currentData()
        melody = self._melody.currentData()
        return ScoreChoices(PartChoice(melody, None if bass == melody else bass), octave)

    @staticmethod
    def _octave_box(report: Report) -> ChoiceBox:
        """First what the reader decided, which stays unless another row is chosen."""
        box = ChoiceBox()
        box.setAccessibleName("How high it sounds")
        shifts = {decision.shift for decision in report.octaves}
        told = SHIFTS.get(min(shifts)) if len(shifts) == 1 else None
        box.addItem(f"{told} (so the file was read)" if told else "each part as it was read", None)
        for shift, text in SHIFTS.items():
            if text != told:
                box.addItem(text, shift)
        return box

    def _index(self, role: str) -> int | None:
        return next((part.index for part in self._parts if part.role == role), None)

    def _part_box(self, name: str, chosen: int | None, none: bool = False) -> ChoiceBox:
        box = ChoiceBox()
        box.setAccessibleName(name)
        if none:
            box.addItem("no part: write a bass yourself", None)
        for part in self._parts:
            box.addItem(_described(part), part.index)
        position = next((i for i in range(box.count()) if box.itemData(i) == chosen), 0)
        box.setCurrentIndex(position)
        return box

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(button("Do not open it", self.reject))
        go = button("Open the score", self.accept, main=True)
        go.setDefault(True)
        row.addWidget(go)
        return row


def _decided(decision: OctaveDecision) -> str:
    """``Guitar: the octave clef says how it sounds.``"""
    doubt = "" if decision.sure else " This is a guess: listen whether it is right."
    return f"{decision.part}: {decision.reason}{doubt}"


def _described(part: PartInfo) -> str:
    notes = "1 note" if part.notes == 1 else f"{part.notes} notes"
    if part.lowest_midi is None or part.highest_midi is None:
        return f"{part.name} ({notes})"
    low, high = Pitch.from_midi(part.lowest_midi), Pitch.from_midi(part.highest_midi)
    return f"{part.name} ({notes}, {low} to {high})"
