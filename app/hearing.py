"""Hearing: what is played, how fast, looped or not; drives the player. Holds no widget."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

from msgspec import Struct, structs
from PySide6.QtCore import QObject, Signal

from app.messages import Messages
from app.panels.course import section_title
from app.session import OPENED, Session
from app.writing import Writing
from core.edit.change import Change
from core.edit.lesson_fields import SetSettings
from core.model import Section
from core.sound.plan import MeasureRange, OneSection, Plan, Whole

if TYPE_CHECKING:
    from app.listening import Player
    from core.sound.timeline import Timeline

What = Literal["measure", "section", "piece"]
SLOWEST, FASTEST = 20, 150  # percent of the goal tempo
LADDER = (50, 60, 70, 80, 90, 100)
LOOP_SECONDS = 1800.0  # a loop is laid out for about this long and then begun again
MOST_PASSES = 200


class Choices(Struct, frozen=True):
    """How to hear; the practice tempo itself is the lesson's."""

    what: What = "section"
    loop: bool = False
    count_in: bool = True
    click: bool = False
    melody: float = 1.0
    bass: float = 1.0


class Hearing(QObject):
    """`changed()`: choices, tempo or playing are others. `moved(measure, ticks, occurrence)`."""

    changed = Signal()
    moved = Signal(int, object, int)

    def __init__(
        self, session: Session, writing: Writing, messages: Messages,
        make_player: Callable[[], Player],
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._writing, self._messages = session, writing, messages
        self._make_player = make_player
        self._player: Player | None = None
        self._choices = Choices()
        self._heard: tuple[What, int] | None = None  # what plays, and the measure it began from
        session.changed.connect(self._session_changed)

    # ------------------------------------------------------------------ what is known

    @property
    def choices(self) -> Choices:
        return self._choices

    @property
    def playing(self) -> bool:
        return self._player is not None and self._player.playing

    @property
    def percent(self) -> int:
        """The practice tempo in percent of the goal."""
        return self._session.lesson.settings.practice_percent

    @property
    def per_minute(self) -> float:
        """The practice tempo in beats a minute."""
        return self._session.lesson.arrangement.tempo.per_minute * self.percent / 100

    def section(self) -> tuple[Section, int]:
        """The section of the caret and its place among the sections."""
        found = self._session.outline.section_of[self._writing.caret.measure]
        return found, self._session.lesson.arrangement.sections.index(found)

    def what_words(self) -> str:
        """``section A``, ``measure 7``, ``the piece``: what would be heard now."""
        if self._choices.what == "piece":
            return "the piece"
        if self._choices.what == "measure":
            return self._session.outline.name(self._writing.caret.measure)
        section, index = self.section()
        return f"section {section.letter}" if section.letter else section_title(section, index)

    def plan(self, what: What, measure: int) -> Plan:
        """The plan for what is asked, seen from a measure."""
        chosen = self._choices
        region: Whole | OneSection | MeasureRange = Whole()
        if what == "measure":
            region = MeasureRange(measure, measure)
        elif what == "section":
            region = OneSection(self._session.outline.section_of[measure].id)
        return Plan(
            region,
            percent=float(self.percent),
            count_in=int(chosen.count_in),
            click=chosen.click,
            melody=chosen.melody,
            bass=chosen.bass,
        )

    # ------------------------------------------------------------------ doing

    def toggle(self) -> None:
        """Stop, or hear what is chosen."""
        if self.playing:
            self.stop()
        else:
            self.hear(self._choices.what)

    def hear(self, what: What) -> None:
        """Hear the caret's measure or section, or the piece. Raises BadInput."""
        self._choices = structs.replace(self._choices, what=what)
        self._heard = (what, self._writing.caret.measure)
        timeline = self._timeline()
        self._ready_player().play(timeline)
        self.changed.emit()

    def stop(self) -> None:
        if self._player is not None:
            self._player.stop()
        self.changed.emit()

    def choose(self, choices: Choices) -> None:
        """Hear another way; what plays goes on at the same moment."""
        restart = choices.what != self._choices.what and self.playing
        self._choices = choices
        if restart:
            self.hear(choices.what)
        else:
            self._follow()
        self.changed.emit()

    def set_percent(self, percent: int) -> None:
        """Set the practice tempo, kept with the lesson; held between 20 and 150 percent."""
        held = max(SLOWEST, min(FASTEST, percent))
        settings = structs.replace(self._session.lesson.settings, practice_percent=held)
        command = SetSettings(settings)
        done = self._session.history.done
        # Trying tempos one after another is one step to undo.
        again = bool(done) and done[-1].label == command.label
        self._session.apply(command, initiator=self, amend=again)
        self.changed.emit()

    def close(self) -> None:
        """Let go of the sound output."""
        if self._player is not None:
            self._player.close()

    def _timeline(self) -> Timeline:
        from core.sound.timeline import timeline  # noqa: PLC0415 (numpy is slow to load)

        assert self._heard is not None
        plan = self.plan(*self._heard)
        made = timeline(self._session.lesson, plan)
        if not self._choices.loop:
            return made
        passes = max(2, min(MOST_PASSES, round(LOOP_SECONDS / max(made.seconds, 0.1))))
        return timeline(self._session.lesson, structs.replace(plan, passes=passes))

    def _ready_player(self) -> Player:
        if self._player is None:
            player = self._make_player()
            player.moved.connect(self._player_moved)
            player.started.connect(self.changed)
            player.stopped.connect(self.changed)
            player.failed.connect(self._messages.failed)
            self._player = player
        return self._player

    def _player_moved(self, measure: int, ticks: object, occurrence: int) -> None:
        self.moved.emit(measure, ticks, occurrence)

    def _follow(self) -> None:
        if not self.playing or self._heard is None:
            return
        if self._session.outline.measure(self._heard[1]) is None:
            self.stop()
            return
        with self._messages.guarded():
            self._ready_player().follow(self._timeline())

    def _session_changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields:
            self.stop()
        elif "style" not in change.fields:
            self._follow()
        self.changed.emit()
