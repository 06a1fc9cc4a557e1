"""What the lesson's settings ask of its pages: note names and the like. Kept with the lesson."""

from __future__ import annotations

from msgspec import structs

from app.session import Session
from core.edit import SetSettings
from core.model import Settings

# What a setting may be, in the order of the menu: field, value, title.
ROWS: tuple[tuple[str, object, str], ...] = (
    ("staves", "staff and tab", "Staff and tab"),
    ("staves", "staff", "Staff alone"),
    ("staves", "tab", "Tab alone"),
    ("paper", "A4", "Paper A4"),
    ("paper", "Letter", "Paper Letter"),
    ("names", "", "No note names"),
    ("names", "letters", "Note letters in the heads"),
    ("names", "fixed do", "Syllables, fixed do"),
    ("names", "movable do", "Syllables, movable do"),
)

# What is on or off: field and title.
SWITCHES: tuple[tuple[str, str], ...] = (
    ("large_print", "Large print"),
    ("phrase_lines", "A phrase to a line"),
    ("beat_dots", "Dots for strong and weak beats"),
    ("shape_sheet", "Chord shapes on a sheet at the end"),
    ("sounding", "Under a capo write what sounds, not what is fingered"),
)


class PageChoices:
    """Sets and tells them; each choice is one step to undo."""

    def __init__(self, session: Session) -> None:
        self._session = session

    @property
    def settings(self) -> Settings:
        return self._session.lesson.settings

    def choose(self, field: str, value: object) -> None:
        """Set a field of the settings."""
        settings = structs.replace(self.settings, **{field: value})
        self._session.apply(SetSettings(settings), initiator=self)

    def flip(self, field: str) -> None:
        """Set what is on or off to the other."""
        self.choose(field, not getattr(self.settings, field))

    def is_on(self, field: str, value: object = True) -> bool:
        """Whether a field has that value."""
        return bool(getattr(self.settings, field) == value)
