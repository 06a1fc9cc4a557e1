"""The same MusicXML through a general-purpose engraving library (verovio, used only in tests)."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

from msgspec import Struct

from core.display.items import Glyph
from core.formats import musicxml_read
from core.page.engrave import Cache, engrave
from core.page.layout import Layout
from core.page.style import PageStyle
from tests.core.page.kit import NAMES, metrics

SVG = "{http://www.w3.org/2000/svg}"
PLACE = re.compile(r"translate\(([-\d.]+),\s*([-\d.]+)")
LINK = "{http://www.w3.org/1999/xlink}href"
ACCIDENTALS = {"E260": "Flat", "E261": "Natural", "E262": "Sharp", "E263": "DoubleSharp",
               "E264": "DoubleFlat"}  # fmt: skip


class Seen(Struct, frozen=True):
    """One note as it is drawn: the accidental beside it, where its stem goes, whether its beam
    goes on from the note before. Notes stand in the order of their x in the measure."""

    accidental: str
    stem: str
    joined: bool


def melody(file: Path) -> bytes:
    """The first part of a score, without stem directions, which both sides shall find."""
    with zipfile.ZipFile(file) as archive:
        name = next(n for n in archive.namelist() if n.endswith(".xml") and "META" not in n)
        root = ElementTree.fromstring(archive.read(name))
    listing = root.find("part-list")
    assert listing is not None
    for part in root.findall("part")[1:]:
        root.remove(part)
    for entry in listing.findall("score-part")[1:]:
        listing.remove(entry)
    for group in listing.findall("part-group"):
        listing.remove(group)
    for note in root.iter("note"):
        for stem in note.findall("stem"):
            note.remove(stem)
    out = BytesIO()
    ElementTree.ElementTree(root).write(out, "utf-8", xml_declaration=True)
    return out.getvalue()


def ours(data: bytes) -> list[list[Seen]]:
    """Our page of it, read off the display list; the file's pitches are taken as written ones."""
    lesson = musicxml_read.read(data, "piece.musicxml", octave=-1).lesson
    cache = Cache()
    layout = engrave(lesson, PageStyle(staves="staff", flow="line"), metrics(), cache)
    return [_our_measure(layout, cache, number) for row in layout.breaks for number in row]


def _our_measure(layout: Layout, cache: Cache, number: int) -> list[Seen]:
    box = cache.boxes[number]
    system = layout.systems[layout.index[number][0]]
    signs: dict[int, list[Glyph]] = {}
    for item in system.body.items:
        if isinstance(item, Glyph) and item.source:
            signs.setdefault(item.source, []).append(item)
    found: list[tuple[float, Seen]] = []
    before: dict[int, int] = {}
    for cluster in box.clusters:
        for head in cluster.heads:
            names = {NAMES[g.code]: g for g in signs[head.note.id]}
            accidental = next(
                (n.removeprefix("accidental") for n in names
                 if n.startswith("accidental") and "Parens" not in n), "",
            )  # fmt: skip
            if "accidentalParensLeft" in names:
                accidental = f"({accidental})"
            x = next(g.x for n, g in names.items() if n.startswith("notehead"))
            stem = ("up" if cluster.up else "down") if cluster.stemmed else ""
            joined = cluster.group >= 0 and before.get(cluster.voice) == cluster.group
            found.append((x, Seen(accidental, stem, joined)))
        before[cluster.voice] = cluster.group
    return [seen for _, seen in sorted(found, key=lambda pair: pair[0])]


def theirs(data: bytes) -> list[list[Seen]]:
    """The library's page, read off its SVG."""
    return [_their_measure(node) for node in drawn(data, 60000)]


def drawn(data: bytes, width: int) -> Iterator[ElementTree.Element]:
    """The measures of the library's SVG, all on one page so wide."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {"breaks": "none", "adjustPageHeight": True, "pageWidth": width, "svgRemoveXlink": False}
    )
    assert toolkit.loadData(data.decode())
    return having(ElementTree.fromstring(toolkit.renderToSVG(1)), "measure")


def having(node: ElementTree.Element, *names: str) -> Iterator[ElementTree.Element]:
    """The groups of a drawing that are of one of these classes."""
    return (g for g in node.iter(f"{SVG}g") if g.get("class", "").split(" ")[0] in names)


def accidental_of(note: ElementTree.Element) -> str:
    """The accidental drawn beside a note; empty for none."""
    found = ""
    for sign in having(note, "accid"):
        for use in sign.iter(f"{SVG}use"):
            found = ACCIDENTALS.get(use.get(LINK, "#")[1:5], "?")
    return found


def head_at(note: ElementTree.Element) -> tuple[float, float]:
    """Where a note's head is drawn, in the drawing's own units."""
    head = next(next(having(note, "notehead")).iter(f"{SVG}use"))
    at = PLACE.search(head.get("transform", ""))
    assert at is not None
    return float(at[1]), float(at[2])


def _their_measure(measure: ElementTree.Element) -> list[Seen]:
    beam_of = {
        note.get("id"): number
        for number, beam in enumerate(having(measure, "beam"))
        for note in having(beam, "note")
    }
    found: list[tuple[float, Seen]] = []
    before: int | None = None
    for note in having(measure, "note"):
        x, y = head_at(note)
        stem = ""
        for path in (p for s in having(note, "stem") for p in s.iter(f"{SVG}path")):
            ends = [float(v) for v in re.findall(r"[ML][-\d.]+ ([-\d.]+)", path.get("d", ""))]
            stem = "up" if min(ends) < y - 200 else "down"
        beam = beam_of.get(note.get("id"))
        found.append((x, Seen(accidental_of(note), stem, beam is not None and beam == before)))
        before = beam
    return [seen for _, seen in sorted(found, key=lambda pair: pair[0])]


def compare(data: bytes) -> Counter[str]:
    """How many notes both drew, and in what they differ."""
    mine, other = ours(data), theirs(data)
    result: Counter[str] = Counter(measures=abs(len(mine) - len(other)))
    for a, b in zip(mine, other, strict=False):
        result["columns"] += len(a) != len(b)
        for left, right in zip(a, b, strict=False):
            result["notes"] += 1
            reminder = left.accidental == f"({right.accidental})"
            result["reminders"] += reminder
            result["own reminders"] += "(" in left.accidental and not right.accidental
            missed = left.accidental.strip("()") != right.accidental and "(" not in left.accidental
            result["accidentals"] += missed
            result["beams"] += left.joined != right.joined
        beamed = any(x.joined != y.joined for x, y in zip(a, b, strict=False))
        stems = sum(x.stem != y.stem for x, y in zip(a, b, strict=False))
        result["stems of other beams" if beamed else "stems"] += stems
    return result
