"""The sign words for notes, rests, and the lines between notes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from app.signs import reading
from app.signs.events import MarkSign, NoMark, PauseSign, RestSign
from app.signs.here import Sign
from app.signs.lines import BarreSign, LineKind, LineSign, NoLine
from app.signs.notes import (
    AccidentalSign,
    AlternativeSign,
    BendSign,
    ExchangeSign,
    GraceSign,
    HarmonicSign,
    NoGrace,
    NoteSign,
    Off,
    PluckSign,
    RefuseSign,
    SubstituteSign,
)
from app.signs.word import Word, alone, needed
from core.edit.marks import DYNAMICS
from core.model import (
    Arpeggio,
    Articulation,
    Breath,
    Dynamic,
    Fermata,
    Finger,
    Fingering,
    Place,
    Pluck,
)

ARTICULATIONS = (
    ("staccato", "short"), ("staccatissimo", "very short"), ("accent", "stressed"),
    ("strong accent", "strongly stressed"), ("tenuto", "held its full length"),
    ("vibrato", "on this note"), ("damp", "stop the strings here"),
)  # fmt: skip
ARPEGGIO, COMMA = Arpeggio(), Breath()


def note_rows() -> Iterator[Word]:
    """Events, then single notes, then what reaches from one to another."""
    yield from _event_rows()
    yield from _note_rows()
    yield from _hand_rows()
    yield from _line_rows()


def _event_rows() -> Iterator[Word]:
    for kind, about in ARTICULATIONS:
        mark = Articulation(kind)  # type: ignore[arg-type]
        yield alone(kind, MarkSign(mark), about, NoMark(mark))
    for text in DYNAMICS:
        yield alone(text, MarkSign(Dynamic(text)), "dynamic")
    dynamic = NoMark(Dynamic("p"))
    yield alone("no dynamic", dynamic, "takes the dynamic off")
    broken = NoMark(ARPEGGIO)
    yield alone("arpeggio", MarkSign(ARPEGGIO), "break the chord", broken)
    yield alone("arpeggio up", MarkSign(Arpeggio("up")), "break it upwards, with an arrow", broken)
    yield alone("arpeggio down", MarkSign(Arpeggio("down")), "break it downwards", broken)
    yield alone("roll", MarkSign(Arpeggio(roll=True)), "quickly with the fingers", broken)
    yield Word("pause", "a fermata: short, long, once (the last time only)", pause, "pause long",
               NoMark(Fermata()), ("fermata",))  # fmt: skip
    yield alone("comma", MarkSign(COMMA), "a breath after it", NoMark(COMMA), ("breath",))
    yield alone("caesura", MarkSign(Breath("caesura")), "a break after it", NoMark(COMMA))
    yield alone("hide rest", RestSign(), "its time stays; once more shows it")
    yield Word("rest height", "steps above or below the middle line", height, "rest height -2",
               RestSign(hide=False))  # fmt: skip


def pause(rest: str) -> Sign:
    """``short``, ``long``, ``once``, ``below``, and how long it is held: ``150 %``."""
    words = rest.lower().replace("%", " ").split()
    known = {"short", "long", "once", "below"}
    figures = [word for word in words if word not in known]
    if len(figures) > 1 or {"short", "long"} <= set(words) or len(words) != len(set(words)):
        raise ValueError(rest)
    shape: Literal["normal", "angled", "square"] = "normal"
    if "short" in words or "long" in words:
        shape = "angled" if "short" in words else "square"
    hold = reading.whole(figures[0]) if figures else Fermata().hold_percent
    return PauseSign(Fermata(shape, "below" in words, hold, "once" in words))


def height(rest: str) -> Sign:
    """Steps from the middle line."""
    if not re.fullmatch(r"[+-]?[0-9]{1,2}", rest):
        raise ValueError(rest)
    return RestSign(hide=False, line=int(rest))


def _note_rows() -> Iterator[Word]:
    yield alone("let ring", NoteSign("let_ring"), "beyond its written value",
                NoteSign("let_ring", off=True))  # fmt: skip
    yield alone("circle", NoteSign("circled"), "its string in a circle",
                NoteSign("circled", off=True), ("circled string",))  # fmt: skip
    yield alone("guide", NoteSign("guide"), "the finger comes along the string",
                NoteSign("guide", off=True), ("guide finger",))  # fmt: skip
    yield alone("small", NoteSign("small"), "a small head", NoteSign("small", off=True),
                ("small note",))  # fmt: skip
    usual = AccidentalSign("auto")
    yield alone("courtesy", AccidentalSign("courtesy"), "the accidental in brackets", usual,
                ("courtesy accidental",))  # fmt: skip
    yield alone("editorial", AccidentalSign("editorial"), "the accidental above the note", usual,
                ("editorial accidental",))  # fmt: skip
    yield alone("hidden accidental", AccidentalSign("hidden"), "not shown", usual)
    yield alone("usual accidental", usual, "by the rules")
    yield Word("grace", "a grace note before it: a name or a place", grace, "grace D4", NoGrace())


def grace(rest: str) -> Sign:
    """A note's name with octave, or a place."""
    if re.fullmatch(r"[sS]\d{1,2}[fF]\d{1,2}", rest):
        return GraceSign(None, Place.parse(rest.lower()))
    return GraceSign(reading.pitch(rest))


