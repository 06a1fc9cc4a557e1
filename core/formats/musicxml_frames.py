"""Chord symbols and chord diagrams (``harmony`` and ``frame``), read and written side by side."""

from __future__ import annotations

import re

from lxml import etree

from core.formats.musicxml_container import Element
from core.model import ChordShape, Finger, ShapeBarre
from core.model.instrument import HIGHEST_FRET

KIND_SUFFIXES = {
    "major": "", "minor": "m", "augmented": "+", "diminished": "dim", "dominant": "7",
    "major-seventh": "maj7", "minor-seventh": "m7", "diminished-seventh": "dim7",
    "augmented-seventh": "+7", "half-diminished": "m7b5", "major-minor": "mMaj7",
    "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9",
    "minor-ninth": "m9", "dominant-11th": "11", "major-11th": "maj11", "minor-11th": "m11",
    "dominant-13th": "13", "major-13th": "maj13", "minor-13th": "m13",
    "suspended-second": "sus2", "suspended-fourth": "sus4", "power": "5", "none": "N.C.",
}  # fmt: skip
SUFFIX_KINDS = {suffix: kind for kind, suffix in KIND_SUFFIXES.items() if kind != "none"}

_NAME = re.compile(r"(?P<root>[A-G][#b]?)(?P<suffix>[^/\s]*)(?:/(?P<bass>[A-G][#b]?))?")
MOST_STRINGS = 13


def chord_name(element: Element) -> str:
    """The chord's name as a reader would say it: ``Am7/G``. Empty where there is no root."""
    kind = element.find("kind")
    root = element.find("root")
    if root is None:
        return " ".join((element.findtext("function") or "").split())
    step = root.find("root-step")
    shown = None if step is None else step.get("text")
    if shown is None:
        shown = (root.findtext("root-step") or "").strip() + _sign(root.findtext("root-alter"))
    suffix = ""
    if kind is not None:
        suffix = kind.get("text") or ""
        if "text" not in kind.attrib:
            suffix = KIND_SUFFIXES.get((kind.text or "").strip(), "")
            suffix = "" if suffix == "N.C." else suffix
            suffix += _degrees(element)
    bass = element.find("bass")
    low = ""
    if bass is not None:
        low = "/" + (bass.findtext("bass-step") or "").strip() + _sign(bass.findtext("bass-alter"))
    return shown + suffix + low


def _sign(alter: str | None) -> str:
    return {"1": "#", "-1": "b", "2": "##", "-2": "bb"}.get((alter or "").strip(), "")


def _degrees(element: Element) -> str:
    parts = []
    for degree in element.iterfind("degree"):
        value = (degree.findtext("degree-value") or "").strip()
        kind = (degree.findtext("degree-type") or "").strip()
        word = {"add": "add", "subtract": "no"}.get(kind, "")
        parts.append(f"({word}{_sign(degree.findtext('degree-alter'))}{value})")
    return "".join(parts)


def read_frame(frame: Element, name: str) -> ChordShape | None:
    """A diagram as a shape; None where it has no usable figures."""
    strings = _number(frame.findtext("frame-strings"), 6)
    first_fret = _number(frame.findtext("first-fret"), 1)
    if not 1 <= strings <= MOST_STRINGS or not 1 <= first_fret <= HIGHEST_FRET:
        return None
    frets: list[int | None] = [None] * strings
    fingers: list[Finger | None] = [None] * strings
    barre: dict[str, tuple[int, int]] = {}
    for dot in frame.iterfind("frame-note"):
        string, fret = _number(dot.findtext("string"), 0), _number(dot.findtext("fret"), -1)
        if not 1 <= string <= strings or not 0 <= fret <= HIGHEST_FRET:
            continue
        held = frets[string - 1]
        if held is None or fret > held:
            frets[string - 1] = fret
            fingers[string - 1] = finger_of(dot.findtext("fingering"))
        for end in dot.iterfind("barre"):
            barre[end.get("type", "")] = (string, fret)
    if all(fret is None for fret in frets):
        return None
    held_down = None
    if "start" in barre and "stop" in barre:
        low, high = barre["start"], barre["stop"]
        held_down = ShapeBarre(low[1], max(low[0], high[0]), min(low[0], high[0]))
    shown = tuple(fingers) if any(fingers) else ()
    return ChordShape(name, tuple(frets), shown, held_down, first_fret)


