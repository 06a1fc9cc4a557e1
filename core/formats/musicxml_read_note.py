"""Reading one ``<note>``: pitch, value, chord, voice, and the signs in its notations."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import floor
from typing import TYPE_CHECKING, cast

from core.formats.musicxml_container import Element
from core.formats.musicxml_names import (
    ARTICULATIONS,
    DYNAMICS,
    FERMATA_SHAPES,
    SILENT,
    left_out_name,
    read_our_text,
)
from core.formats.musicxml_raw import EndPoint, RawEvent, RawNote
from core.formats.musicxml_values import Ticks, drawn, reshaped, several, single, tiny
from core.model import (
    Arpeggio,
    Articulation,
    Base,
    Breath,
    Dynamic,
    Fermata,
    Finger,
    Fingering,
    Grace,
    Place,
    Value,
)
from core.model.errors import BadInput
from core.model.pitch import STEPS

if TYPE_CHECKING:
    from core.formats.musicxml_read_part import PartReader


OCTAVE = re.compile(r"-?[0-9]")


def read_note(reader: PartReader, element: Element) -> None:
    """Take one ``<note>`` into the part: a new event, or a note more in the last chord."""
    staff = int(_digits(element.findtext("staff"), "1"))
    is_chord = element.find("chord") is not None and reader.last is not None
    duration = element.findtext("duration")
    ticks = reader.ticks(duration) if duration else None
    note = _pitched(reader, element, staff)
    if is_chord and reader.last is not None:
        event = reader.last
        if note is not None:
            note.first = not event.notes
            event.notes.append(note)
    else:
        made = _event(reader, element, staff, ticks, note)
        if made is None:
            return
        event = made
    read_notations(reader, element, event, note)
    _lyrics(reader, element)


def _digits(text: str | None, otherwise: str) -> str:
    text = (text or "").strip()
    return text if text.isdecimal() and len(text) < 4 else otherwise


def _pitched(reader: PartReader, element: Element, staff: int) -> RawNote | None:
    pitch = element.find("pitch")
    if pitch is None:
        if element.find("unpitched") is not None:
            reader.drop("note without pitch", "notes without pitch")
        return None
    said = {part.tag: part.text or "" for part in pitch}
    step, octave = said.get("step", "").strip(), said.get("octave", "").strip()
    if len(step) != 1 or step not in STEPS or not OCTAVE.fullmatch(octave):
        raise BadInput(reader.at(element, "a note has no proper pitch"))
    alter = _alter(reader, element, said["alter"]) if said.get("alter") else 0
    note = RawNote(staff, step, alter, int(octave))
    note.semitones, note.steps = reader.transposition(staff)
    for tie in element.iterfind("tie"):
        note.tie |= tie.get("type") == "start"
    _accidental(element, note)
    head = element.find("notehead")
    if head is not None and (head.text or "").strip() not in ("", "normal"):
        reader.drop(*left_out_name("notehead"))
    kind = element.find("type")
    if element.find("cue") is not None:
        reader.mend("Cue notes are kept as small notes, and sound")
        note.small = True
    elif kind is not None and kind.get("size") in ("cue", "grace-cue"):
        note.small = element.find("grace") is None or kind.get("size") == "cue"
    return note


def _alter(reader: PartReader, element: Element, written: str) -> int:
    text = written.strip()
    try:
        alter = float(text)
    except ValueError:
        raise BadInput(reader.at(element, f"{text[:20]!r} is no alteration")) from None
    if not abs(alter) < 4:
        raise BadInput(reader.at(element, f"an alteration of {text[:20]} semitones"))
    if alter != int(alter):
        reader.mend("Microtones are rounded to the semitone")
    return max(-3, min(3, floor(alter + 0.5)))


def _accidental(element: Element, note: RawNote) -> None:
    accidental = element.find("accidental")
    if accidental is None:
        return
    note.accidental = (accidental.text or "").strip()
    if accidental.get("editorial") == "yes" or accidental.get("bracket") == "yes":
        note.accidental_kind = "editorial"
    elif accidental.get("cautionary") == "yes" or accidental.get("parentheses") == "yes":
        note.accidental_kind = "courtesy"


def _event(
    reader: PartReader, element: Element, staff: int, ticks: Ticks | None, note: RawNote | None
) -> RawEvent | None:
    voice = (element.findtext("voice") or "1").strip()
    grace = _grace(element)
    values = _values(reader, element, voice, ticks, grace is not None)
    if values is None:
        return None
    rest = element.find("rest")
    event = RawEvent(voice, staff, reader.measure.index, reader.position, values)
    event.grace = grace
    event.hidden = element.get("print-object") == "no" or element.find("unpitched") is not None
    if note is not None:
        event.notes.append(note)
    elif rest is not None and rest.find("display-step") is not None:
        octave = _digits(rest.findtext("display-octave"), "4")
        event.rest_at = ((rest.findtext("display-step") or "B").strip(), int(octave))
    reader.add(event, 0 if grace is not None else (event.ticks if ticks is None else ticks))
    return event


def _grace(element: Element) -> Grace | None:
    grace = element.find("grace")
    return None if grace is None else Grace(grace.get("slash") == "yes")


def _values(
    reader: PartReader, element: Element, voice: str, ticks: Ticks | None, grace: bool
) -> tuple[Value, ...] | None:
    """The written value (or values, to be tied) of a note; None for a note of no length."""
    kind = (element.findtext("type") or "").strip()
    actual, normal = _modification(element)
    dots = len(element.findall("dot"))
    value = drawn(kind, dots, actual, normal, reader.tuplet_stack(voice, element))
    if grace:
        return (value or Value(Base.EIGHTH),)
    if ticks is None:
        if value is None:
            raise BadInput(reader.at(element, "a note has neither duration nor type"))
        reader.mend("Notes without a duration last as long as they look")
        return (value,)
    if ticks < 0:
        raise BadInput(reader.at(element, "a duration is negative"))
    if ticks == 0:
        reader.drop("note of no length", "notes of no length")
        return None
    rest = element.find("rest")
    if rest is not None and rest.get("measure") == "yes":
        value = value if value is not None and value.ticks == ticks else None
        kind = ""
    return _agreed(reader, element, value, ticks, kind, (actual, normal))


def _agreed(
    reader: PartReader,
    element: Element,
    value: Value | None,
    ticks: Ticks,
    kind: str,
    modification: tuple[int, int],
) -> tuple[Value, ...]:
    """Picture and count brought together."""
    if value is not None:
        off: Ticks = max(value.ticks - ticks, ticks - value.ticks)
        if off == 0:
            return (value,)
        if off <= reader.division and off * 8 < value.ticks:
            reader.measure.rounded += off
            return (value,)
    fitted = _counted(value, ticks, modification)
    if fitted is None and (fitted := tiny(ticks)) is not None:
        reader.mend("Notes shorter than a 128th are written as 128ths, two in the time of one")
        return fitted
    if fitted is None:
        what = f"a {kind or 'note'} lasts a time that cannot be written"
        raise BadInput(reader.at(element, what))
    if value is not None:
        reader.mend("Notes whose look and duration differ keep the duration")
    return fitted


def _counted(
    value: Value | None, ticks: Ticks, modification: tuple[int, int]
) -> tuple[Value, ...] | None:
    actual, normal = modification
    if actual != normal:
        plain = single(ticks * actual // normal) if (ticks * actual) % normal == 0 else None
        if plain is not None and not plain.tuplets:
            return (Value(plain.base, plain.dots, ((actual, normal),)),)
    shaped = None if value is None else reshaped(value, ticks)
    return several(ticks) if shaped is None else (shaped,)


def _modification(element: Element) -> tuple[int, int]:
    found = element.find("time-modification")
    if found is None:
        return 1, 1
    actual = int(_digits(found.findtext("actual-notes"), "1"))
    normal = int(_digits(found.findtext("normal-notes"), "1"))
    return (actual, normal) if actual and normal else (1, 1)


def _lyrics(reader: PartReader, element: Element) -> None:
    for lyric in element.iterfind("lyric"):
        verse = lyric.get("number") or lyric.get("name") or "1"
        reader.drop("lyric line", "lyric lines", key=("lyric", reader.part.index, verse))


# ---------------------------------------------------------------- notations

Sign = Callable[["PartReader", Element, RawEvent, RawNote | None], None]


def read_notations(
    reader: PartReader, element: Element, event: RawEvent, note: RawNote | None
) -> None:
    """Everything in the ``<notations>`` of a note."""
    for notations in element.iterfind("notations"):
        for child in notations:
            known = NOTATIONS.get(child.tag)
            if known is not None:
                known(reader, child, event, note)
            elif child.tag not in SILENT:
                reader.drop(*left_out_name(child.tag))


def _group(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    for child in element:
        known = NOTATIONS.get(child.tag)
        if known is not None:
            known(reader, child, event, note)
        elif child.tag not in SILENT:
            reader.drop(*left_out_name(child.tag))


def _tied(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if note is not None:
        note.tie |= element.get("type") in ("start", "continue")
        note.let_ring |= element.get("type") == "let-ring"


def _line(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    """A slur, slide, hammer-on, pull-off or vibrato line begins or ends here."""
    kind = {"glissando": "slide", "wavy-line": "vibrato"}.get(element.tag, element.tag)
    how = element.get("type")
    if how not in ("start", "stop"):
        return
    end = EndPoint(kind, element.get("number") or "1", how == "start", event.measure, event.onset)
    end.event, end.note = event, note
    end.optional = element.get("line-type") in ("dotted", "dashed")
    if kind == "slide":
        end.optional = False
    end.ours = reader.line_content(element, end)
    reader.part.ends.append(end)


def _wavy(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    """A wavy line is a trill's where the ornaments hold a trill, else vibrato."""
    if reader.trilling(element):
        reader.drop(*left_out_name("wavy-line"), key=("wavy", reader.part.index, id(event)))
        return
    _line(reader, element, event, note)


