"""Two voices on one staff, ours and the library's: made of two parts of the same score."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from copy import deepcopy
from io import BytesIO
from math import lcm
from pathlib import Path
from xml.etree import ElementTree

from msgspec import Struct

from core.display.items import Glyph
from core.formats import musicxml_read
from core.page.cluster import Cluster
from core.page.engrave import Cache, engrave
from core.page.layout import Layout
from core.page.style import PageStyle
from tests.core.page.kit import NAMES, metrics
from tests.core.page.library import SVG, accidental_of, drawn, having, head_at

Element = ElementTree.Element
STEPS = "CDEFGAB"
NEAR = 2.2  # spaces within which two voices stand in one column
SIDE = 0.25  # spaces by which a head must stand aside to count as shifted
UNITS = 180.0  # of the library's drawing to the space
LEFT_OUT = ("lyric", "stem", "notations", "play", "listen", "notehead", "instrument", "staff")


class Head(Struct, frozen=True):
    """One head: how far below the event's highest, in steps of the staff, and its accidental."""

    below: int
    accidental: str


class Seen(Struct, frozen=True):
    """An event as it is drawn: its x in spaces, its heads from the highest, its stem, and whether
    its beam goes on from the event before."""

    x: float
    y: float
    heads: tuple[Head, ...]
    stem: str
    joined: bool


Measure = dict[int, list[Seen]]  # voice -> its events


def score(file: Path) -> Element:
    """The root of a score, packed or not."""
    if file.suffix != ".mxl":
        return ElementTree.parse(file).getroot()
    with zipfile.ZipFile(file) as archive:
        name = next(n for n in archive.namelist() if n.endswith(".xml") and "META" not in n)
        return ElementTree.fromstring(archive.read(name))