def finger_of(text: str | None) -> Finger | None:
    """A left-hand finger of a file: 0 to 4, T or t for the thumb."""
    text = (text or "").strip().upper()
    return Finger(text) if text in {finger.value for finger in Finger} else None


def _number(text: str | None, otherwise: int) -> int:
    text = (text or "").strip()
    return int(text) if text.isdecimal() and len(text) < 4 else otherwise


# ---------------------------------------------------------------- writing


def add_harmony(parent: Element, shape: ChordShape) -> Element:
    """Append the ``harmony`` of a shape; its name is always shown exactly."""
    harmony = etree.SubElement(parent, "harmony")
    found = _NAME.fullmatch(shape.name)
    root = etree.SubElement(harmony, "root")
    if found is None or found["suffix"] not in SUFFIX_KINDS:
        etree.SubElement(root, "root-step", text=shape.name).text = "C"
        etree.SubElement(harmony, "kind", text="").text = "other"
    else:
        _step(root, "root", found["root"])
        suffix = found["suffix"]
        etree.SubElement(harmony, "kind", text=suffix).text = SUFFIX_KINDS[suffix]
        if found["bass"]:
            _step(etree.SubElement(harmony, "bass"), "bass", found["bass"])
    if shape.frets and any(fret is not None for fret in shape.frets):
        _add_frame(harmony, shape)
    return harmony


def _step(parent: Element, what: str, name: str) -> None:
    etree.SubElement(parent, f"{what}-step").text = name[0]
    if len(name) > 1:
        etree.SubElement(parent, f"{what}-alter").text = "1" if name[1] == "#" else "-1"


def _add_frame(harmony: Element, shape: ChordShape) -> None:
    frame = etree.SubElement(harmony, "frame")
    etree.SubElement(frame, "frame-strings").text = str(len(shape.frets))
    highest = max(fret for fret in shape.frets if fret is not None)
    shown = max(4, highest - shape.first_fret + 1)
    etree.SubElement(frame, "frame-frets").text = str(shown)
    if shape.first_fret != 1:
        etree.SubElement(frame, "first-fret").text = str(shape.first_fret)
    for string in range(len(shape.frets), 0, -1):
        _add_dots(frame, shape, string)


def _add_dots(frame: Element, shape: ChordShape, string: int) -> None:
    fret = shape.frets[string - 1]
    finger = shape.fingers[string - 1] if string <= len(shape.fingers) else None
    barre = shape.barre
    ends = []
    if barre is not None:
        ends += ["start"] if string == barre.from_string else []
        ends += ["stop"] if string == barre.to_string else []
    if fret is not None:
        dot = _dot(frame, string, fret)
        if finger is not None:
            etree.SubElement(dot, "fingering").text = finger.value
        if ends and barre is not None and fret == barre.fret and len(ends) == 1:
            etree.SubElement(dot, "barre", type=ends.pop())
    for end in ends:
        # the barre lies under a higher finger, or ends on the string where it begins
        assert barre is not None
        etree.SubElement(_dot(frame, string, barre.fret), "barre", type=end)


def _dot(frame: Element, string: int, fret: int) -> Element:
    dot = etree.SubElement(frame, "frame-note")
    etree.SubElement(dot, "string").text = str(string)
    etree.SubElement(dot, "fret").text = str(fret)
    return dot


def frame_holds(shape: ChordShape) -> bool:
    """Whether a diagram says the shape exactly, so that nothing of ours must stand beside it."""
    parent = etree.Element("measure")
    harmony = add_harmony(parent, shape)
    frame = harmony.find("frame")
    read = None if frame is None else read_frame(frame, chord_name(harmony))
    return read is not None and _plain(read) == _plain(shape)


def _plain(shape: ChordShape) -> tuple[object, ...]:
    fingers = shape.fingers if any(shape.fingers) else ()
    padded = fingers + (None,) * (len(shape.frets) - len(fingers)) if fingers else ()
    return (shape.name, shape.frets, padded, shape.barre, shape.first_fret)
