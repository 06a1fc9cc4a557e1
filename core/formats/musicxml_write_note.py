"""Writing events: ``<note>`` elements with their signs, on the staff and on the tablature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lxml import etree

from core.formats.lesson_json import to_text
from core.formats.musicxml_lines import LineEnd
from core.formats.musicxml_names import ARTICULATIONS, our_text
from core.formats.musicxml_xml import Element, child, leaf
from core.model import (
    Arpeggio,
    Articulation,
    Breath,
    Event,
    Fermata,
    Note,
    Value,
)
from core.model.errors import BadInput
from core.model.notes import HARMONIC_SEMITONES

TAG_OF = {kind: tag for tag, kind in ARTICULATIONS.items()}


@dataclass(slots=True, frozen=True)
class Staff:
    """The staff an event is written on. `number` is 0 in a part of one staff."""

    number: int
    tablature: bool
    octaves: int
    middle: int


@dataclass(slots=True, frozen=True)
class Written:
    """An event with what its writing needs.

    `stopped` are the notes (pitch as text) that a tie leads to; `accidentals` by note id;
    `divisions` ticks of one division; `tuplets` its brackets: (number, start or stop, ...).
    """

    event: Event
    voice: int
    stopped: frozenset[str]
    accidentals: Mapping[int, str]
    ticks_per_division: int
    lines: Sequence[LineEnd] = ()
    tuplets: Sequence[tuple[int, str]] = ()


def write_event(measure: Element, written: Written, staff: Staff, full: bool) -> None:
    """The notes (or the rest) of an event; `full` with all signs, else for a second staff."""
    event = written.event
    notes = event.notes if full else tuple(note for note in event.notes if note.place)
    if not notes:
        _rest(measure, written, staff, full)
        return
    for index, note in enumerate(notes):
        element = _opened(measure, event)
        if index:
            child(element, "chord")
        _pitch(element, note, staff)
        _duration(element, written)
        tied_here = str(note.pitch) in written.stopped
        if tied_here:
            child(element, "tie", {"type": "stop"})
        if note.tied:
            child(element, "tie", {"type": "start"})
        _look(element, written, staff, note, full)
        _notations(element, written, note, index, tied_here, full)


def _opened(measure: Element, event: Event) -> Element:
    element = child(measure, "note", {"print-object": "no"} if event.hidden else {})
    if event.grace is not None:
        child(element, "grace", {"slash": "yes" if event.grace.slashed else "no"})
    return element


def _pitch(element: Element, note: Note, staff: Staff) -> None:
    octave = note.pitch.octave + staff.octaves
    if not 0 <= octave <= 9:
        raise BadInput(f"MusicXML cannot write the pitch {note.pitch}: its octaves are 0 to 9.")
    pitch = child(element, "pitch")
    leaf(pitch, "step", note.pitch.step)
    if note.pitch.alter:
        leaf(pitch, "alter", str(note.pitch.alter))
    leaf(pitch, "octave", str(octave))


def _duration(element: Element, written: Written) -> None:
    if written.event.grace is None:
        leaf(element, "duration", str(written.event.ticks // written.ticks_per_division))


def _rest(measure: Element, written: Written, staff: Staff, full: bool) -> None:
    event = written.event
    element = _opened(measure, event)
    if not full:
        element.set("print-object", "no")
    rest = child(element, "rest")
    if event.rest_line is not None and not event.notes:
        octave, step = divmod(staff.middle + event.rest_line, 7)
        if octave >= 0:
            leaf(rest, "display-step", "CDEFGAB"[step])
            leaf(rest, "display-octave", str(octave))
    _duration(element, written)
    _look(element, written, staff, None, full)
    _notations(element, written, None, 0, False, full)


def _look(element: Element, written: Written, staff: Staff, note: Note | None, full: bool) -> None:
    value = written.event.value
    # voices of the tablature are 5 to 8, so that no program takes them for those of the staff
    leaf(element, "voice", str(written.voice + 1 + (0 if full else 4)))
    small = {"size": "cue"} if note is not None and note.small else {}
    leaf(element, "type", value.base.value, **small)
    for _ in range(value.dots):
        child(element, "dot")
    if note is not None and full:
        _accidental(element, written, note)
    _modification(element, value)
    if staff.tablature and not full:
        leaf(element, "stem", "none")
    if staff.number:
        leaf(element, "staff", str(staff.number))


def _accidental(element: Element, written: Written, note: Note) -> None:
    shown = written.accidentals.get(note.id)
    if shown is None:
        return
    signs = {
        "courtesy": {"cautionary": "yes", "parentheses": "yes"},
        "editorial": {"editorial": "yes", "bracket": "yes"},
    }
    leaf(element, "accidental", shown, **signs.get(note.accidental, {}))


def _modification(element: Element, value: Value) -> None:
    actual = normal = 1
    for a, n in value.tuplets:
        actual, normal = actual * a, normal * n
    if value.tuplets:
        modification = child(element, "time-modification")
        leaf(modification, "actual-notes", str(actual))
        leaf(modification, "normal-notes", str(normal))


# ---------------------------------------------------------------- notations


def _notations(
    element: Element, written: Written, note: Note | None, index: int, tied: bool, full: bool
) -> None:
    notations = child(element, "notations")
    groups = {tag: etree.Element(tag) for tag in ("ornaments", "technical", "articulations")}
    if note is not None:
        _ties(notations, note, tied)
    if full:
        _lines(notations, groups, written, note, index)
    if note is not None:
        _technical(groups["technical"], note, full)
    if index == 0 and full:
        _articulations(groups["articulations"], written.event)
    for group in groups.values():
        if len(group):
            notations.append(group)
    if full:
        _signs(notations, written, note, index)
    if len(notations) == 0:
        element.remove(notations)


def _ties(notations: Element, note: Note, tied: bool) -> None:
    if tied:
        child(notations, "tied", {"type": "stop"})
    if note.tied:
        child(notations, "tied", {"type": "start"})
    if note.let_ring:
        child(notations, "tied", {"type": "let-ring"})


def _lines(
    notations: Element,
    groups: Mapping[str, Element],
    written: Written,
    note: Note | None,
    index: int,
) -> None:
    """Stops of lines begun before, starts, then stops of lines that begin here as well."""
    mine = [end for end in written.lines if (end.note or 0) == index]
    begun = {end.span.id for end in mine if end.starts}
    early = [end for end in mine if not end.starts and end.span.id not in begun]
    late = [end for end in mine if not end.starts and end.span.id in begun]
    for end in (*early, *(end for end in mine if end.starts), *late):
        _line(notations, groups, end)
    if index == 0:
        for number, how in written.tuplets:
            _tuplet(notations, written.event.value, number, how)


def _tuplet(notations: Element, value: Value, number: int, how: str) -> None:
    """A tuplet's bracket; of nested ones each says its own figures."""
    tuplet = child(notations, "tuplet", {"type": how, "number": str(number)})
    if how == "start" and len(value.tuplets) > 1:
        figures = value.tuplets[number - 1]
        for tag, figure in zip(("tuplet-actual", "tuplet-normal"), figures, strict=True):
            leaf(child(tuplet, tag), "tuplet-number", str(figure))


