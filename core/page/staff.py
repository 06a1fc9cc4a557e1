"""The staff as a ruler: positions in steps from the middle line, y in spaces from the top line.

Guitar music is written an octave above its sound (common practice, no source), so the middle
line, a written B4, sounds B3. With a capo on, pitches come here as they are fingered
(`core.page.fingered`): then that B3 is heard as many semitones higher as the capo stands.
"""

from __future__ import annotations

from core.model import Pitch

STAFF_HEIGHT = 4.0
MIDDLE_LINE = 27  # Pitch.diatonic of the SOUNDING pitch on the middle line: B3 = 7 * 3 + 6
TAB_GAP = 1.5  # spaces between tab lines: our own choice, engraving.md


def position(pitch: Pitch) -> int:
    """Steps above the middle line of a sounding pitch as it is written."""
    return pitch.diatonic - MIDDLE_LINE


def y_of(steps: int) -> float:
    """Spaces below the top line."""
    return 2.0 - steps * 0.5


def diatonic_at(y: float) -> int:
    """The inverse: `Pitch.diatonic` of the sounding pitch that is drawn at y."""
    return MIDDLE_LINE + round((2.0 - y) * 2)


def leger_lines(steps: int) -> range:
    """The positions of the leger lines a head needs: none inside the staff and just outside it."""
    if steps >= 6:
        return range(6, steps + 1, 2)
    if steps <= -6:
        return range(-6, steps - 1, -2)
    return range(0)


def tab_height(strings: int) -> float:
    """Spaces between the outer lines of the tab."""
    return (strings - 1) * TAB_GAP


def tab_y(string: int) -> float:
    """Spaces below the top tab line; string 1 on top."""
    return (string - 1) * TAB_GAP


KEY_SHARPS = (4, 1, 5, 2, -1, 3, 0)  # F C G D A E B in the treble clef, steps from the middle line
KEY_FLATS = (0, 3, -1, 2, -2, 1, -3)  # B E A D G C F
STEP_ORDER_SHARPS = "FCGDAEB"
STEP_ORDER_FLATS = "BEADGCF"
