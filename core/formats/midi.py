"""Standard MIDI files (SMF 1.1): the piece as it is played, repeats and jumps written out.

Format 1, 480 ticks a quarter: a conductor track (tempo, metre, key signature, section markers) and
a track for each voice, on General MIDI program 25 (data byte 24), nylon guitar. Lengths are the
written ones, ties joined; a note ends one tick early so that repeated notes stay apart.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

import mido

from core.model import TICKS_PER_QUARTER, TICKS_PER_WHOLE, Key, Lesson, Measure
from core.sound.performance import Performance, perform
from core.sound.plan import OneSection, Plan, Whole

PPQ = 480
NYLON_GUITAR = 24
# Names of voices that no reader takes for a singer's.
_VOICES = ("Guitar, voice 1", "Guitar, voice 2", "Guitar, voice 3", "Guitar, voice 4")


def write(lesson: Lesson, section_id: int | None = None, percent: float = 100.0) -> bytes:
    """The whole lesson, or one section with its repeats, as a MIDI file.

    `percent` is of the goal tempo. Fermatas and rit. are heard as slower tempo. Raises BadInput
    when the section is not there or the road map has no end.
    """
    what = Whole() if section_id is None else OneSection(section_id)
    performance = perform(lesson, Plan(what, percent=percent))
    file = mido.MidiFile(type=1, ticks_per_beat=PPQ, charset="utf-8")
    end = _ticks(performance.end)
    file.tracks.append(_track(lesson.title, _conductor(lesson, performance), end))
    voices = sorted({note.voice for note in performance.notes}) or [0]
    for channel, voice in enumerate(voices):
        file.tracks.append(_track(_VOICES[voice], _voice(performance, voice, channel), end))
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


def _ticks(ticks: int) -> int:
    """Model ticks as MIDI ticks, each rounded by itself so that nothing drifts."""
    return (ticks * PPQ + TICKS_PER_QUARTER // 2) // TICKS_PER_QUARTER


def _track(name: str, events: Iterator[tuple[int, int, object]], end: int) -> mido.MidiTrack:
    """A track from (tick, rank, message): lower ranks come first at the same tick."""
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name, time=0)])
    now = 0
    for tick, _, message in sorted(events, key=lambda e: e[:2]):
        track.append(message.copy(time=tick - now))  # type: ignore[attr-defined]
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - now)))
    return track


def _conductor(lesson: Lesson, performance: Performance) -> Iterator[tuple[int, int, object]]:
    for stretch in performance.tempo.stretches:
        micros = min(round(10**6 * TICKS_PER_QUARTER / stretch.speed), 0xFFFFFF)
        yield _ticks(stretch.tick), 2, mido.MetaMessage("set_tempo", tempo=micros)
    sections = lesson.arrangement.sections
    metre, key, section = None, None, None
    for heard in performance.heard:
        measure, tick = heard.occurrence.measure, _ticks(heard.start)
        if (shown := _metre(measure)) != metre:
            metre = shown
            yield tick, 0, mido.MetaMessage("time_signature", **shown)
        if measure.key != key:
            key = measure.key
            yield tick, 1, mido.MetaMessage("key_signature", key=_key_name(key))
        if heard.occurrence.section != section:
            section = heard.occurrence.section
            text = sections[section].letter or sections[section].title or str(section + 1)
            yield tick, 3, mido.MetaMessage("marker", text=text)


def _metre(measure: Measure) -> dict[str, int]:
    """The metre's bytes: the metronome clicks on the felt beat, 24 MIDI clocks to the quarter.

    A pickup or split measure is told as a metre of its own length, so that barlines stay true.
    """
    clocks = measure.metre.pulse_ticks[0] * 96 // TICKS_PER_WHOLE
    beats, unit = measure.metre.beats, measure.metre.unit
    while measure.length_ticks != measure.metre.ticks and unit <= 64:
        beats, left = divmod(measure.length_ticks * unit, TICKS_PER_WHOLE)
        if not left and beats < 256:
            break
        unit *= 2
    else:
        beats, unit = measure.metre.beats, measure.metre.unit
    return {
        "numerator": beats,
        "denominator": unit,
        "clocks_per_click": max(1, min(clocks, 255)),
        "notated_32nd_notes_per_beat": 8,
    }


def _key_name(key: Key) -> str:
    """MIDI knows major and minor alone: other modes are given as the major of their signature."""
    minor = key.mode in ("minor", "aeolian")
    named = key if minor else Key(key.fifths)
    return named.tonic + ("m" if minor else "")


def _voice(performance: Performance, voice: int, channel: int) -> Iterator[tuple[int, int, object]]:
    yield 0, 0, mido.Message("program_change", channel=channel, program=NYLON_GUITAR)
    for played in performance.notes:
        if played.voice != voice or not 0 <= played.note.pitch.midi <= 127:
            continue
        start = _ticks(played.start)
        end = _ticks(played.start + int((played.end - played.start) * played.sounding)) - 1
        pitch = played.note.pitch.midi
        yield (
            start,
            2,
            mido.Message("note_on", channel=channel, note=pitch, velocity=played.velocity),
        )
        yield (
            max(end, start + 1),
            1,
            mido.Message("note_off", channel=channel, note=pitch, velocity=64),
        )
