"""MIDI files: Standard MIDI File 1.1 (International MIDI Association), format 1, 480 a quarter.

A conductor track (title, metre, key, tempo, section markers), then a track for each voice, in
played order with repeats and jumps written out. Written lengths, not the ring of the strings.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence

import mido

from core.model import TICKS_PER_QUARTER, TICKS_PER_WHOLE, Arrangement, Key, Lesson, Measure, Metre
from core.sound.performance import Heard, Performance, PlayedNote, perform
from core.sound.plan import OneSection, Plan, Whole

PER_QUARTER = 480
NYLON_GUITAR = 24  # counted from 0; General MIDI counts it as 25
# Readers take "bass" and "soprano" for singers: the names say only where the voice lies.
TRACK_NAMES = ("Guitar, upper line", "Guitar, lower line", "Guitar, third line",
               "Guitar, fourth line")  # fmt: skip
_MAJOR_LIKE = ("major", "ionian", "lydian", "mixolydian")

Timed = tuple[int, mido.MetaMessage | mido.Message]


def write(lesson: Lesson, section_id: int | None = None, percent: float = 100.0) -> bytes:
    """The whole lesson, or one section with its repeats, as a MIDI file.

    `percent` is of the goal tempo. Tempo counts quarters whatever the metre, as the file format
    wants it; rit., fermatas and caesuras are tempo changes. A note ends one tick before the next
    could begin, so that repeated notes survive. Raises BadInput when the section is not there.
    """
    what = Whole() if section_id is None else OneSection(section_id)
    performance = perform(lesson, Plan(what, percent=percent, fermatas=True, slowing=True))
    end = _tick(performance.end)
    file = mido.MidiFile(type=1, ticks_per_beat=PER_QUARTER, charset="utf-8")
    conductor = _conductor(lesson.arrangement, performance)
    file.tracks.append(_track(lesson.title or "Untitled", conductor, end))
    voices = sorted({note.voice for note in performance.notes}) or [0]
    for voice in voices:
        rows = [note for note in performance.notes if note.voice == voice and _has_number(note)]
        file.tracks.append(_track(TRACK_NAMES[voice], _voice(voice, rows), end))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _has_number(note: PlayedNote) -> bool:
    """Whether MIDI can say the pitch: its numbers end at 0 and 127, beyond any guitar."""
    return 0 <= note.note.pitch.midi <= 127


def _tick(ticks: int) -> int:
    """Our ticks as ticks of the file, to the nearest."""
    return (2 * ticks * PER_QUARTER + TICKS_PER_QUARTER) // (2 * TICKS_PER_QUARTER)


def _track(name: str, messages: Iterable[Timed], end: int) -> mido.MidiTrack:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=name, time=0))
    now = 0
    for tick, message in sorted(messages, key=lambda timed: timed[0]):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - now)))
    return track


def _conductor(arrangement: Arrangement, performance: Performance) -> Iterator[Timed]:
    metre: Metre | None = None
    key: Key | None = None
    part: tuple[int, int, bool] | None = None
    for heard in performance.heard:
        measure = heard.occurrence.measure
        at = _tick(heard.start)
        here = (heard.occurrence.section, heard.occurrence.time, heard.occurrence.returned)
        if here != part and (name := _marker(arrangement, heard)):
            yield at, mido.MetaMessage("marker", text=name)
        if (current := _metre(measure)) != metre:
            yield at, _metre_message(current)
        if measure.key != key:
            yield at, mido.MetaMessage("key_signature", key=_key_name(measure.key))
        metre, key, part = current, measure.key, here
    for stretch in performance.tempo.stretches:
        micros = round(10**6 * TICKS_PER_QUARTER / stretch.speed)
        yield _tick(stretch.tick), mido.MetaMessage("set_tempo", tempo=min(micros, 2**24 - 1))


def _metre(measure: Measure) -> Metre:
    """The metre that counts a measure: its own length where that is a short or long measure."""
    unit = TICKS_PER_WHOLE // measure.metre.unit
    if measure.length_ticks == measure.metre.ticks:
        return measure.metre
    figure = measure.metre.unit
    while measure.length_ticks % unit and figure < 64:
        figure, unit = figure * 2, unit // 2
    count = measure.length_ticks // unit
    return Metre([count], figure) if 1 <= count <= 64 else measure.metre


def _metre_message(metre: Metre) -> mido.MetaMessage:
    """FF 58 04: upper figure, power of two of the lower, MIDI clocks (24 a quarter) a beat."""
    beat = metre.pulse_ticks[0] if len(metre.groups) == 1 else TICKS_PER_WHOLE // metre.unit
    return mido.MetaMessage(
        "time_signature",
        numerator=metre.beats,
        denominator=metre.unit,
        clocks_per_click=max(1, min(255, beat * 24 // TICKS_PER_QUARTER)),
        notated_32nd_notes_per_beat=8,
    )


def _key_name(key: Key) -> str:
    major = key.mode in _MAJOR_LIKE
    return Key(key.fifths, "major").tonic if major else Key(key.fifths, "minor").tonic + "m"


def _marker(arrangement: Arrangement, heard: Heard) -> str:
    section = arrangement.sections[heard.occurrence.section]
    name = " ".join(part for part in (section.letter, section.title) if part)
    if name and section.times > 1 and not heard.occurrence.returned:
        return f"{name} ({heard.occurrence.time})"
    return name


def _voice(voice: int, rows: Sequence[PlayedNote]) -> Iterator[Timed]:
    yield 0, mido.Message("program_change", channel=voice, program=NYLON_GUITAR)
    offs: list[Timed] = []
    ons: list[Timed] = []
    for note in rows:
        pitch = note.note.pitch.midi
        start = _tick(note.start)
        stop = _tick(note.start + int((note.end - note.start) * note.sounding))
        end = max(start + 1, stop - 1)
        ons.append((start, mido.Message(
            "note_on", channel=voice, note=pitch, velocity=note.velocity)))  # fmt: skip
        offs.append((end, mido.Message("note_off", channel=voice, note=pitch, velocity=64)))
    yield from offs  # before the beginnings at the same tick: the sort is stable
    yield from ons