def duet(file: Path, upper: int = 0, lower: int = -1, most: int = 48) -> bytes:
    """The first measures of two parts of a score as two voices on one staff with a G clef. A low
    bass is an octave higher; what only one of two programs would draw is left out."""
    root = score(file)
    parts = root.findall("part")
    rows = [parts[upper].findall("measure"), parts[lower].findall("measure")]
    divisions = [_divisions(row) for row in rows]
    common = lcm(*divisions)
    octaves = 1 if _mean_octave(rows[1]) < 3.6 else 0
    made = Element("score-partwise", version="4.0")
    listing = ElementTree.SubElement(made, "part-list")
    entry = ElementTree.SubElement(listing, "score-part", id="P1")
    ElementTree.SubElement(entry, "part-name").text = "Duet"
    part = ElementTree.SubElement(made, "part", id="P1")
    for number, (above, below) in enumerate(zip(*rows, strict=False)):
        if number == most:
            break
        measure = ElementTree.SubElement(part, "measure", dict(above.attrib))
        _attributes(measure, above, common if number == 0 else 0)
        length = _voice(measure, above, 1, common // divisions[0], 0)
        backup = ElementTree.SubElement(measure, "backup")
        ElementTree.SubElement(backup, "duration").text = str(length)
        _voice(measure, below, 2, common // divisions[1], octaves)
    out = BytesIO()
    ElementTree.ElementTree(made).write(out, "utf-8", xml_declaration=True)
    return out.getvalue()


def _divisions(row: list[Element]) -> int:
    found = {int(d.text or "1") for measure in row for d in measure.iter("divisions")}
    return lcm(*found) if len(found) == 1 else 0


def _mean_octave(row: list[Element]) -> float:
    found = [int(o.text or "4") for measure in row for o in measure.iter("octave")]
    return sum(found) / max(1, len(found))


def _attributes(measure: Element, source: Element, divisions: int) -> None:
    """Key and time as they are, the clef always G."""
    given = source.find("attributes")
    made = Element("attributes")
    if divisions:
        ElementTree.SubElement(made, "divisions").text = str(divisions)
    for name in ("key", "time"):
        child = None if given is None else given.find(name)
        if child is not None:
            made.append(deepcopy(child))
    if divisions:
        clef = ElementTree.SubElement(made, "clef")
        ElementTree.SubElement(clef, "sign").text = "G"
        ElementTree.SubElement(clef, "line").text = "2"
    if len(made):
        measure.append(made)


def _voice(measure: Element, source: Element, voice: int, times: int, octaves: int) -> int:
    """Put the first voice of a part's measure in; returns its length."""
    first = next((v.text for v in source.iter("voice")), None)
    length = 0
    for note in source.findall("note"):
        own = note.find("voice")
        if note.find("grace") is not None or (own is not None and own.text != first):
            continue
        copy = _note(note, voice, times, octaves)
        measure.append(copy)
        if note.find("chord") is None:
            length += int(copy.findtext("duration", "0"))
    return length


def _note(note: Element, voice: int, times: int, octaves: int) -> Element:
    copy = deepcopy(note)
    for name in LEFT_OUT:
        for child in copy.findall(name):
            copy.remove(child)
    kept = [*note.findall("notations/tied"), *note.findall("notations/tuplet")]
    if kept:
        notations = ElementTree.SubElement(copy, "notations")
        notations.extend(deepcopy(kept))
    for child in copy.findall("voice"):
        copy.remove(child)
    duration = copy.find("duration")
    assert duration is not None
    duration.text = str(round(float(duration.text or "0") * times))
    place = list(copy).index(duration) + 1 + len(copy.findall("tie"))
    element = Element("voice")
    element.text = str(voice)
    copy.insert(place, element)
    for octave in copy.iter("octave"):
        octave.text = str(int(octave.text or "4") + octaves)
    return copy


def ours(data: bytes) -> list[Measure]:
    """Our page of it, read off the display list."""
    lesson = musicxml_read.read(data, "piece.musicxml", octave=-1).lesson
    cache = Cache()
    layout = engrave(lesson, PageStyle(staves="staff", flow="line"), metrics(), cache)
    return [_our_measure(layout, cache, number) for row in layout.breaks for number in row]


def _our_measure(layout: Layout, cache: Cache, number: int) -> Measure:
    system = layout.systems[layout.index[number][0]]
    signs: dict[int, list[Glyph]] = {}
    for item in system.body.items:
        if isinstance(item, Glyph) and item.source:
            signs.setdefault(item.source, []).append(item)
    found: Measure = {}
    before: dict[int, int] = {}
    for cluster in cache.boxes[number].clusters:
        if cluster.heads:
            joined = cluster.group >= 0 and before.get(cluster.voice) == cluster.group
            found.setdefault(cluster.voice, []).append(_our_event(cluster, signs, joined))
        before[cluster.voice] = cluster.group
    return found


def _our_event(cluster: Cluster, signs: dict[int, list[Glyph]], joined: bool) -> Seen:
    rows: list[tuple[float, float, str]] = []
    for head in cluster.heads:
        names = {NAMES[g.code]: g for g in signs[head.note.id]}
        glyph = next(g for n, g in names.items() if n.startswith("notehead"))
        accidental = next(
            (n.removeprefix("accidental") for n in names
             if n.startswith("accidental") and "Parens" not in n), "",
        )  # fmt: skip
        accidental = f"({accidental})" if "accidentalParensLeft" in names else accidental
        rows.append((glyph.y, glyph.x, accidental))
    stem = ("up" if cluster.up else "down") if cluster.stemmed else ""
    return _event(rows, stem, joined)


def _event(rows: list[tuple[float, float, str]], stem: str, joined: bool) -> Seen:
    rows.sort()
    top = rows[0][0]
    heads = tuple(Head(round(2 * (y - top)), accidental) for y, _, accidental in rows)
    return Seen(min(x for _, x, _ in rows), top, heads, stem, joined)


def theirs(data: bytes) -> list[Measure]:
    """The library's page, read off its SVG."""
    return [_their_measure(node) for node in drawn(data, 100000)]


def _their_measure(measure: Element) -> Measure:
    found: Measure = {}
    for voice, layer in enumerate(having(measure, "layer")):
        beams = {
            note.get("id"): number
            for number, beam in enumerate(having(layer, "beam"))
            for note in having(beam, "note", "chord", "rest")
        }
        inside = {n.get("id") for chord in having(layer, "chord") for n in having(chord, "note")}
        before: int | None = None
        for node in having(layer, "note", "chord", "rest"):
            if node.get("id") in inside:
                continue
            beam = beams.get(node.get("id"))
            if not node.get("class", "").startswith("rest"):
                joined = beam is not None and beam == before
                found.setdefault(voice, []).append(_their_event(node, joined))
            before = beam
    return found


def _their_event(node: Element, joined: bool) -> Seen:
    rows: list[tuple[float, float, str]] = []
    notes = list(having(node, "note")) or [node]
    for note in notes:
        x, y = head_at(note)
        rows.append((y / UNITS, x / UNITS, accidental_of(note)))
    stem = ""
    for path in (p for s in having(node, "stem") for p in s.iter(f"{SVG}path")):
        ends = [float(v) / UNITS for v in re.findall(r"[ML][-\d.]+ ([-\d.]+)", path.get("d", ""))]
        stem = "up" if min(ends) < min(y for y, _, _ in rows) - 1.0 else "down"
    return _event(rows, stem, joined)


def compare(data: bytes) -> Counter[str]:
    """How many notes both drew, and in what they differ."""
    mine, other, must = ours(data), theirs(data), needed(data)
    result: Counter[str] = Counter(measures=abs(len(mine) - len(other)))
    for a, b, c in zip(mine, other, must, strict=False):
        if c is None:
            result["incomplete"] += 1
            continue
        sizes = [{v: len(row) for v, row in side.items() if row} for side in (a, b, c)]
        if sizes[0] != sizes[1] or sizes[0] != sizes[2]:
            result["events"] += 1
            continue
        for voice, row in a.items():
            result.update(_row(row, b[voice], c[voice]))
        result.update(_columns(a, b))
    return result


def _row(mine: list[Seen], other: list[Seen], must: list[Seen]) -> Counter[str]:
    """What differs in one voice of a measure."""
    result: Counter[str] = Counter()
    beamed = any(x.joined != y.joined for x, y in zip(mine, other, strict=True))
    for left, right, needs in zip(mine, other, must, strict=True):
        result["notes"] += len(left.heads)
        result["heads"] += [h.below for h in left.heads] != [h.below for h in right.heads]
        result["stems of other beams" if beamed else "stems"] += left.stem != right.stem
        result["beams"] += left.joined != right.joined
        for a, b, c in zip(left.heads, right.heads, needs.heads, strict=False):
            result.update(_accidentals(a.accidental, b.accidental, c.accidental))
    return result


def _accidentals(mine: str, other: str, must: str) -> Counter[str]:
    """What differs in the accidental of one note; `must` is what it needs."""
    sign = mine.strip("()")
    return Counter(
        {
            "needed": bool(must),
            "missing": bool(must) and mine != must,
            "missing there": bool(must) and other != must,
            "other signs": bool(sign and other) and sign != other,
            "own reminders": bool(sign) and not other and not must,
            "reminders of the file": bool(other) and not sign and not must,
        }
    )


def _columns(mine: Measure, other: Measure) -> Counter[str]:
    """Where the order of the columns differs, and which voice of a column stands aside."""
    result: Counter[str] = Counter()
    for i, one in enumerate(mine.get(0, [])):
        for j, two in enumerate(mine.get(1, [])):
            a, b = other[0][i], other[1][j]
            ours, theirs = two.x - one.x, b.x - a.x
            result["pairs"] += 1
            if _side(ours) == _side(theirs):
                continue
            lowest = one.y + one.heads[-1].below / 2
            if max(abs(ours), abs(theirs)) > NEAR:
                result["columns"] += 1
            elif lowest > two.y + 0.25:
                result["crossed voices"] += 1
            else:
                result["unisons" if abs(lowest - two.y) < 0.25 else "aside"] += 1
    return result


def _side(x: float) -> int:
    return 0 if abs(x) < SIDE else (1 if x > 0 else -1)


def needed(data: bytes) -> list[Measure | None]:
    """The accidentals that must be printed, by a plain rule: the pitch is not what the key or the
    last note on its line or space in the measure, in any voice, left it at. None for measures in
    which one voice ends before the other, without a rest."""
    made: list[Measure | None] = []
    fifths = 0
    for measure in ElementTree.fromstring(data).iter("measure"):
        fifths = int(measure.findtext("attributes/key/fifths", str(fifths)))
        made.append(_needed(measure, fifths))
    return made


def _needed(measure: Element, fifths: int) -> Measure | None:
    altered = dict.fromkeys("FCGDAEB"[:fifths], 1) if fifths > 0 else {}
    altered |= dict.fromkeys("BEADGCF"[:-fifths], -1) if fifths < 0 else {}
    notes: list[tuple[int, int, Element]] = []
    at = start = upper = 0
    for node in measure:
        length = int(node.findtext("duration", "0"))
        if node.tag == "backup":
            upper, at = at, at - length
        elif node.tag == "note":
            start = start if node.find("chord") is not None else at
            at += length if node.find("chord") is None else 0
            notes.append((start, int(node.findtext("voice", "1")) - 1, node))
    if at != upper:
        return None
    state: dict[tuple[str, str], int] = {}
    shown: dict[int, set[Element]] = {}
    for _, voice, note in sorted(notes, key=lambda row: row[:2]):
        if note.find("pitch") is None:
            continue
        step, octave = note.findtext("pitch/step", ""), note.findtext("pitch/octave", "")
        alter = int(note.findtext("pitch/alter", "0"))
        ties = [*note.findall("tie"), *note.findall("notations/tied")]
        tied = any(tie.get("type") == "stop" for tie in ties)
        if alter != state.get((step, octave), altered.get(step, 0)) and not tied:
            shown.setdefault(voice, set()).add(note)
        if not tied:
            state[step, octave] = alter
    return {
        voice: [_needed_event(row, shown.get(voice, set())) for row in _chords(notes, voice)]
        for voice in (0, 1)
    }


def _chords(notes: list[tuple[int, int, Element]], voice: int) -> list[list[Element]]:
    """The pitched notes of a voice, those of a chord together."""
    rows: list[list[Element]] = []
    for _, own, note in notes:
        if own != voice or note.find("pitch") is None:
            continue
        if note.find("chord") is not None:
            rows[-1].append(note)
        else:
            rows.append([note])
    return rows


def _needed_event(chord: list[Element], shown: set[Element]) -> Seen:
    names = {-2: "DoubleFlat", -1: "Flat", 0: "Natural", 1: "Sharp", 2: "DoubleSharp"}
    rows = [
        (
            -(int(n.findtext("pitch/octave", "4")) * 7 + STEPS.index(n.findtext("pitch/step", "C")))
            / 2,
            0.0,
            names[int(n.findtext("pitch/alter", "0"))] if n in shown else "",
        )
        for n in chord
    ]
    return _event(rows, "", False)
