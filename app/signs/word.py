"""One row of the table of sign words."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from app.signs.here import Sign
from core.model import EditRefused


class Word(Struct, frozen=True):
    """A sign by its name.

    `read` makes it of what is typed after the name and may raise ValueError or EditRefused.
    `example` shows the whole where something follows the name. `off` is what ``no NAME`` means,
    `also` are other names for it.
    """

    name: str
    about: str
    read: Callable[[str], Sign]
    example: str = ""
    off: Sign | None = None
    also: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """How it is written."""
        return self.example or self.name


def alone(
    name: str, sign: Sign, about: str, off: Sign | None = None, also: tuple[str, ...] = ()
) -> Word:
    """A word that needs nothing after it."""

    def read(rest: str) -> Sign:
        if rest:
            raise EditRefused(f"{name} stands alone; leave out what follows it.")
        return sign

    return Word(name, about, read, "", off, also)


def needed(text: str) -> str:
    """The text; ValueError where there is none."""
    if not text:
        raise ValueError("nothing follows")
    return text


def normal(text: str) -> str:
    """Words as they are compared: small letters, no dots, a space for each hyphen."""
    return " ".join(text.lower().replace(".", "").replace("-", " ").split())
