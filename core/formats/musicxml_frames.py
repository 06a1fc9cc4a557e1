"""Chord diagrams: ``<harmony>`` with its ``<frame>`` and our chord shapes, both ways."""

from __future__ import annotations

import re

from lxml import etree

from core.formats.musicxml_container import Element
from core.formats.musicxml_xml import child, leaf
from core.model import ChordShape, Finger, ShapeBarre
from core.model.instrument import HIGHEST_FRET

# Chord kinds of MusicXML 4.0 (kind-value) and how they are usually printed after the root.
KINDS = {
    "major": "", "minor": "m", "dominant": "7", "major-seventh": "maj7", "minor-seventh": "m7",
    "diminished": "dim", "diminished-seventh": "dim7", "augmented": "+", "half-diminished": "m7b5",
    "major-minor": "m(maj7)", "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9",
    "major-ninth": "maj9", "minor-ninth": "m9", "suspended-second": "sus2",
    "suspended-fourth": "sus4", "power": "5", "augmented-seventh": "7#5",
    "dominant-11th": "11", "dominant-13th": "13", "major-11th": "maj11", "major-13th": "maj13",
    "minor-11th": "m11", "minor-13th": "m13", "Neapolitan": "N6", "Italian": "It+6",
    "French": "Fr+6", "German": "Ger+6", "pedal": "ped.", "Tristan": "Tristan",
}  # fmt: skip
_BY_PRINT = {printed: kind for kind, printed in reversed(KINDS.items())}
_ALTERS = {"": 0, "#": 1, "b": -1, "##": 2, "bb": -2}
_ALTER_TEXT = {alter: text for text, alter in _ALTERS.items()}
_NAME = re.compile(r"([A-G])(#|b)?([^/]*?)(?:/([A-G])(#|b)?)?", re.DOTALL)
MOST_STRINGS = 13


# ---------------------------------------------------------------- reading


def chord_name(harmony: Element) -> str:
    """The chord as it is printed: ``Am``, ``D7/F#``."""
    root = harmony.find("root")
    kind = harmony.find("kind")
    if root is not None:
        step = root.find("root-step")
        shown = None if step is None else step.get("text")
        name = (step.text or "").strip() if step is not None and shown is None else shown or ""
        if shown is None:
            name += _alter(root.findtext("root-alter"))
    else:
        name = harmony.findtext("function") or harmony.findtext("numeral/numeral-root") or ""
        name = name.strip()
    if kind is not None:
        shown = kind.get("text")
        name += KINDS.get((kind.text or "").strip(), "") if shown is None else shown
    for degree in harmony.iterfind("degree"):
        name += _degree(degree)
    bass = (harmony.findtext("bass/bass-step") or "").strip()
    if bass:
        name += "/" + bass + _alter(harmony.findtext("bass/bass-alter"))
    return name


def _alter(text: str | None) -> str:
    text = (text or "0").strip()
    return _ALTER_TEXT.get(int(float(text)), "") if re.fullmatch(r"-?\d(\.0*)?", text) else ""


def _degree(degree: Element) -> str:
    value = (degree.findtext("degree-value") or "").strip()
    how = (degree.findtext("degree-type") or "add").strip()
    text = _alter(degree.findtext("degree-alter")) + value
    return {"add": "add", "subtract": "no"}.get(how, "") + text if value else ""