def _line(notations: Element, groups: Mapping[str, Element], end: LineEnd) -> None:
    how = {"type": "start" if end.starts else "stop", "number": str(end.number)}
    tag, text = end.tag, end.span.text if end.starts else ""
    if tag in ("hammer-on", "pull-off"):
        leaf(groups["technical"], tag, text or ({"h": "H", "p": "P"}[tag[0]] if end.starts else ""),
             **how)  # fmt: skip
    elif tag == "wavy-line":
        child(groups["ornaments"], tag, how)
    elif tag == "slide":
        leaf(notations, tag, text, **how, **{"line-type": "solid"})
    else:
        dotted = {"line-type": "dotted"} if end.span.optional and end.starts else {}
        child(notations, tag, {**how, **dotted})
    said = end.content()
    if said:
        attributes = {**how, "print-object": "no"}
        leaf(notations, "other-notation", our_text("line", said), **attributes)


def _technical(technical: Element, note: Note, full: bool) -> None:
    if full:
        _fingers(technical, note)
    place = note.place.value if note.place is not None else None
    if place is not None:
        fret = place.fret
        if note.harmonic is not None and note.harmonic.kind == "natural" and fret == 0:
            fret = max(0, note.harmonic.touched_fret)
        leaf(technical, "string", str(place.string))
        leaf(technical, "fret", str(fret))
    if note.harmonic is not None:
        harmonic = child(technical, "harmonic")
        child(harmonic, note.harmonic.kind)
        child(harmonic, "sounding-pitch")
    if note.bend is not None:
        leaf(child(technical, "bend"), "bend-alter", f"{note.bend!r}")


