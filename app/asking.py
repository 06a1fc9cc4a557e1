"""Questions to the teacher that need an answer now: which file, save first? Dialogs only."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from PySide6.QtWidgets import QDialog, QFileDialog, QMessageBox, QVBoxLayout, QWidget

from app.panels.parts import button, words
from app.score_choices import ScoreChoices, ScoreQuestion
from core.formats.imported import Report as ScoreReport

Answer = Literal["save", "leave", "stay"]


class Asking:
    """Asks in dialogs over the window; an empty answer means the teacher thought better of it."""

    def __init__(self) -> None:
        self.parent: QWidget | None = None

    def file_to_open(self, folder: Path) -> Path | None:
        """A lesson or a score to open."""
        kinds = ";;".join(
            (
                "Lessons and scores (*.footstool *.musicxml *.xml *.mxl *.mid *.midi)",
                "Lessons (*.footstool)",
                "MusicXML scores (*.musicxml *.xml *.mxl)",
                "MIDI files (*.mid *.midi)",
                "All files (*)",
            )
        )
        name, _ = QFileDialog.getOpenFileName(self.parent, "Open", str(folder), kinds)
        return Path(name) if name else None

    def file_to_write(self, title: str, proposed: Path, kind: str) -> Path | None:
        """Where to write a file; `kind` is ``Lessons (*.footstool)``. Asks before overwriting."""
        name, _ = QFileDialog.getSaveFileName(self.parent, title, str(proposed), kind)
        if not name:
            return None
        path = Path(name)
        return path if path.suffix else path.with_suffix(proposed.suffix)

    def folder(self, title: str, proposed: Path) -> Path | None:
        """A folder to fill."""
        name = QFileDialog.getExistingDirectory(self.parent, title, str(proposed))
        return Path(name) if name else None

    def save_first(self, title: str) -> Answer:
        """Whether to save changes before they would be lost."""
        box = QMessageBox(self.parent)
        box.setWindowTitle("Save the changes?")
        box.setText(f"{title} has changes that are not saved.")
        save = box.addButton("Save", QMessageBox.ButtonRole.AcceptRole)
        leave = box.addButton("Leave without saving", QMessageBox.ButtonRole.DestructiveRole)
        stay = box.addButton("Stay", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(save)
        box.setEscapeButton(stay)
        box.exec()
        clicked = box.clickedButton()
        return "save" if clicked is save else "leave" if clicked is leave else "stay"

    def score_choices(self, name: str, report: ScoreReport) -> ScoreChoices | None:
        """Which parts of a score become melody and bass, and how high it sounds; None: leave it."""
        question = ScoreQuestion(self.parent, name, report)
        accepted = question.exec() == QDialog.DialogCode.Accepted
        return question.choices if accepted else None

    def keep_recovered(self, title: str) -> bool:
        """Whether to go on with changes that were never saved because the bench was stopped."""
        box = QMessageBox(self.parent)
        box.setWindowTitle("Unsaved changes were kept")
        box.setText(f"The bench stopped before the last changes to {title} were saved.")
        box.setInformativeText("They were kept. Go on with them, or throw them away for good?")
        keep = box.addButton("Go on with them", QMessageBox.ButtonRole.AcceptRole)
        box.addButton("Throw them away", QMessageBox.ButtonRole.DestructiveRole)
        box.setDefaultButton(keep)
        box.setEscapeButton(keep)
        box.exec()
        return box.clickedButton() is keep

    def open_kept(self, name: str, why: str) -> bool:
        """Whether to open what was kept beside a lesson file that cannot be read."""
        box = QMessageBox(self.parent)
        box.setWindowTitle("The lesson file is damaged")
        box.setText(f"{why} All changes to it were kept beside it, up to the last one.")
        box.setInformativeText(
            f"Open what was kept, as a lesson to save anew? {name} itself stays as it is."
        )
        keep = box.addButton("Open what was kept", QMessageBox.ButtonRole.AcceptRole)
        leave = box.addButton("Leave it", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(keep)
        box.setEscapeButton(leave)
        box.exec()
        return box.clickedButton() is keep

    def tell(self, title: str, heading: str, sentences: Sequence[str]) -> QDialog:
        """A report to read and close; the bench stays usable behind it."""
        dialog = Report(self.parent, title, heading, sentences)
        dialog.open()
        return dialog


class Report(QDialog):
    """Sentences under a heading."""

    def __init__(
        self, parent: QWidget | None, title: str, heading: str, sentences: Sequence[str]
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setMinimumWidth(560)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(10)
        layout.addWidget(words(heading, "title", wrap=True))
        for sentence in sentences:
            layout.addWidget(words(sentence, wrap=True))
        layout.addStretch(1)
        close = button("Go to the sheet", self.accept, main=True)
        close.setDefault(True)
        layout.addWidget(close)
        self.setAccessibleName(heading)
        self.setAccessibleDescription(" ".join(sentences))
