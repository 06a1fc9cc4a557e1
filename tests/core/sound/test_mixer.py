"""The mix: the same bits however it is cut, no clicks, no clipping, silence outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.model import Dynamic
from core.sound import Plan, timeline
from core.sound.bank import NoteBank
from core.sound.mixer import CEILING, KNEE, bend, render
from core.sound.strings import NoteKey
from core.sound.timeline import Timeline
from tests import build
from tests.core.sound import lessons
from tests.core.sound.hearing import high_band_db

RATE = 48_000
BANK = NoteBank(RATE)
TUNE = build.lesson(
    ["C4s2f1!1:eighth E4s1f0:eighth G4s1f3!3:quarter B3s2f0:half | C3s5f3!3:half G2s6f3:half",
     "C5s1f8:16th B4s1f7:16th A4:eighth G4s1f3:half. | C3s5f3:whole"]
)  # fmt: skip
LINE = timeline(TUNE, Plan(count_in=1, click=True, per_minute=132), RATE)
WHOLE = render(LINE, BANK, 0, LINE.total)


@pytest.mark.parametrize("block", [64, 441, 1024, 5000])
def test_block_sizes_are_bit_identical(block: int) -> None:
    cuts = range(0, LINE.total, block)
    joined = np.concatenate([render(LINE, BANK, s, min(s + block, LINE.total)) for s in cuts])
    assert joined.tobytes() == WHOLE.tobytes()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, LINE.total), st.integers(0, 9000))
def test_any_range_is_the_same_bits(start: int, length: int) -> None:
    end = min(start + length, LINE.total)
    assert render(LINE, BANK, start, end).tobytes() == WHOLE[start:end].tobytes()


def test_a_small_bank_gives_the_same_bits() -> None:
    """The bank forgets notes when it is full, and makes them again just so."""
    small = NoteBank(RATE, most_bytes=600_000)
    assert render(LINE, small, 0, LINE.total).tobytes() == WHOLE.tobytes()


def test_silence_before_and_after() -> None:
    assert not render(LINE, BANK, -500, -10).any()
    assert not render(LINE, BANK, LINE.total, LINE.total + 500).any()
    around = render(LINE, BANK, -100, 200)
    assert around[100:].tobytes() == WHOLE[:200].tobytes()


def test_a_bank_of_another_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="44100"):
        render(LINE, NoteBank(44_100), 0, 10)


def test_notes_are_read_only_and_start_and_end_in_silence() -> None:
    sound = BANK.note(NoteKey(220.0, 3, 2, 4))
    assert not sound.flags.writeable
    assert abs(sound[0]) < 1e-3
    assert abs(sound[-1]) < 1e-4
    assert np.abs(sound).max() == pytest.approx(1.0)


def test_note_ends_do_not_click() -> None:
    """A hard cut spreads over the whole spectrum; our fade stays far below it above 6 kHz."""
    line = timeline(build.lesson(["E2s6f0:quarter r:half."]), Plan(per_minute=120), RATE)
    held = timeline(build.lesson(["E2s6f0:whole"]), Plan(per_minute=120), RATE)
    off = line.strokes[0].off
    faded = render(line, BANK, off - 2048, off + 6144).astype(np.float64)
    cut = render(held, BANK, off - 2048, off + 6144).astype(np.float64)
    cut[2048:] = 0
    assert high_band_db(faded, RATE, 6000) < high_band_db(cut, RATE, 6000) - 30


def _restrike(line: Timeline, at: int) -> float:
    return high_band_db(render(line, BANK, at - 1024, at + 1024).astype(np.float64), RATE, 9500)


def test_a_choked_string_does_not_click() -> None:
    """Striking a sounding string again is no harsher than striking it at rest (above all partials,
    9.5 kHz, to 3 dB)."""
    again = timeline(build.lesson(["E2s6f0:quarter F2s6f1:half."]), Plan(), RATE)
    rested = timeline(build.lesson(["r:quarter F2s6f1:half."]), Plan(), RATE)
    assert _restrike(again, RATE) < _restrike(rested, RATE) + 3


def test_nothing_clips_even_when_everything_is_struck_hard() -> None:
    chord = "E2s6f0+B2s5f2+E3s4f2+G#3s3f1+B3s2f0+E4s1f0:whole"
    tune = lessons.with_event(build.lesson([chord]), 0, 0, marks=(Dynamic("fff"),))
    line = timeline(tune, Plan(click=True), RATE)
    peak = float(np.abs(render(line, BANK, 0, line.total)).max())
    assert 0.3 < peak <= CEILING
    crowd = np.linspace(-40, 40, 999, dtype=np.float32)
    assert np.abs(bend(crowd)).max() < CEILING
    assert (np.diff(bend(crowd)) >= 0).all()
    quiet = np.linspace(-KNEE, KNEE, 99, dtype=np.float32)
    assert (bend(quiet) == quiet).all()


def test_usual_play_is_kept_low_for_ears() -> None:
    """A melody at mf peaks between -26 and -12 dB of full scale (our rule)."""
    line = timeline(build.lesson(["C4s2f1:quarter E4s1f0:quarter G4s1f3:half"]), Plan(), RATE)
    peak_db = 20 * np.log10(np.abs(render(line, BANK, 0, line.total)).max())
    assert -26 < peak_db < -12


def test_louder_is_brighter() -> None:
    """The share of the upper partials grows with the layer."""

    def share(layer: int) -> float:
        spectrum = np.abs(np.fft.rfft(BANK.note(NoteKey(110.0, 5, 0, layer))[:RATE])) ** 2
        hz = np.fft.rfftfreq(RATE, 1 / RATE)
        return float(spectrum[hz > 1000].sum() / spectrum.sum())

    shares = [share(layer) for layer in range(8)]
    assert shares == sorted(shares)


def test_every_onset_is_on_its_sample() -> None:
    """Each click begins exactly where the timeline says, seen in the samples."""
    line = timeline(build.lesson(["r:whole"] * 2), Plan(click=True, per_minute=97), RATE)
    sound = render(line, BANK, 0, line.total)
    for number, click in enumerate(line.clicks):
        assert click.on == round(number * 60 * RATE / 97)
        begin = max(click.on - 3, 0)
        first = begin + int(np.flatnonzero(sound[begin : click.on + 100])[0])
        assert first == click.on + 1  # a sine starts at zero
