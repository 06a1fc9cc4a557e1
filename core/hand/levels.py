"""What the three levels allow the left hand. House defaults, no published numbers."""

from __future__ import annotations

from core.model import BadInput, HandProfile, LevelContract

LEVELS = {
    1: LevelContract(),
    2: LevelContract(level=2, highest_fret=9, highest_position=7, most_notes=4, barre=True),
    3: LevelContract(level=3, highest_fret=14, highest_position=11, most_notes=6, barre=True),
}

PAIR_NAMES = ("12", "13", "14", "23", "24", "34")


def hand_from_text(text: str) -> HandProfile:
    """Six spans in millimetres: ``60,85,110,46,73,48``. Raises BadInput."""
    try:
        spans = [float(part) for part in text.split(",")]
    except ValueError:
        spans = []
    if len(spans) != len(PAIR_NAMES) or not all(20 <= mm <= 200 for mm in spans):
        raise BadInput(
            f"{text} is no hand; write six spans in mm, each from 20 to 200, for fingers "
            "1-2, 1-3, 1-4, 2-3, 2-4, 3-4, such as 60,85,110,46,73,48."
        )
    return HandProfile(dict(zip(PAIR_NAMES, spans, strict=True)))  # type: ignore[arg-type]