def _hand_rows() -> Iterator[Word]:
    yield Word("pluck", "letters p i m a c, one for each note in turn", pluck, "pluck p i m",
               Off("plucking"))  # fmt: skip
    harmonic = Off("harmonic")
    yield Word("harmonic", "touched at a fret, the string open", natural, "harmonic 12", harmonic)
    yield Word("artificial harmonic", "touched at a fret, another one stopped", artificial,
               "artificial harmonic 14", harmonic)  # fmt: skip
    yield Word("bend", "by semitones", bend, "bend 1/2", Off("bend"))
    yield Word("change to", "another finger, put down while the note sounds", change,
               "change to 3", None, ("substitute",))  # fmt: skip
    yield alone("no change", Off("substitute"), "takes the change of finger off")
    yield Word("or", "another way to finger it: finger, place, why", other,
               "or 4 s2f3 keeps the bass", None, ("alternative",))  # fmt: skip
    yield alone("no alternative", Off("alternative"), "takes the other fingering off", None,
                ("no or",))  # fmt: skip
    yield alone("exchange alternative", ExchangeSign(), "the other way becomes the first")
    yield alone("no suggestion", RefuseSign(), "takes off what is only suggested")


def pluck(rest: str) -> Sign:
    """Letters, parted or not: ``p``, ``pim``, ``p i m a``."""
    letters = re.sub(r"[\s,]", "", needed(rest).lower())
    return PluckSign(tuple(Pluck(letter) for letter in letters))


def natural(rest: str) -> Sign:
    """The fret that is touched; none: the twelfth."""
    return HarmonicSign("natural", reading.fret(rest) if rest else None)


def artificial(rest: str) -> Sign:
    """The fret that is touched; none: an octave above what is stopped."""
    return HarmonicSign("artificial", reading.fret(rest) if rest else None)


def bend(rest: str) -> Sign:
    """So many semitones."""
    return BendSign(reading.part(rest))


def change(rest: str) -> Sign:
    """A finger."""
    return SubstituteSign(reading.finger(rest))


def other(rest: str) -> Sign:
    """A finger, a place, or both, and why."""
    words = needed(rest).split()
    finger = Finger(words.pop(0).upper()) if re.fullmatch(r"[0-4tT]", words[0]) else None
    place = None
    if words and re.fullmatch(r"[sS]\d{1,2}[fF]\d{1,2}", words[0]):
        place = Place.parse(words.pop(0).lower())
    if finger is None and place is None:
        raise ValueError(rest)
    return AlternativeSign(Fingering(place, finger, " ".join(words)))


LINES: tuple[tuple[str, LineKind, str, tuple[str, ...]], ...] = (
    ("slur", "slur", "one stroke, or one breath", ()),
    ("phrase", "phrase", "a phrase as a bow", ()),
    ("hammer-on", "hammer-on", "to a higher note on the string", ()),
    ("pull-off", "pull-off", "to a lower note on the string", ()),
    ("slide", "slide", "along the string", ()),
    ("crescendo", "crescendo", "a hairpin, louder", ()),
    ("diminuendo", "diminuendo", "a hairpin, softer", ("decrescendo",)),
    ("string line", "string", "these notes stay on one string", ()),
    ("let ring line", "let ring", "over these notes", ()),
    ("vibrato line", "vibrato", "over these notes", ()),
)


def _line_rows() -> Iterator[Word]:
    for name, kind, about, also in LINES:
        yield alone(name, LineSign(kind), about, NoLine(kind), also)
    slower = LineSign("tempo", "rit.")
    yield alone("rit line", slower, "slower over these notes", NoLine("tempo"))
    faster = LineSign("tempo", "accel.")
    yield alone("accel line", faster, "faster over these notes", NoLine("tempo"))
    yield alone("dotted slur", LineSign("slur", dotted=True), "a slur that may be left out",
                NoLine("slur"))  # fmt: skip
    barre = NoLine("barre")
    yield Word("barre", "across every string, at a fret", full_barre, "barre 2", barre)
    yield Word("half barre", "fret, how many strings, from which", half_barre,
               "half barre 2 4 strings", barre)  # fmt: skip
    yield Word("hinge barre", "only its upper strings pressed", hinge_barre, "hinge barre 2", barre)


def full_barre(rest: str) -> Sign:
    """A fret."""
    return BarreSign(reading.fret(rest))


def hinge_barre(rest: str) -> Sign:
    """A fret."""
    return BarreSign(reading.fret(rest), hinge=True)


def half_barre(rest: str) -> Sign:
    """``2``, ``2 4 strings``, ``V 3 strings from string 4``; else three strings."""
    found = re.fullmatch(
        r"(\S+)(?:\s+([0-9]{1,2})(?:\s+strings?)?)?(?:\s+from\s+(?:string\s+)?([0-9]{1,2}))?",
        rest.lower(),
    )
    if found is None:
        raise ValueError(rest)
    strings = int(found[2] or 3)
    return BarreSign(reading.fret(found[1]), strings, int(found[3]) if found[3] else None)
