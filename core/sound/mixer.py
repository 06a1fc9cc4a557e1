"""Timeline and note bank -> samples. Stateless: any cut into blocks gives the same bits.

Gain rule: a single note at velocity 127 peaks at `LEVEL`, usual play (mf) near a third of that;
whatever the sum of strings and clicks, a knee above `KNEE` bends it so that it stays below
`CEILING`. Six strings struck hard together just touch the knee. The level is kept low for ears.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np

from core.sound.bank import NoteBank
from core.sound.strings import Samples
from core.sound.timeline import Stroke, Timeline

LEVEL = 0.25
KNEE = 0.70
CEILING = 0.97
CLICK_LEVEL = 0.30


def render(timeline: Timeline, bank: NoteBank, s0: int, s1: int) -> Samples:
    """Samples `s0` up to (not with) `s1` of a timeline: mono float32 between -1 and 1.

    Silence before its start and after its end. Raises ValueError when the bank's rate is another.
    """
    if bank.rate != timeline.rate:
        raise ValueError(f"the bank holds {bank.rate} samples a second, not {timeline.rate}")
    out: Samples = np.zeros(max(0, s1 - s0), dtype=np.float32)
    _add_strokes(out, timeline, bank, s0, min(s1, timeline.total))
    _add_clicks(out, timeline, bank, s0, s1)
    return bend(out)


def _add_strokes(out: Samples, timeline: Timeline, bank: NoteBank, s0: int, s1: int) -> None:
    strokes = timeline.strokes
    first = bisect_left(strokes, s0 - timeline.longest, key=lambda s: s.on)
    last = bisect_left(strokes, s1, key=lambda s: s.on)
    for stroke in strokes[first:last]:
        if stroke.end > s0:
            _add_stroke(out, stroke, bank, s0, s1)


def _add_stroke(out: Samples, stroke: Stroke, bank: NoteBank, s0: int, s1: int) -> None:
    begin, end = max(stroke.on, s0), min(stroke.end, s1)
    sound = bank.note(stroke.key)[begin - stroke.on : end - stroke.on] * np.float32(
        stroke.gain * LEVEL
    )
    if end > stroke.off:
        start = max(begin, stroke.off)
        curve = bank.fade(stroke.end - stroke.off)
        sound[start - begin :] *= curve[start - stroke.off : end - stroke.off]
    out[begin - s0 : end - s0] += sound


def _add_clicks(out: Samples, timeline: Timeline, bank: NoteBank, s0: int, s1: int) -> None:
    clicks = timeline.clicks
    length = bank.click(0).size
    first = bisect_left(clicks, s0 - length, key=lambda c: c.on)
    for click in clicks[first : bisect_left(clicks, s1, key=lambda c: c.on)]:
        begin, end = max(click.on, s0), min(click.on + length, s1)
        if end > begin:
            sound = bank.click(click.rank)[begin - click.on : end - click.on]
            out[begin - s0 : end - s0] += sound * np.float32(click.gain * CLICK_LEVEL)


def bend(samples: Samples) -> Samples:
    """Leave what is below `KNEE`, bend what is above towards `CEILING`; no memory, no clipping."""
    size = np.abs(samples)
    if not samples.size or float(size.max()) <= KNEE:
        return samples
    over = np.maximum(size - np.float32(KNEE), np.float32(0))
    room = np.float32(CEILING - KNEE)
    bent = np.minimum(size, np.float32(KNEE)) + room * (over / (over + room))
    return np.copysign(bent, samples).astype(np.float32)