def read_frame(frame: Element, name: str) -> ChordShape | None:
    """The shape of a diagram; None where it has no strings or frets we could draw."""
    count = _number(frame.findtext("frame-strings"))
    first = _number(frame.findtext("first-fret")) or 1
    if count is None or not 1 <= count <= MOST_STRINGS:
        return None
    frets: list[int | None] = [None] * count
    fingers: list[Finger | None] = [None] * count
    ends: dict[str, tuple[int, int]] = {}
    for note in frame.iterfind("frame-note"):
        string, fret = _number(note.findtext("string")), _number(note.findtext("fret"))
        if string is None or fret is None or not 1 <= string <= count or fret > HIGHEST_FRET:
            continue
        frets[string - 1] = fret
        text = (note.findtext("fingering") or "").strip()
        fingers[string - 1] = finger_of(text)
        barre = note.find("barre")
        if barre is not None:
            ends[barre.get("type", "")] = (string, fret)
    if all(fret is None for fret in frets):
        return None
    start, stop = ends.get("start"), ends.get("stop")
    bar = None
    if start and stop:
        bar = ShapeBarre(start[1], max(start[0], stop[0]), min(start[0], stop[0]))
    used = tuple(fingers) if any(fingers) else ()
    return ChordShape(name, tuple(frets), used, bar, first)


def finger_of(text: str) -> Finger | None:
    """A left-hand finger as files write it: 0 to 4, T or t for the thumb."""
    text = text.strip().upper()
    return Finger(text) if text in set(Finger) else None


def _number(text: str | None) -> int | None:
    text = (text or "").strip()
    return int(text) if text.isdecimal() and len(text) < 4 else None


# ---------------------------------------------------------------- writing


def write_harmony(parent: Element, shape: ChordShape) -> Element:
    """A ``<harmony>`` for a shape, its frame left out where the standard cannot draw it."""
    harmony = child(parent, "harmony", {"print-frame": "yes"})
    found = _NAME.fullmatch(shape.name)
    root = child(harmony, "root")
    if found is None:
        leaf(root, "root-step", "C", text="")
        leaf(harmony, "kind", "none", text=shape.name)
    else:
        step, sign, rest, bass, bass_sign = found.groups()
        leaf(root, "root-step", step)
        if sign:
            leaf(root, "root-alter", str(_ALTERS[sign]))
        kind = _BY_PRINT.get(rest)
        leaf(harmony, "kind", "other" if kind is None else kind, text=rest)
        if bass:
            element = child(harmony, "bass")
            leaf(element, "bass-step", bass)
            if bass_sign:
                leaf(element, "bass-alter", str(_ALTERS[bass_sign]))
    if frame_holds(shape):
        _write_frame(harmony, shape)
    return harmony


def frame_holds(shape: ChordShape) -> bool:
    """Whether a ``<frame>`` can say everything about the shape."""
    if all(fret is None for fret in shape.frets) or not 1 <= len(shape.frets) <= MOST_STRINGS:
        return False
    if any(f and shape.frets[i] is None for i, f in enumerate(shape.fingers[: len(shape.frets)])):
        return False
    if len(shape.fingers) not in (0, len(shape.frets)) or shape.first_fret < 1:
        return False
    barre = shape.barre
    if barre is None:
        return True
    ends = (barre.from_string, barre.to_string)
    inside = all(1 <= string <= len(shape.frets) for string in ends)
    if not inside or ends[0] <= ends[1]:
        return False
    return shape.frets[ends[0] - 1] == barre.fret and shape.frets[ends[1] - 1] is not None


def _write_frame(harmony: Element, shape: ChordShape) -> None:
    frame = child(harmony, "frame")
    highest = max(fret for fret in shape.frets if fret is not None)
    leaf(frame, "frame-strings", str(len(shape.frets)))
    leaf(frame, "frame-frets", str(max(4, highest - shape.first_fret + 1)))
    if shape.first_fret != 1:
        leaf(frame, "first-fret", str(shape.first_fret))
    fingers = shape.fingers or (None,) * len(shape.frets)
    for string in range(len(shape.frets), 0, -1):
        fret = shape.frets[string - 1]
        if fret is None:
            continue
        note = child(frame, "frame-note")
        leaf(note, "string", str(string))
        leaf(note, "fret", str(fret))
        finger = fingers[string - 1]
        if finger is not None:
            leaf(note, "fingering", finger.value)
        if shape.barre is not None and string == shape.barre.from_string:
            etree.SubElement(note, "barre", type="start")
        elif shape.barre is not None and string == shape.barre.to_string:
            etree.SubElement(note, "barre", type="stop")
