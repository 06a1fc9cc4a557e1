"""The plain list that lies in every kit: what each file is, from which version, and with care."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from core.model import STANDARD, Instrument, Lesson

LIST = "contents.txt"
MOST_BYTES = 1_000_000

CAUTIONS = (
    "Stop if it hurts, and rest. If the pain comes back, see a doctor before playing on.",
    "Listen at moderate volume, above all with headphones.",
    "To change the tuning, let strings down, slowly; never tune one above its usual note.",
    "Where your teacher or doctor says otherwise, follow them.",
)


def contents(lesson: Lesson, rows: Sequence[tuple[str, str]], stamp: str, date: str) -> str:
    """The text of the list; `rows` are (file name, what it is)."""
    width = max((len(name) for name, _ in rows), default=0)
    lines = [lesson.title or "Lesson", *_credits(lesson), ""]
    lines += [f"Lesson version {stamp}, made on {date}"]
    lines += [f"Tuning, string 6 to string 1: {tuning(lesson.arrangement.instrument)}", ""]
    lines += [f"{name:<{width}}  {what}" for name, what in rows]
    lines += ["", "Take care", *(f"- {caution}" for caution in CAUTIONS), ""]
    return "\n".join(lines)


def listed_in(path: Path) -> frozenset[str]:
    """The files that a list of contents names, itself too; empty where there is no such list."""
    try:
        with path.open("rb") as file:
            lines = file.read(MOST_BYTES).decode(errors="replace").splitlines()
    except OSError:
        return frozenset()
    heads = [n for n, line in enumerate(lines) if line.startswith("Tuning, string ")]
    if not heads or not lines[heads[0] - 1].startswith("Lesson version "):
        return frozenset()
    rows = lines[heads[0] + 2 :]
    ends = rows.index("") if "" in rows else len(rows)
    return frozenset({LIST} | {row.partition("  ")[0] for row in rows[:ends]})


def _credits(lesson: Lesson) -> list[str]:
    card = lesson.source
    return [line for line in (card.credit or card.composer, card.rights) if line]


def tuning(instrument: Instrument) -> str:
    """The open strings from the lowest, and what is unusual about them."""
    names = " ".join(str(pitch) for pitch in reversed(instrument.strings))
    remarks = []
    if len(instrument.strings) == len(STANDARD) and not instrument.standard:
        remarks.append("not the usual tuning")
    if instrument.capo:
        remarks.append(f"capo at fret {instrument.capo}")
    return names + (f" ({', '.join(remarks)})" if remarks else "")