def _tuplet(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    """Display of a tuplet; nested figures were taken before the value was read."""
    how = element.get("type")
    if how not in ("start", "stop"):
        return
    number = element.get("number") or "1"
    end = EndPoint("tuplet", number, how == "start", event.measure, event.onset, event)
    end.hidden = element.get("show-number") == "none" and element.get("bracket") != "yes"
    end.text = {"both": "both"}.get(element.get("show-number") or "", "")
    end.ours = reader.line_content(element, end)
    reader.part.ends.append(end)


def _fermata(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    shape = FERMATA_SHAPES.get((element.text or "").strip())
    if shape is None or (shape == "normal" and (element.text or "").strip() not in ("", "normal")):
        reader.mend("Fermatas of rare shape are written in the usual one")
    mark = Fermata(shape or "normal", element.get("type") == "inverted")  # type: ignore[arg-type]
    if mark not in event.marks:
        event.marks.append(mark)


def _arpeggio(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if not any(isinstance(mark, Arpeggio) for mark in event.marks):
        direction = element.get("direction") or ""
        event.marks.append(
            Arpeggio(direction if direction in ("up", "down") else "")  # type: ignore[arg-type]
        )


def _articulation(
    reader: PartReader, element: Element, event: RawEvent, note: RawNote | None
) -> None:
    kind = ARTICULATIONS[element.tag]
    mark = Articulation(kind)  # type: ignore[arg-type]
    if mark not in event.marks:
        event.marks.append(mark)


def _other_articulation(
    reader: PartReader, element: Element, event: RawEvent, note: RawNote | None
) -> None:
    text = (element.text or "").strip().lower()
    if text in ("vibrato", "damp"):
        event.marks.append(Articulation(text))  # type: ignore[arg-type]
    else:
        reader.drop(*left_out_name(element.tag))


def _breath(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    mark = Breath("caesura" if element.tag == "caesura" else "comma")
    if mark not in event.marks:
        event.marks.append(mark)


def dynamic_texts(element: Element) -> list[str]:
    """The dynamics in a ``<dynamics>``: ``mf``, or the text of another one."""
    rows = []
    for child in element:
        text = (child.text or "").strip() if child.tag == "other-dynamics" else child.tag
        if text and (child.tag in DYNAMICS or child.tag == "other-dynamics"):
            rows.append(text)
    return rows


def _dynamics(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    event.marks += [Dynamic(text) for text in dynamic_texts(element)]


def _fingering(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if note is not None:
        substitution = element.get("substitution") == "yes"
        alternate = element.get("alternate") == "yes"
        note.fingers.append(((element.text or "").strip(), substitution, alternate))


def _pluck(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if note is not None:
        note.pluck = (element.text or "").strip()


def _string(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if note is not None:
        note.string = int(_digits(element.text, "0")) or None


def _fret(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    text = (element.text or "").strip()
    if note is not None and text.isdecimal() and len(text) < 4:
        note.fret = int(text)


def _open_string(
    reader: PartReader, element: Element, event: RawEvent, note: RawNote | None
) -> None:
    if note is not None:
        note.fingers.append(("0", False, False))


def _harmonic(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    if note is None:
        return
    note.harmonic = "artificial" if element.find("artificial") is not None else "natural"
    for which in ("base-pitch", "touching-pitch", "sounding-pitch"):
        if element.find(which) is not None:
            note.harmonic_pitch = which


def _bend(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    try:
        bend = float(element.findtext("bend-alter") or "")
    except ValueError:
        bend = float("nan")
    if note is None or not abs(bend) <= 12:
        reader.drop("bend", "bends")
    elif note.bend is None:
        note.bend = bend


def _ours(reader: PartReader, element: Element, event: RawEvent, note: RawNote | None) -> None:
    """An element of ours: what the standard cannot say of a note or an event."""
    found = read_our_text(element.text or "")
    if found is None:
        reader.drop(*left_out_name(element.tag))
        return
    word, content = found
    if word == "note" and note is not None:
        _note_content(note, content)
    elif word == "event":
        _event_content(event, content)


def _note_content(note: RawNote, content: dict[str, object]) -> None:
    note.guide = content.get("guide") is True
    if content.get("accidental") in ("courtesy", "editorial", "hidden"):
        note.accidental_kind = str(content["accidental"])
    if isinstance(content.get("touched"), int):
        note.touched_fret = cast("int", content["touched"])
    suggested = content.get("suggested")
    if isinstance(suggested, list):
        note.suggested = frozenset(str(name) for name in suggested)
    if isinstance(content.get("place"), str):
        _own_place(note, str(content["place"]))
    if isinstance(content.get("circled"), bool):
        note.circled = cast("bool", content["circled"])
    second = content.get("alternative")
    if isinstance(second, dict):
        note.alternative = _second_fingering(second)


def _own_place(note: RawNote, text: str) -> None:
    try:
        place = Place.parse(text)
    except ValueError:
        return
    note.string, note.fret = place.string, place.fret


def _second_fingering(content: dict[str, object]) -> Fingering | None:
    try:
        place, finger = content.get("place"), content.get("finger")
        return Fingering(
            Place.parse(str(place)) if place else None,
            Finger(str(finger)) if finger else None,
            str(content.get("reason", "")),
        )
    except ValueError:
        return None


def _event_content(event: RawEvent, content: dict[str, object]) -> None:
    for index, mark in enumerate(event.marks):
        if isinstance(mark, Fermata) and "hold" in content:
            hold = content["hold"]
            percent = hold if isinstance(hold, int) and 100 <= hold <= 1000 else 200
            last = content.get("last_time_only") is True
            event.marks[index] = Fermata(mark.shape, mark.inverted, percent, last)
        elif isinstance(mark, Arpeggio) and content.get("roll") is True:
            event.marks[index] = Arpeggio(mark.direction, True)


NOTATIONS: dict[str, Sign] = {
    "tied": _tied,
    "slur": _line,
    "slide": _line,
    "glissando": _line,
    "hammer-on": _line,
    "pull-off": _line,
    "wavy-line": _wavy,
    "tuplet": _tuplet,
    "ornaments": _group,
    "technical": _group,
    "articulations": _group,
    "fermata": _fermata,
    "arpeggiate": _arpeggio,
    "breath-mark": _breath,
    "caesura": _breath,
    "dynamics": _dynamics,
    "fingering": _fingering,
    "pluck": _pluck,
    "string": _string,
    "fret": _fret,
    "open-string": _open_string,
    "harmonic": _harmonic,
    "bend": _bend,
    "other-articulation": _other_articulation,
    "other-notation": _ours,
    **dict.fromkeys(ARTICULATIONS, _articulation),
}
