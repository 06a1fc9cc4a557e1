"""Writing directions: tempo, words, chords, positions, signs, sections, lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from core.formats.lesson_json import to_text
from core.formats.musicxml_frames import frame_holds, write_harmony
from core.formats.musicxml_lines import LineEnd
from core.formats.musicxml_names import DYNAMICS, numeral, our_text
from core.formats.musicxml_read_direction import plain_words
from core.formats.musicxml_xml import Element, child, leaf
from core.model import (
    SIGN_WORDS,
    TICKS_PER_QUARTER,
    Barre,
    ChordMark,
    Dynamic,
    Event,
    Measure,
    PositionMark,
    Section,
    Sign,
    Tempo,
    TempoMark,
    TextMark,
    Value,
)
from core.model.measure import MeasureMark

LINE_NUMBERS = 16


class Direction:
    """One ``<direction>`` in the order its schema asks for."""

    def __init__(self, measure: Element, placement: str = "above") -> None:
        self.element = child(measure, "direction", {"placement": placement})

    def type(self) -> Element:
        """A new ``<direction-type>``."""
        return child(self.element, "direction-type")

    def words(self, text: str) -> None:
        leaf(self.type(), "words", text)

    def ours(self, word: str, content: object) -> None:
        """An element of ours."""
        leaf(self.type(), "other-direction", our_text(word, content), **{"print-object": "no"})

    def close(self, offset: int = 0, sound: Mapping[str, str] | None = None) -> None:
        """Where it stands (in divisions from here) and what it does to playback."""
        if offset:
            leaf(self.element, "offset", str(offset))
        if sound:
            child(self.element, "sound", sound)


def plain(value: object) -> object:
    """A value of the model as plain JSON values."""
    return msgspec.to_builtins(value, enc_hook=to_text)


# ---------------------------------------------------------------- sections and measures


def write_section(measure: Element, section: Section, told: int) -> None:
    """Where a section begins: its letter and title; its times where the barlines tell others."""
    direction = Direction(measure)
    if section.letter:
        leaf(direction.type(), "rehearsal", section.letter)
    if section.title:
        direction.words(section.title)
    said: dict[str, object] = {}
    if section.letter:
        said["letter"] = section.letter
    if section.title:
        said["title"] = section.title
    if section.times != told:
        said["times"] = section.times
    direction.ours("section", said)
    direction.close()


def write_measure_content(element: Element, measure: Measure, said: Mapping[str, object]) -> None:
    """What the measure is beyond its notes, and its other versions."""
    if said:
        direction = Direction(element)
        direction.ours("measure", said)
        direction.close()
    for version in measure.others:
        direction = Direction(element)
        direction.ours("version", plain(version))
        direction.close()


# ---------------------------------------------------------------- marks


def write_mark(element: Element, mark: MeasureMark, offset: int) -> None:
    """A mark of a measure, so many divisions after the present moment."""
    if isinstance(mark, ChordMark):
        harmony = write_harmony(element, mark.shape)
        if offset:
            leaf(harmony, "offset", str(offset))
        if not frame_holds(mark.shape):
            element.remove(harmony)
            direction = Direction(element)
            direction.words(mark.shape.name)
            direction.ours("chord", {"shape": plain(mark.shape)})
            direction.close(offset)
    elif isinstance(mark, TempoMark):
        _tempo(element, mark, offset)
    elif isinstance(mark, PositionMark):
        direction = Direction(element)
        direction.words(numeral(mark.fret))
        direction.ours("position", {"fret": mark.fret})
        direction.close(offset)
    else:
        _text(element, mark, offset)


def _text(element: Element, mark: TextMark, offset: int) -> None:
    direction = Direction(element, "below" if mark.below else "above")
    direction.words(mark.text)
    if not plain_words(mark.text):
        direction.ours("text", {"text": mark.text})
    direction.close(offset)


def _tempo(element: Element, mark: TempoMark, offset: int) -> None:
    direction = Direction(element)
    if mark.text:
        direction.words(mark.text)
    sound: dict[str, str] = {}
    if mark.beat is not None and mark.per_minute is not None:
        _metronome(direction.type(), mark.beat, mark.per_minute)
        sound["tempo"] = _figure(mark.per_minute * mark.beat.ticks / TICKS_PER_QUARTER)
    said = plain(msgspec.structs.replace(mark, at=TempoMark().at))
    assert isinstance(said, dict)
    said.pop("mark", None)
    direction.ours("tempo", {"mark": "tempo", **said})
    direction.close(offset, sound)


def write_goal(element: Element, tempo: Tempo) -> None:
    """The tempo of the piece, where no mark of the first measure shows it."""
    direction = Direction(element)
    _metronome(direction.type(), tempo.beat, tempo.per_minute, hidden=True)
    beats = tempo.per_minute * tempo.beat.ticks / TICKS_PER_QUARTER
    direction.close(0, {"tempo": _figure(beats)})


def _metronome(parent: Element, beat: Value, per_minute: float, hidden: bool = False) -> None:
    metronome = child(parent, "metronome", {"print-object": "no"} if hidden else {})
    leaf(metronome, "beat-unit", beat.base.value)
    for _ in range(beat.dots):
        child(metronome, "beat-unit-dot")
    leaf(metronome, "per-minute", _figure(per_minute))


def _figure(number: float) -> str:
    """A decimal as XML Schema writes it: no exponent, no needless point."""
    text = f"{number:.9f}".rstrip("0").rstrip(".")
    return text or "0"


def write_dynamics(element: Element, event: Event, voice: int, staff: int) -> None:
    """The dynamics at an event, just before it."""
    for mark in event.marks:
        if isinstance(mark, Dynamic):
            direction = Direction(element, "below")
            dynamics = child(direction.type(), "dynamics")
            if mark.text in DYNAMICS:
                child(dynamics, mark.text)
            else:
                leaf(dynamics, "other-dynamics", mark.text)
            leaf(direction.element, "voice", str(voice + 1))
            if staff:
                leaf(direction.element, "staff", str(staff))
            direction.close()


# ---------------------------------------------------------------- signs of the road map

_SOUNDS = {"segno": {"segno": "segno"}, "coda": {"coda": "coda"}, "fine": {"fine": "yes"},
           "to coda": {"tocoda": "coda"}}  # fmt: skip


def write_sign(element: Element, sign: Sign) -> None:
    """A sign of the road map with its sound."""
    direction = Direction(element)
    if sign.kind in ("segno", "coda"):
        child(direction.type(), sign.kind)
    else:
        direction.words(sign.text or SIGN_WORDS[sign.kind])
    if sign.text:
        direction.ours("sign", {"kind": sign.kind, "text": sign.text})
    if sign.kind.startswith("dc"):
        sound = {"dacapo": "yes"}
    elif sign.kind.startswith("ds"):
        sound = {"dalsegno": "segno"}
    else:
        sound = _SOUNDS[sign.kind]
    direction.close(0, sound)


def at_start(sign: Sign) -> bool:
    """Segno and coda stand at the start of their measure, the others at its end."""
    return sign.kind in ("segno", "coda")


# ---------------------------------------------------------------- lines as directions


def write_lines(element: Element, ends: Sequence[LineEnd], *, starts: bool) -> None:
    """The ends of lines that stand before (or after) an event."""
    for end in ends:
        if end.starts == starts:
            write_line(element, end)


def write_line(element: Element, end: LineEnd) -> None:
    """One end of a line: hairpin, dashes or bracket with words, and our element."""
    span = end.span
    direction = Direction(element, "below" if span.kind in ("crescendo", "diminuendo") else "above")
    if not span.hidden:
        _drawn(direction, end)
    said: dict[str, object] = {"kind": span.kind, "number": end.number, "starts": end.starts}
    if end.note is not None:
        said["note"] = end.note
    if end.starts:
        said |= {
            name: value
            for name, value in (
                ("text", span.text), ("optional", span.optional), ("hidden", span.hidden),
                ("suggested", span.suggested),
            )
            if value
        }  # fmt: skip
        if span.barre is not None:
            said["barre"] = {
                "fret": span.barre.fret, "strings": span.barre.strings,
                "lowest": span.barre.lowest,
            }  # fmt: skip
    direction.ours("span", said)
    direction.close()


def _drawn(direction: Direction, end: LineEnd) -> None:
    span, how = end.span, "start" if end.starts else "stop"
    number = str((end.number - 1) % LINE_NUMBERS + 1)
    if span.kind in ("crescendo", "diminuendo"):
        kind = span.kind if end.starts else "stop"
        child(direction.type(), "wedge", {"type": kind, "number": number})
        return
    words = {
        "barre": barre_words(span.barre) if span.barre else "",
        "let ring": span.text or "let ring",
        "tempo": span.text or "rit.",
    }.get(span.kind)
    if words is None:
        return
    if end.starts:
        direction.words(words)
    if span.kind == "barre":
        ends = {"type": how, "number": number, "line-end": "none" if end.starts else "down"}
        line = {"line-type": "dotted"} if span.optional else {}
        child(direction.type(), "bracket", {**ends, **line})
    else:
        child(direction.type(), "dashes", {"type": how, "number": number})


def barre_words(barre: Barre) -> str:
    """``C III`` for five or six strings, ``1/2C III`` for fewer (common practice, no source)."""
    return f"{'C' if barre.strings >= 5 else '1/2C'} {numeral(barre.fret)}"
