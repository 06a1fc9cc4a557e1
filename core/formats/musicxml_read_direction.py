"""Reading what stands above and below the notes: directions, sounds, chord diagrams."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import msgspec

from core.formats.lesson_json import from_text
from core.formats.musicxml_container import Element
from core.formats.musicxml_frames import chord_name, read_frame
from core.formats.musicxml_names import (
    A_TEMPO,
    BARRE_WORDS,
    DA_CAPO,
    DAL_SEGNO,
    FASTER,
    FINE,
    LET_RING,
    LOUDER,
    ROMAN,
    SILENT,
    SLOWER,
    SOFTER,
    TO_CODA,
    VIBRATO,
    from_numeral,
    left_out_name,
    read_our_text,
)
from core.formats.musicxml_raw import EndPoint, RawDynamic
from core.formats.musicxml_read_note import dynamic_texts
from core.formats.musicxml_values import Ticks
from core.model import SIGN_WORDS, Base, Length, PositionMark, Tempo, TempoMark, TextMark, Value
from core.model.measure import Sign

if TYPE_CHECKING:
    from core.formats.musicxml_read_part import PartReader


@dataclass(slots=True)
class _Found:
    """What the direction-types of one direction hold together."""

    words: list[str] = field(default_factory=list)
    rehearsals: list[str] = field(default_factory=list)
    signs: list[str] = field(default_factory=list)
    lines: list[Element] = field(default_factory=list)
    ours: list[tuple[str, dict[str, object]]] = field(default_factory=list)
    beat: Value | None = None
    per_minute: float | None = None
    goal: bool = False

    @property
    def text(self) -> str:
        return " ".join(word for word in self.words if word)


def read_direction(reader: PartReader, element: Element) -> None:
    """Take one ``<direction>`` into the measure."""
    tick = _moment(reader, element)
    staff = element.findtext("staff") or "1"
    found = _Found()
    for other in element.iterfind("direction-type/other-direction"):
        if ours := read_our_text(other.text or ""):
            found.ours.append(ours)
    for kind in element.iterfind("direction-type"):
        for child in kind:
            if not found.ours:
                _collect(reader, child, found, tick, int(staff) if staff.isdecimal() else 1)
    sound = element.find("sound")
    if found.ours:
        for word, content in found.ours:
            _ours(reader, word, content, tick, element)
        return
    below = element.get("placement") == "below"
    for text in found.rehearsals:
        reader.measure.marks.append(("rehearsal", tick, text))
    if _signs(reader, found, sound, tick):
        return
    if found.lines:
        _lines(reader, found, tick)
    elif not _tempo(reader, element, found, sound, tick) and found.text:
        _words(reader, found.text, tick, below)


def _moment(reader: PartReader, element: Element) -> Ticks:
    offset = element.find("offset")
    tick = reader.position
    if offset is not None:
        tick += reader.ticks(offset.text or "0")
    return max(0, tick)


def _collect(reader: PartReader, child: Element, found: _Found, tick: Ticks, staff: int) -> None:
    tag, text = child.tag, " ".join((child.text or "").split())
    if tag == "words":
        found.words.append(text)
    elif tag == "rehearsal":
        found.rehearsals.append(text)
    elif tag in ("segno", "coda"):
        found.signs.append(tag)
    elif tag in ("dashes", "bracket"):
        found.lines.append(child)
    elif tag == "wedge":
        _wedge(reader, child, tick)
    elif tag == "dynamics":
        for dynamic in dynamic_texts(child):
            waiting = RawDynamic(dynamic, reader.measure.index, tick, staff)
            reader.part.dynamics.append(waiting)
            if tick == reader.position:
                reader.wait(waiting)
    elif tag == "metronome":
        _metronome(reader, child, found)
    elif tag in ("damp", "damp-all"):
        waiting = RawDynamic("\0damp", reader.measure.index, tick, staff)
        reader.part.dynamics.append(waiting)
        reader.wait(waiting)
    elif tag not in SILENT and child.get("type") not in ("stop", "continue", "change"):
        reader.drop(*left_out_name(tag))


def _metronome(reader: PartReader, element: Element, found: _Found) -> None:
    units = element.findall("beat-unit")
    figure = re.search(r"\d+(\.\d+)?", element.findtext("per-minute") or "")
    if len(units) != 1 or figure is None:
        reader.drop("metronome relation", "metronome relations")
        return
    try:
        beat = Value(Base((units[0].text or "").strip()), len(element.findall("beat-unit-dot")))
        Tempo(beat, float(figure[0]))
    except ValueError:
        reader.drop("metronome mark out of range", "metronome marks out of range")
        return
    found.beat, found.per_minute = beat, float(figure[0])
    found.goal = element.get("print-object") == "no"


# ---------------------------------------------------------------- words and tempo


def effect_of(text: str) -> str:
    """What tempo words do to playback: slower, faster, a tempo, or nothing."""
    for pattern, effect in ((A_TEMPO, "a tempo"), (SLOWER, "slower"), (FASTER, "faster")):
        if pattern.search(text):
            return effect
    return ""


def _tempo(
    reader: PartReader, element: Element, found: _Found, sound: Element | None, tick: Ticks
) -> bool:
    """A tempo mark, if this is one; the first of the piece is its goal tempo too."""
    heard = _sound_tempo(sound)
    start = reader.measure.index == 0 and tick == 0
    if found.goal and found.beat and found.per_minute:
        reader.measure.marks.append(("goal", tick, Tempo(found.beat, found.per_minute)))
        return not found.text
    if found.per_minute is None and start and heard is not None:
        reader.measure.marks.append(("goal", tick, heard))
    effect = effect_of(found.text)
    beat, per_minute = found.beat, found.per_minute
    if per_minute is None and heard is not None and not start:
        if not found.text:
            reader.mend("Tempo changes without a mark are shown by one")
        beat, per_minute = heard.beat, heard.per_minute
    if (
        per_minute is None
        and not effect
        and not (found.text and (element.get("directive") == "yes" or heard is not None))
    ):
        return False
    mark = TempoMark(Length(0), found.text, beat, per_minute, effect)  # type: ignore[arg-type]
    reader.measure.marks.append(("tempo", tick, mark))
    return True


def _sound_tempo(sound: Element | None) -> Tempo | None:
    """The tempo a ``<sound>`` gives, in quarters a minute."""
    text = "" if sound is None else sound.get("tempo", "")
    if not re.fullmatch(r"\d{1,4}(\.\d{1,9})?", text):
        return None
    try:
        return Tempo(Value(Base.QUARTER), float(text))
    except ValueError:
        return None


def read_sound(reader: PartReader, element: Element) -> None:
    """A ``<sound>`` that stands alone: a tempo or a jump without words."""
    found = _Found()
    if not _signs(reader, found, element, reader.position):
        _tempo(reader, element, found, element, reader.position)


def _words(reader: PartReader, text: str, tick: Ticks, below: bool) -> None:
    numeral = from_numeral(text) if reader.guitar and ROMAN.fullmatch(text) else None
    if numeral is not None and 1 <= numeral <= 24:
        reader.measure.marks.append(("position", tick, PositionMark(numeral)))
    elif reader.guitar and BARRE_WORDS.fullmatch(text):
        for starts in (True, False):
            end = EndPoint("barre", f"single {tick}", starts, reader.measure.index, tick)
            end.text = text
            reader.part.ends.append(end)
            reader.wait(end)
    else:
        reader.measure.marks.append(("text", tick, TextMark(text, Length(0), below)))


def plain_words(text: str) -> bool:
    """Whether words alone are read back as the free text they are."""
    if not text or text != " ".join(text.split()) or effect_of(text):
        return False
    signs = (FINE, TO_CODA, DA_CAPO, DAL_SEGNO)
    if any(pattern.match(text) for pattern in signs):
        return False
    return not (ROMAN.fullmatch(text) or BARRE_WORDS.fullmatch(text))


# ---------------------------------------------------------------- signs of the road map


def _signs(reader: PartReader, found: _Found, sound: Element | None, tick: Ticks) -> bool:
    """Segno, coda, Fine, D.C., D.S. by sign, sound or words; True if the words were used up."""
    heard: dict[str, str] = {} if sound is None else {str(k): str(v) for k, v in sound.items()}
    text = found.text
    kind = ""
    if heard.get("dacapo") == "yes" or DA_CAPO.match(text):
        kind = "dc"
    elif "dalsegno" in heard or DAL_SEGNO.match(text):
        kind = "ds"
    elif "tocoda" in heard or TO_CODA.match(text):
        kind = "to coda"
    elif "fine" in heard or FINE.match(text):
        kind = "fine"
    if kind in ("dc", "ds"):
        kind += next((f" al {what}" for what in ("fine", "coda") if what in text.lower()), "")
    if not kind and not found.signs:
        found.signs += [sign for sign in ("segno", "coda") if sign in heard]
    if kind:
        said = "" if text in ("", SIGN_WORDS[kind]) else text
        reader.measure.marks.append(("sign", tick, Sign(kind, said)))  # type: ignore[arg-type]
        return True
    for sign in found.signs:
        reader.measure.marks.append(("sign", tick, Sign(sign)))  # type: ignore[arg-type]
    return False


# ---------------------------------------------------------------- lines


def _wedge(reader: PartReader, element: Element, tick: Ticks) -> None:
    how = element.get("type", "")
    if how not in ("crescendo", "diminuendo", "stop"):
        return
    number = "w" + element.get("number", "1")
    end = EndPoint("wedge", number, how != "stop", reader.measure.index, tick)
    end.text = how
    _place(reader, end, tick)


def _place(reader: PartReader, end: EndPoint, tick: Ticks) -> None:
    """A start waits for the next event, a stop takes the last one; elsewhere the moment tells."""
    reader.part.ends.append(end)
    if tick != reader.position:
        return
    if end.starts:
        reader.wait(end)
    else:
        end.event = reader.last


LINE_WORDS = (
    (SLOWER, "tempo"), (FASTER, "tempo"), (LOUDER, "crescendo"), (SOFTER, "diminuendo"),
    (LET_RING, "let ring"), (VIBRATO, "vibrato"), (BARRE_WORDS, "barre"),
)  # fmt: skip


def _lines(reader: PartReader, found: _Found, tick: Ticks) -> None:
    for line in found.lines:
        how = line.get("type", "")
        number = f"{line.tag} {line.get('number', '1')}"
        if how == "continue":
            continue
        end = EndPoint("words", number, how == "start", reader.measure.index, tick)
        end.text = found.text
        if end.starts:
            matches = (kind for words, kind in LINE_WORDS if words.search(found.text))
            end.kind = next(matches, "words")
        _place(reader, end, tick)
    kinds = {end.kind for end in reader.part.ends[-len(found.lines) :] if end.starts}
    if found.text and (not kinds or "words" in kinds):
        _words(reader, found.text, tick, False)


# ---------------------------------------------------------------- ours


def _ours(
    reader: PartReader,
    word: str,
    content: dict[str, object],
    tick: Ticks,
    element: Element,
) -> None:
    """A direction the program wrote itself: its element says exactly what was meant."""
    marks = reader.measure.marks
    text = str(content.get("text", ""))
    if word == "span":
        kind, number = str(content.get("kind", "")), f"ours {content.get('number', 0)}"
        end = EndPoint(kind, number, content.get("starts") is True, reader.measure.index, tick)
        end.text, end.ours = text, content
        end.optional = content.get("optional") is True
        end.hidden = content.get("hidden") is True
        _place(reader, end, tick)
    elif word in ("section", "measure", "version"):
        if word == "version":
            reader.measure.ours.setdefault("versions", [])
            rows = reader.measure.ours["versions"]
            if isinstance(rows, list):
                rows.append(content)
        else:
            reader.measure.ours.update(content if word == "measure" else {word: content})
    elif word == "position" and isinstance(fret := content.get("fret"), int):
        marks.append(("position", tick, PositionMark(fret)))
    elif word == "tempo":
        try:
            mark = msgspec.convert(content, TempoMark, dec_hook=from_text)
        except (msgspec.ValidationError, ValueError):
            return
        marks.append(("tempo", tick, mark))
    elif word == "text":
        marks.append(("text", tick, TextMark(text, Length(0), element.get("placement") == "below")))
    elif word == "sign" and content.get("kind") in SIGN_WORDS:
        marks.append(("sign", tick, Sign(content["kind"], text)))  # type: ignore[arg-type]
    elif word == "chord":
        reader.measure.marks.append(("shape", tick, content))


def read_harmony(reader: PartReader, element: Element) -> None:
    """A chord symbol: with a diagram a chord shape, without one a text above the staff."""
    tick = _moment(reader, element)
    frames = element.findall("frame")
    name = chord_name(element)
    if frames:
        shape = read_frame(frames[0], name)
        if shape is None:
            reader.drop("chord diagram without figures", "chord diagrams without figures")
        else:
            reader.measure.marks.append(("chord", tick, shape))
            return
    if name:
        reader.mend("Chord symbols without a diagram are kept as text")
        reader.measure.marks.append(("text", tick, TextMark(name)))
