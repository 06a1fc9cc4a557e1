"""Chord shapes as players write them: ``Am x02310``, from the lowest string to the first."""

from __future__ import annotations

import re

from app.signs.measures import ChordSign
from core.model import ChordShape, Finger, ShapeBarre

_LOWEST_TOP_FRET = 4  # a shape up to here is drawn from the nut (common practice, no source)


def chord(text: str) -> ChordSign:
    """``Am``, ``Am x02310``, ``C x32010 x32010`` (fingers), ``x-10-12-12-11-10``.

    Raises ValueError for what is none of these.
    """
    words = text.split()
    name = words.pop(0) if words and not _is_frets(words[0]) else ""
    if len(words) > 2 or (not name and not words):
        raise ValueError(text)
    if not words:
        return ChordSign(name, None)
    frets = _frets(words[0])
    fingers = _fingers(words[1], frets) if len(words) == 2 else ()
    stopped = [fret for fret in frets if fret]
    high = max(stopped, default=0) > _LOWEST_TOP_FRET
    barre = _barre(frets, fingers)
    shape = ChordShape(name, frets, fingers, barre, min(stopped) if high else 1)
    return ChordSign(name, shape)


def _is_frets(word: str) -> bool:
    return bool(
        re.fullmatch(r"[0-9xX]{4,13}|(?:[0-9]{1,2}|[xX])(?:-(?:[0-9]{1,2}|[xX])){3,12}", word)
    )


def _frets(word: str) -> tuple[int | None, ...]:
    """Frets from string 1."""
    if not _is_frets(word):
        raise ValueError(word)
    row = word.split("-") if "-" in word else list(word)
    return tuple(None if fret in "xX" else int(fret) for fret in reversed(row))


def _fingers(word: str, frets: tuple[int | None, ...]) -> tuple[Finger | None, ...]:
    """Fingers from string 1: ``x`` or ``-`` where there is none."""
    if len(word) != len(frets):
        raise ValueError(word)
    return tuple(None if letter in "xX-" else Finger(letter.upper()) for letter in reversed(word))


def _barre(frets: tuple[int | None, ...], fingers: tuple[Finger | None, ...]) -> ShapeBarre | None:
    """The barre of a first finger that stops several strings at one fret."""
    under = [n for n, finger in enumerate(fingers, 1) if finger is Finger.INDEX and frets[n - 1]]
    at = {frets[string - 1] for string in under}
    if len(under) < 2 or len(at) != 1:
        return None
    return ShapeBarre(at.pop() or 1, max(under), min(under))
