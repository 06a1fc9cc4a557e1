"""Walking through one part of a MusicXML file: time, attributes, barlines, measures."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from core.formats.imported import Ledger
from core.formats.musicxml_container import Element
from core.formats.musicxml_names import (
    BARLINES,
    GUITAR,
    NEAR_BARLINES,
    SILENT,
    left_out_name,
    read_our_text,
)
from core.formats.musicxml_raw import (
    Clef,
    EndPoint,
    RawBar,
    RawDynamic,
    RawEvent,
    RawMeasure,
    RawPart,
    Tuning,
)
from core.formats.musicxml_read_direction import read_direction, read_harmony, read_sound
from core.formats.musicxml_read_note import read_note
from core.formats.musicxml_values import Ticks
from core.model import TICKS_PER_QUARTER, TICKS_PER_WHOLE, Key, Metre
from core.model.errors import BadInput
from core.model.measure import Sign
from core.model.pitch import MODES

LONGEST_MEASURE = 64 * TICKS_PER_WHOLE
MOST_TIMES = 99


class PartReader:
    """The state of a walk through one part. Everything it finds goes into `part` and `ledger`."""

    def __init__(self, part: RawPart, ledger: Ledger, file_name: str, ours: bool) -> None:
        self.part = part
        self.ledger = ledger
        self.file_name = file_name
        self.ours = ours
        self.guitar = GUITAR.search(part.name) is not None or "guitar" in part.sound
        self.division = Fraction(TICKS_PER_QUARTER)
        self.position: Ticks = 0
        self.last: RawEvent | None = None
        self.key = Key(0)
        self.metre: Metre | None = None
        self.measure = RawMeasure(0, "0", False, None, self.key)
        self._known: dict[str, Ticks] = {}
        self._pending: list[EndPoint | RawDynamic] = []
        self._tuplets: dict[str, dict[str, tuple[int, int]]] = {}
        self._trills: set[str] = set()

    def read(self, element: Element) -> None:
        """Read every measure of a ``<part>``."""
        for index, measure in enumerate(element.iterfind("measure")):
            self._read_measure(index, measure)

    def _read_measure(self, index: int, element: Element) -> None:
        number = (element.get("number") or str(index + 1)).strip()[:20]
        implicit = element.get("implicit") == "yes"
        self.measure = RawMeasure(index, number, implicit, self.metre, self.key)
        self.part.measures.append(self.measure)
        self.position, self.last = 0, None
        self._pending.clear()
        for child in element:
            known = READERS.get(child.tag)
            if known is not None:
                known(self, child)
            elif child.tag not in SILENT:
                self.drop(*left_out_name(child.tag))

    # ------------------------------------------------------------ for the readers of elements

    def at(self, element: Element, what: str) -> str:
        """The sentence of a refusal: file, line, measure, what."""
        line = f", line {element.sourceline}" if element.sourceline else ""
        return f"{self.file_name}{line}, measure {self.measure.number}: {what}."

    def drop(self, one: str, many: str, key: object = None) -> None:
        self.ledger.drop(one, many, self.measure.number, key)

    def mend(self, text: str) -> None:
        self.ledger.mend(text, self.measure.number)

    def ticks(self, text: str) -> Ticks:
        """A duration in divisions as ticks."""
        known = self._known.get(text)
        if known is None:
            if not re.fullmatch(r"\s*[+-]?\d{1,9}(\.\d{1,6})?\s*", text):
                raise BadInput(
                    f"{self.file_name}, measure {self.measure.number}: "
                    f"{text.strip()[:20]!r} is no duration."
                )
            exact = Fraction(text.strip()) * self.division
            known = int(exact) if exact.denominator == 1 else exact
            self._known[text] = known
        return known

    def add(self, event: RawEvent, ticks: Ticks) -> None:
        """A new event at the present position."""
        self.measure.events.append(event)
        self.last = event
        for waiting in self._pending:
            waiting.event = event
        self._pending.clear()
        self._move(ticks)

    def _move(self, ticks: Ticks) -> None:
        self.position += ticks
        if self.position > LONGEST_MEASURE:
            raise BadInput(
                f"{self.file_name}, measure {self.measure.number}: "
                "the measure is longer than 64 whole notes."
            )
        self.measure.length = max(self.measure.length, self.position)

    def wait(self, thing: EndPoint | RawDynamic) -> None:
        """Bind a direction to the next event, if one follows at once."""
        self._pending.append(thing)

    def transposition(self, staff: int) -> tuple[int, int]:
        """Semitones and steps from written to sounding pitch on a staff now."""
        table = self.part.transpose
        return table.get(staff) or table.get(0) or (0, 0)

    def tuplet_stack(self, voice: str, element: Element) -> tuple[tuple[int, int], ...]:
        """The figures of the tuplets open at a note, outermost first, where the file gives them."""
        if element.find("time-modification") is None:
            return ()
        opened = self._tuplets.setdefault(voice, {})
        ended = []
        for tuplet in element.iterfind("notations/tuplet"):
            number = tuplet.get("number") or "1"
            if tuplet.get("type") == "start":
                actual = tuplet.findtext("tuplet-actual/tuplet-number") or ""
                normal = tuplet.findtext("tuplet-normal/tuplet-number") or ""
                figures = actual.isdecimal() and normal.isdecimal() and len(actual + normal) < 7
                opened[number] = (int(actual), int(normal)) if figures else (0, 0)
            else:
                ended.append(number)
        stack = tuple(opened.values())
        for number in ended:
            opened.pop(number, None)
        for other in element.iterfind("notations/other-notation"):
            found = read_our_text(other.text or "")
            text = str(found[1].get("tuplets", "")) if found else ""
            if re.fullmatch(r"\d{1,3}:\d{1,3}(@\d{1,3}:\d{1,3}){0,3}", text):
                pairs = [pair.split(":") for pair in text.split("@")]
                stack = tuple((int(a), int(n)) for a, n in pairs)
        return stack if len(stack) > 1 and all(a and n for a, n in stack) else ()

    def trilling(self, element: Element) -> bool:
        """Whether a wavy line belongs to a trill that began before."""
        number = element.get("number") or "1"
        parent = element.getparent()
        if parent is not None and parent.find("trill-mark") is not None:
            self._trills.add(number)
        if number not in self._trills:
            return False
        if element.get("type") == "stop":
            self._trills.discard(number)
        return True

    def line_content(self, element: Element, end: EndPoint) -> dict[str, object]:
        """What an element of ours beside a slur or line says about it."""
        notations = element.getparent()
        while notations is not None and notations.tag != "notations":
            notations = notations.getparent()
        if notations is None:
            return {}
        for other in notations.iterfind("other-notation"):
            found = read_our_text(other.text or "")
            if (
                found is not None
                and found[0] == "line"
                and other.get("number", "1") == end.number
                and other.get("type") == element.get("type")
                and found[1].get("of") == element.tag
            ):
                return found[1]
        return {}

    # ------------------------------------------------------------ elements of a measure

    def read_backup(self, element: Element) -> None:
        self.position = max(0, self.position - self._duration(element))
        self.last = None
        self._pending.clear()

    def read_forward(self, element: Element) -> None:
        self._pending.clear()
        self._move(self._duration(element))
        self.last = None

    def _duration(self, element: Element) -> Ticks:
        ticks = self.ticks(element.findtext("duration") or "0")
        if ticks < 0:
            raise BadInput(self.at(element, "a duration is negative"))
        return ticks

    def read_attributes(self, element: Element) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            self._divide(element, divisions)
        for key in element.iterfind("key"):
            if key.get("number", "1") == "1":
                self._change_key(element, key)
        for time in element.iterfind("time"):
            if time.get("number", "1") == "1":
                self._change_metre(element, time)
        staves = (element.findtext("staves") or "1").strip()
        if staves.isdecimal() and len(staves) < 3:
            self.part.staves = max(self.part.staves, int(staves))
        for clef in element.iterfind("clef"):
            self._clef(clef)
        for details in element.iterfind("staff-details"):
            self._tuning(details)
        for transpose in element.iterfind("transpose"):
            self._transpose(transpose)
        for style in element.iterfind("measure-style"):
            for child in style:
                if child.tag != "multiple-rest":
                    self.drop(*left_out_name(child.tag))

    def _divide(self, element: Element, text: str) -> None:
        if not re.fullmatch(r"\s*\d{1,9}(\.\d{1,6})?\s*", text) or not float(text):
            raise BadInput(self.at(element, f"{text.strip()[:20]!r} divisions of a quarter note"))
        self.division = Fraction(TICKS_PER_QUARTER) / Fraction(text.strip())
        self._known = {}

    def _change_key(self, element: Element, key: Element) -> None:
        if key.find("key-step") is not None:
            self.mend("Key signatures that no key has are written as accidentals")
            fifths = 0
        else:
            text = (key.findtext("fifths") or "").strip()
            if not re.fullmatch(r"-?\d{1,2}", text):
                raise BadInput(self.at(element, f"{text[:20]!r} is no key signature"))
            fifths = int(text)
            if abs(fifths) > 7:
                self.mend("Keys beyond seven accidentals are written with seven")
        mode = (key.findtext("mode") or "major").strip()
        if mode not in MODES:
            mode = "major"
        self.key = Key(max(-7, min(7, fifths)), mode)
        if self.position == 0:
            self.measure.key = self.key
        else:
            self.mend("Key changes inside a measure are made at its end")

    def _change_metre(self, element: Element, time: Element) -> None:
        metre = _metre(time)
        if metre is None and time.find("senza-misura") is None:
            self.mend("Metres that cannot be counted are left as they were")
            return
        if metre is None:
            self.mend("Music without metre has measures of its own length")
        self.metre = metre
        if self.position == 0:
            self.measure.metre = metre
            self.measure.ours["senza"] = metre is None
        else:
            self.mend("Metre changes inside a measure are made at its end")

    def _clef(self, element: Element) -> None:
        number = element.get("number", "1")
        sign = (element.findtext("sign") or "G").strip()
        line = (element.findtext("line") or "2").strip()
        octave = (element.findtext("clef-octave-change") or "0").strip()
        clef = Clef(
            sign,
            int(line) if re.fullmatch(r"\d", line) else 2,
            int(octave) if re.fullmatch(r"-?\d", octave) else 0,
        )
        if number.isdecimal():
            self.part.clefs.setdefault(int(number), clef)

    def _tuning(self, element: Element) -> None:
        number = element.get("number", "1")
        if not number.isdecimal():
            return
        tuning = self.part.tunings.setdefault(int(number), Tuning())
        lines = (element.findtext("staff-lines") or "").strip()
        if lines.isdecimal():
            tuning.lines = int(lines)
        for row in element.iterfind("staff-tuning"):
            line = row.get("line", "")
            step = (row.findtext("tuning-step") or "").strip()
            alter = (row.findtext("tuning-alter") or "0").strip()
            octave = (row.findtext("tuning-octave") or "").strip()
            if (
                re.fullmatch(r"\d{1,2}", line)
                and re.fullmatch("[A-G]", step)
                and re.fullmatch(r"-?[0-3](\.0+)?", alter)
                and re.fullmatch(r"\d", octave)
            ):
                tuning.strings[int(line)] = (step, int(float(alter)), int(octave))
        capo = (element.findtext("capo") or "").strip()
        if capo.isdecimal() and int(capo) <= 12:
            tuning.capo = int(capo)

    def _transpose(self, element: Element) -> None:
        chromatic = (element.findtext("chromatic") or "0").strip()
        octaves = (element.findtext("octave-change") or "0").strip()
        diatonic = (element.findtext("diatonic") or "").strip()
        if not re.fullmatch(r"-?\d{1,2}(\.0*)?", chromatic) or not re.fullmatch(r"-?\d", octaves):
            raise BadInput(self.at(element, "a transposition cannot be read"))
        semitones = int(float(chromatic))
        steps = int(diatonic) if re.fullmatch(r"-?\d{1,2}", diatonic) else round(semitones * 7 / 12)
        number = element.get("number", "")
        staff = int(number) if number.isdecimal() else 0
        self.part.transpose[staff] = (semitones + 12 * int(octaves), steps + 7 * int(octaves))

    def read_barline(self, element: Element) -> None:
        location = element.get("location", "right")
        bar = RawBar(location, self.position)
        style = (element.findtext("bar-style") or "").strip()
        if style in NEAR_BARLINES and location == "right":
            self.mend("Barlines of rare shape are written in the nearest usual one")
        bar.style = BARLINES.get(style, NEAR_BARLINES.get(style, ""))
        repeat = element.find("repeat")
        if repeat is not None:
            bar.repeat = repeat.get("direction", "")
            times = repeat.get("times", "2")
            bar.times = int(times) if re.fullmatch(r"\d\d?", times) and int(times) else 2
        ending = element.find("ending")
        if ending is not None:
            bar.ending = ending.get("type", "")
            bar.passes = _passes(ending.get("number", ""))
        self._check_middle(bar, style)
        self.measure.bars.append(bar)
        for sign in ("segno", "coda"):
            if element.find(sign) is not None:
                self.measure.marks.append(("sign", self.position, Sign(sign)))
        for _ in element.iterfind("fermata"):
            self.drop("fermata on a barline", "fermatas on barlines")

    def _check_middle(self, bar: RawBar, style: str) -> None:
        if bar.location == "middle" and not bar.repeat and not bar.ending:
            self.drop("barline inside a measure", "barlines inside measures")
        elif bar.location == "left" and style == "light-light":
            bar.style = "double"

    def read_print(self, element: Element) -> None:
        self.measure.new_system |= "yes" in (element.get("new-system"), element.get("new-page"))


def _passes(text: str) -> tuple[int, ...]:
    """``1, 2`` or ``1-3`` as numbers."""
    passes: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", text):
        passes += range(int(first), int(last or first) + 1)
    return tuple(dict.fromkeys(p for p in passes if 1 <= p <= MOST_TIMES))


def _metre(time: Element) -> Metre | None:
    """The metre of a ``<time>``; composite ones in their smallest unit."""
    pairs = list(zip(_texts(time, "beats"), _texts(time, "beat-type"), strict=False))
    if not pairs or not all(
        re.fullmatch(r"\d{1,2}(\s*\+\s*\d{1,2})*", beats) and re.fullmatch(r"\d{1,2}", unit)
        for beats, unit in pairs
    ):
        return None
    unit = max(int(unit) for _, unit in pairs)
    groups: list[int] = []
    for beats, own in pairs:
        if not int(own) or unit % int(own):
            return None
        groups += [int(beat) * (unit // int(own)) for beat in beats.split("+")]
    symbol = time.get("symbol", "")
    fits = (symbol, groups, unit) in (("common", [4], 4), ("cut", [2], 2))
    try:
        return Metre(groups, unit, symbol if fits else "")
    except ValueError:
        return None


def _texts(element: Element, tag: str) -> Iterator[str]:
    for child in element.iterfind(tag):
        yield (child.text or "").strip()


READERS = {
    "note": read_note,
    "backup": PartReader.read_backup,
    "forward": PartReader.read_forward,
    "attributes": PartReader.read_attributes,
    "barline": PartReader.read_barline,
    "print": PartReader.read_print,
    "direction": read_direction,
    "harmony": read_harmony,
    "sound": read_sound,
}
