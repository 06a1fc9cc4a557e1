"""File names of the artefacts: plain ASCII, stable, told from title and section letters alone."""

from __future__ import annotations

import re
import unicodedata

from core.model import Arrangement

MOST_LETTERS = 60
_RESERVED = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{d}{n}" for d in ("com", "lpt") for n in range(10)}
)


def slug(text: str, otherwise: str) -> str:
    """Words joined by hyphens: lower case, a to z and figures; `otherwise` where nothing is left.

    Accents are dropped (``é`` becomes ``e``). Names that Windows reserves for devices get a hyphen.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    words = re.findall(r"[a-z0-9]+", plain.replace("'", ""))
    joined = "-".join(words)[:MOST_LETTERS].strip("-")
    return f"{joined}-" if joined in _RESERVED else joined or otherwise


def section_slugs(arrangement: Arrangement) -> dict[int, str]:
    """Section id -> its part of a file name: ``section-a``; the number where a letter is missing.

    Sections with the same letter are told apart by a number: ``section-a``, ``section-a-2``.
    """
    table: dict[int, str] = {}
    used: set[str] = set()
    for number, section in enumerate(arrangement.sections, start=1):
        base = f"section-{slug(section.letter, str(number))}"
        name, count = base, 1
        while name in used:
            count += 1
            name = f"{base}-{count}"
        used.add(name)
        table[section.id] = name
    return table


def section_name(letter: str, title: str, number: int) -> str:
    """What people call a section: ``Section A (Verse)``, ``Section 3``."""
    named = f"Section {letter or number}"
    return f"{named} ({title})" if title else named
