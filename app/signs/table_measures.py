"""The sign words for measures: above them, after them, on the road map, and their other music."""

from __future__ import annotations

from collections.abc import Iterator

from app.signs import reading
from app.signs.here import Sign
from app.signs.lines import NoTalk, RetalkSign, TalkSign
from app.signs.measures import (
    BarlineSign,
    EmptySign,
    LineBreakSign,
    MeasureMarkSign,
    MetronomeSign,
    NoMeasureMark,
    RewordSign,
    RoadSign,
    VersionSign,
)
from app.signs.shapes import chord
from app.signs.word import Word, alone, needed
from core.edit.form import SIGN_KINDS
from core.edit.versions import Purpose
from core.model import SIGN_WORDS, PositionMark, TempoMark, TextMark

PURPOSES: tuple[Purpose, ...] = ("easier", "harder", "second time")
LONG_ROAD = {
    "segno": ("the sign to come back to", ()), "coda": ("where the end begins", ()),
    "fine": ("the end", ()), "to coda": ("go to the coda from here", ()),
    "dc": ("from the beginning", ("da capo",)),
    "dc al fine": ("from the beginning to Fine", ("da capo al fine",)),
    "dc al coda": ("from the beginning to the coda", ("da capo al coda",)),
    "ds": ("from the sign", ("dal segno",)),
    "ds al fine": ("from the sign to Fine", ("dal segno al fine",)),
    "ds al coda": ("from the sign to the coda", ("dal segno al coda",)),
}  # fmt: skip


def measure_rows() -> Iterator[Word]:
    """Marks of a moment, barlines, the road map, talking points, other versions."""
    yield from _moment_rows()
    yield from _barline_rows()
    for kind in SIGN_KINDS:
        about, also = LONG_ROAD[kind]
        yield alone(kind, RoadSign(kind), f"{SIGN_WORDS[kind]}, {about}",  # type: ignore[arg-type]
                    RoadSign(kind, off=True), also)  # type: ignore[arg-type]  # fmt: skip
    yield Word("say", "a talking point over the measures", say, "say Listen to the bass")
    yield alone("no talk", NoTalk(), "takes the talking points here off", None, ("no say",))
    yield Word("change talk to", "other words for the talking point here", retalk,
               "change talk to Wait for it")  # fmt: skip
    yield alone("empty measure", EmptySign(), "takes notes and rests out")
    yield from _version_rows()


def _moment_rows() -> Iterator[Word]:
    yield Word("chord", "frets from the lowest string, and fingers if you like", chord,
               "chord Am x02310", NoMeasureMark("chord"))  # fmt: skip
    text = NoMeasureMark("text")
    yield Word("text", "words above the staff", above, "text dolce", text)
    yield Word("text below", "words below the staff", below, "text below dolce", text)
    yield Word(
        "change text to", "other words for the text here", reword, "change text to cantabile"
    )
    yield Word("position", "where the first finger is", position, "position 5",
               NoMeasureMark("position"))  # fmt: skip
    none = NoMeasureMark("tempo")
    yield Word("tempo", "from here on: words, beat, figure", metronome, "tempo quarter 72", none)
    yield _tempo_word("slower", "rit.", "slower", ("rit", "ritardando", "rallentando"))
    yield _tempo_word("faster", "accel.", "faster", ("accel", "accelerando"))
    yield _tempo_word("a tempo", "a tempo", "a tempo", ())


def _tempo_word(name: str, text: str, effect: str, also: tuple[str, ...]) -> Word:
    mark = TempoMark(text=text, effect=effect)  # type: ignore[arg-type]
    return alone(name, MeasureMarkSign(mark), "from here on", NoMeasureMark("tempo"), also)


def above(rest: str) -> Sign:
    """Words."""
    return MeasureMarkSign(TextMark(needed(rest)))


def below(rest: str) -> Sign:
    """Words."""
    return MeasureMarkSign(TextMark(needed(rest), below=True))


def reword(rest: str) -> Sign:
    """Words."""
    return RewordSign(needed(rest))


def position(rest: str) -> Sign:
    """A fret."""
    return MeasureMarkSign(PositionMark(reading.fret(rest)))


def metronome(rest: str) -> Sign:
    """Words, a beat and a figure."""
    return MetronomeSign(*reading.tempo(needed(rest)))


def say(rest: str) -> Sign:
    """Words."""
    return TalkSign(needed(rest))


def retalk(rest: str) -> Sign:
    """Words."""
    return RetalkSign(needed(rest))


def _barline_rows() -> Iterator[Word]:
    usual = BarlineSign("")
    yield alone("single barline", BarlineSign("single"), "after the measure", usual)
    yield alone("double barline", BarlineSign("double"), "after the measure", usual)
    yield alone("final barline", BarlineSign("final"), "after the measure", usual)
    yield alone("dashed barline", BarlineSign("dashed"), "after the measure", usual)
    yield alone("invisible barline", BarlineSign("none"), "after the measure", usual)
    yield alone("usual barline", usual, "as the form wants it")
    yield alone("line break", LineBreakSign(), "a new line after the measure",
                LineBreakSign(off=True))  # fmt: skip


def _version_rows() -> Iterator[Word]:
    for purpose in PURPOSES:
        yield alone(f"keep as {purpose}", VersionSign("keep", purpose),
                    "a copy of this music, to change and exchange")  # fmt: skip
    for purpose in PURPOSES:
        yield alone(f"exchange {purpose}", VersionSign("exchange", purpose),
                    f"this music with the one kept as {purpose}")  # fmt: skip
    for purpose in PURPOSES:
        yield alone(f"drop {purpose}", VersionSign("drop", purpose), "no longer kept")
