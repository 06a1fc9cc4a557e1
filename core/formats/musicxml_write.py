"""Writing a lesson as a MusicXML 4.0 file that validates, for other notation programs.

What the standard says is written in its elements; what the model has beyond it stands beside them
in elements of ours that others ignore (`musicxml_names.OUR_WORDS`). The same lesson gives the same
bytes. Reading the file back gives the same lesson by meaning (`musicxml_same`), except for:

===========================  ====================================================================
ids                          counted anew
brief, waivers, settings     not written: they are about the student, not the music (which staves
                             are shown is kept)
sources                      not written: the arrangement goes out, not the original
origin of labels             pinned becomes source; suggested stays suggested
spans in other versions      a line that ends in an easier, harder or second version is left out
two endings at one measure   only the first is written
===========================  ====================================================================
"""

from __future__ import annotations

from math import gcd

from lxml import etree

from core.formats.musicxml_lines import lines
from core.formats.musicxml_names import SOFTWARE
from core.formats.musicxml_write_measure import MeasureWriter
from core.formats.musicxml_xml import Element, child, clean, leaf
from core.model import TICKS_PER_QUARTER, Arrangement, Instrument, Lesson, walk

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def write(lesson: Lesson) -> bytes:
    """The lesson's arrangement as a part-wise MusicXML 4.0 score in UTF-8."""
    root = etree.Element("score-partwise", version="4.0")
    _head(root, lesson)
    part = child(root, "part", {"id": "P1"})
    arrangement = lesson.arrangement
    writer = MeasureWriter(lesson, lines(arrangement), _division(arrangement))
    writer.write(part)
    etree.indent(root, " ")
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE)


def _division(arrangement: Arrangement) -> int:
    """Ticks of one division: the largest length that measures every event and mark."""
    found = TICKS_PER_QUARTER
    for measure in walk.measures(arrangement):
        found = gcd(found, measure.ticks)
        for located in walk.events(measure):
            found = gcd(found, located.event.ticks)
        for mark in measure.marks:
            found = gcd(found, mark.at.ticks)
    return found


def _head(root: Element, lesson: Lesson) -> None:
    card = lesson.source
    if lesson.title:
        leaf(child(root, "work"), "work-title", lesson.title)
    identification = child(root, "identification")
    if card.composer:
        leaf(identification, "creator", card.composer, type="composer")
    if card.rights:
        leaf(identification, "rights", card.rights)
    leaf(child(identification, "encoding"), "software", SOFTWARE)
    if card.edition:
        leaf(identification, "source", card.edition)
    fields = _fields(lesson)
    if fields:
        miscellaneous = child(identification, "miscellaneous")
        for name, text in fields.items():
            leaf(miscellaneous, "miscellaneous-field", text, name=f"footstool:{name}")
    _part_list(root)


def _fields(lesson: Lesson) -> dict[str, str]:
    card, arrangement = lesson.source, lesson.arrangement
    first = next(walk.measures(arrangement)).key
    fields = {"credit": card.credit, "year": card.year, "notes": card.notes}
    if arrangement.key != first:
        fields["key"] = str(arrangement.key)
    usual, mine = Instrument(), arrangement.instrument
    for name in ("scale_mm", "nut_mm", "highest_fret", "hand"):
        if getattr(mine, name) != getattr(usual, name):
            fields[name] = str(getattr(mine, name))
    return {name: clean(text) for name, text in fields.items() if text}


def _part_list(root: Element) -> None:
    part = child(child(root, "part-list"), "score-part", {"id": "P1"})
    leaf(part, "part-name", "Guitar")
    instrument = child(part, "score-instrument", {"id": "P1-I1"})
    leaf(instrument, "instrument-name", "Guitar")
    leaf(instrument, "instrument-sound", "pluck.guitar.nylon-string")
    midi = child(part, "midi-instrument", {"id": "P1-I1"})
    leaf(midi, "midi-channel", "1")
    leaf(midi, "midi-program", "25")