def _fingers(technical: Element, note: Note) -> None:
    if note.finger is not None:
        leaf(technical, "fingering", note.finger.value.value)
    if note.substitute is not None:
        leaf(technical, "fingering", note.substitute.value, substitution="yes")
    if note.alternative is not None and note.alternative.finger is not None:
        leaf(technical, "fingering", note.alternative.finger.value, alternate="yes")
    if note.plucking is not None:
        leaf(technical, "pluck", note.plucking.value.value)


def _articulations(articulations: Element, event: Event) -> None:
    for mark in event.marks:
        if isinstance(mark, Articulation):
            tag = TAG_OF.get(mark.kind)
            if tag is None:
                leaf(articulations, "other-articulation", mark.kind)
            else:
                child(articulations, tag)
        elif isinstance(mark, Breath):
            if mark.kind == "comma":
                leaf(articulations, "breath-mark", "comma")
            else:
                leaf(articulations, "caesura", "normal")


def _signs(notations: Element, written: Written, note: Note | None, index: int) -> None:
    event = written.event
    said: dict[str, object] = {}
    for mark in event.marks:
        if isinstance(mark, Fermata) and index == 0:
            how = {"type": "inverted" if mark.inverted else "upright"}
            leaf(notations, "fermata", mark.shape, **how)
            if mark.hold_percent != Fermata().hold_percent or mark.last_time_only:
                said["hold"] = mark.hold_percent
                said["last_time_only"] = mark.last_time_only
        elif isinstance(mark, Arpeggio):
            child(notations, "arpeggiate", {"direction": mark.direction} if mark.direction else {})
            if mark.roll and index == 0:
                said["roll"] = True
    if len(event.value.tuplets) > 1:
        said["tuplets"] = "@".join(f"{a}:{n}" for a, n in event.value.tuplets)
    if said and index == 0:
        _ours(notations, "event", said)
    if note is not None:
        content = note_content(note)
        if note.accidental in ("courtesy", "editorial") and note.id not in written.accidentals:
            content["accidental"] = note.accidental
        if content:
            _ours(notations, "note", content)


def _ours(notations: Element, word: str, content: object) -> None:
    attributes = {"type": "single", "print-object": "no"}
    leaf(notations, "other-notation", our_text(word, content), **attributes)


def note_content(note: Note) -> dict[str, object]:
    """What no element of the standard says of a note."""
    said: dict[str, object] = {}
    if note.guide:
        said["guide"] = True
    if note.circled:
        said["circled"] = True
    if note.accidental == "hidden":
        said["accidental"] = "hidden"
    if note.harmonic is not None:
        said |= _harmonic_content(note)
    labels = (("place", note.place), ("finger", note.finger), ("pluck", note.plucking))
    suggested = [name for name, label in labels if label is not None and not label.firm]
    if suggested:
        said["suggested"] = suggested
    second = note.alternative
    if second is not None and (second.place or second.reason or second.finger is None):
        said["alternative"] = {
            "place": None if second.place is None else to_text(second.place),
            "finger": None if second.finger is None else second.finger.value,
            "reason": second.reason,
        }
    return said


def _harmonic_content(note: Note) -> dict[str, object]:
    assert note.harmonic is not None
    said: dict[str, object] = {}
    touched = note.harmonic.touched_fret
    fret = None if note.place is None else note.place.value.fret
    usual = touched in HARMONIC_SEMITONES and fret == 0 and note.harmonic.kind == "natural"
    if not usual:
        said["touched"] = touched
        if note.place is not None:
            said["place"] = to_text(note.place.value)
    return said
