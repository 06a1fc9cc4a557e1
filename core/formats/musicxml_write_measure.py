"""Writing measures: attributes, barlines, voices one after another, the tablature staff."""

from __future__ import annotations

from collections.abc import Mapping

from core.formats import musicxml_write_marks as marks
from core.formats.musicxml_lines import Lines
from core.formats.musicxml_names import ALTER_ACCIDENTALS
from core.formats.musicxml_tuplets import brackets
from core.formats.musicxml_write_note import Staff, Written, write_event
from core.formats.musicxml_xml import Element, child, leaf
from core.model import (
    TICKS_PER_QUARTER,
    Ending,
    Event,
    Instrument,
    Key,
    Lesson,
    Measure,
    Metre,
    Pitch,
    Section,
    TempoMark,
    walk,
)
from core.model.measure import MeasureMark
from core.page import accidentals

STYLES = {"single": "regular", "double": "light-light", "final": "light-heavy",
          "dashed": "dashed", "none": "none"}  # fmt: skip
MIDDLE_OF_TREBLE = 34  # steps above C0 of B4


class MeasureWriter:
    """Writes the measures of a lesson in order, knowing what stood before."""

    def __init__(self, lesson: Lesson, lines: Lines, tick: int) -> None:
        self.lesson = lesson
        self.arrangement = lesson.arrangement
        self.lines = lines
        self.tick = tick
        self.numbers = walk.numbers(self.arrangement)
        self.order = {m.id: i for i, m in enumerate(walk.measures(self.arrangement))}
        self.metre: Metre | None = None
        self.key: Key | None = None
        self.new_line = False
        self.before: Mapping[int, int] = {}
        self.tied: dict[int, frozenset[Pitch]] = {}
        self.extra = 0
        self.brackets: Mapping[int, list[tuple[int, str]]] = {}
        shown = lesson.settings.staves
        clef_octave = self.arrangement.clef_shows_octave
        octaves = 0 if clef_octave or shown == "tab" else 1
        middle = MIDDLE_OF_TREBLE - (7 if octaves == 0 and shown != "tab" else 0)
        two = shown == "staff and tab"
        self.staff = Staff(1 if two else 0, shown == "tab", octaves, middle)
        self.tab = Staff(2, True, octaves, MIDDLE_OF_TREBLE) if two else None

    def write(self, part: Element) -> None:
        """All measures into a ``<part>``."""
        for section in self.arrangement.sections:
            for index, measure in enumerate(section.measures):
                self._measure(part, section, index, measure)

    def _measure(self, part: Element, section: Section, index: int, measure: Measure) -> None:
        element = child(part, "measure", self._name(measure))
        if self.new_line:
            child(element, "print", {"new-system": "yes"})
        self._attributes(element, measure, first=len(part) == 1)
        last = index == len(section.measures) - 1
        self._left(element, section, measure, first=index == 0)
        if index == 0:
            marks.write_section(element, section, _told(section))
        marks.write_measure_content(element, measure, self._content(section, measure, last))
        if len(part) == 1 and not self._shows_tempo(measure):
            marks.write_goal(element, self.arrangement.tempo)
        for sign in measure.signs:
            if marks.at_start(sign):
                marks.write_sign(element, sign)
        for end in self.lines.measures.get(measure.id, ()):
            marks.write_line(element, end)
        self._music(element, measure)
        for sign in measure.signs:
            if not marks.at_start(sign):
                marks.write_sign(element, sign)
        self._right(element, section, measure, last=last)
        self.new_line = measure.line_break
        self.before = accidentals.left_behind(measure, measure.key)

    def _name(self, measure: Measure) -> dict[str, str]:
        """The printed number; uncounted measures are implicit and have one of their own."""
        number = self.numbers[measure.id]
        if measure.counted:
            return {"number": str(number)}
        self.extra += 1
        if self.extra == 1 and self.order[measure.id] == 0:
            return {"number": "0", "implicit": "yes"}
        return {"number": f"X{self.extra}", "implicit": "yes"}

    def _shows_tempo(self, measure: Measure) -> bool:
        """Whether the first tempo mark at the start is the piece's own."""
        tempo = self.arrangement.tempo
        shown = [m for m in measure.marks if isinstance(m, TempoMark) and m.at.ticks == 0]
        marked = [m for m in shown if m.beat is not None and m.per_minute is not None]
        return bool(marked) and (marked[0].beat, marked[0].per_minute) == (
            tempo.beat, tempo.per_minute,
        )  # fmt: skip

    def _content(self, section: Section, measure: Measure, last: bool) -> dict[str, object]:
        """What the elements of the measure do not tell a reader."""
        said: dict[str, object] = {}
        filled = max([measure.filled_ticks(v) for v in range(len(measure.voices))] + [0])
        ticks = max(filled, measure.ticks)
        told = None if ticks == measure.metre.ticks else ticks
        meant = None if measure.own_length is None else measure.own_length.ticks
        if told != meant:
            said["own_length"] = None if measure.own_length is None else str(measure.own_length)
        if measure.barline and self._repeats(section, measure, last):
            said["barline"] = measure.barline
        if measure.line_break and self.order[measure.id] == len(self.order) - 1:
            said["line_break"] = True
        if measure.same_as is not None:
            said["same_as"] = self.order[measure.same_as]
        return said

    # ------------------------------------------------------------ attributes

    def _attributes(self, element: Element, measure: Measure, *, first: bool) -> None:
        new_key, new_metre = measure.key != self.key, measure.metre != self.metre
        if not (first or new_key or new_metre):
            return
        attributes = child(element, "attributes")
        if first:
            leaf(attributes, "divisions", str(TICKS_PER_QUARTER // self.tick))
        if new_key:
            key = child(attributes, "key")
            leaf(key, "fifths", str(measure.key.fifths))
            leaf(key, "mode", measure.key.mode)
        if new_metre:
            _time(attributes, measure.metre)
        if first:
            self._staves(attributes)
        self.key, self.metre = measure.key, measure.metre

    def _staves(self, attributes: Element) -> None:
        instrument = self.arrangement.instrument
        if self.tab is not None:
            leaf(attributes, "staves", "2")
        if not self.staff.tablature:
            clef = child(attributes, "clef", {"number": "1"} if self.tab else {})
            leaf(clef, "sign", "G")
            leaf(clef, "line", "2")
            if self.staff.octaves == 0:
                leaf(clef, "clef-octave-change", "-1")
        if self.tab is not None or self.staff.tablature:
            clef = child(attributes, "clef", {"number": "2"} if self.tab else {})
            leaf(clef, "sign", "TAB")
            leaf(clef, "line", str(max(5, len(instrument.strings) - 1)))
        number = "2" if self.tab is not None else "1"
        _details(attributes, instrument, number, self.tab is not None or self.staff.tablature)
        if self.staff.octaves:
            transpose = child(attributes, "transpose")
            leaf(transpose, "diatonic", "0")
            leaf(transpose, "chromatic", "0")
            leaf(transpose, "octave-change", "-1")

    # ------------------------------------------------------------ barlines

    def _left(self, element: Element, section: Section, measure: Measure, *, first: bool) -> None:
        ending = _starting(section, measure)
        repeat = first and section.times > 1
        if not repeat and ending is None:
            return
        bar = child(element, "barline", {"location": "left"})
        if repeat:
            leaf(bar, "bar-style", "heavy-light")
        if ending is not None:
            text = ", ".join(f"{n}." for n in ending.passes)
            leaf(bar, "ending", text, number=_passes(ending), type="start")
        if repeat:
            child(bar, "repeat", {"direction": "forward"})

    def _right(self, element: Element, section: Section, measure: Measure, *, last: bool) -> None:
        ending = _stopping(section, measure)
        repeat = self._repeats(section, measure, last)
        if not (repeat or ending or measure.barline):
            return
        bar = child(element, "barline", {"location": "right"})
        style = "light-heavy" if repeat else STYLES.get(measure.barline)
        if style:
            leaf(bar, "bar-style", style)
        if ending is not None:
            how = "stop" if ending.closed else "discontinue"
            child(bar, "ending", {"number": _passes(ending), "type": how})
        if repeat:
            times = {"times": str(section.times)} if section.times > 2 and not ending else {}
            child(bar, "repeat", {"direction": "backward", **times})

    def _repeats(self, section: Section, measure: Measure, last: bool) -> bool:
        """Whether the measure ends in a repeat sign."""
        if section.times < 2:
            return False
        ending = _stopping(section, measure)
        if ending is not None:
            return max(ending.passes) < section.times
        return last

    # ------------------------------------------------------------ music

    def _music(self, element: Element, measure: Measure) -> None:
        shown = self._accidentals(measure)
        waiting = sorted(measure.marks, key=lambda mark: mark.at.ticks)
        position = 0
        rows = [(voice, row) for voice, row in enumerate(measure.voices) if row]
        stops = self._stops(measure)
        self.brackets = brackets(measure)
        length = max(measure.ticks, *(measure.filled_ticks(v) for v, _ in rows), 0)
        if not rows:
            self._marks(element, waiting, 0, length)
        for place, (voice, row) in enumerate(rows):
            self._back(element, position)
            position = 0
            for event in row:
                if place == 0:
                    self._marks(element, waiting, position, position + event.ticks)
                self._event(element, event, voice, shown, stops, full=True)
                position += event.ticks
            if place == 0:
                self._marks(element, waiting, position, length + 1)
        if self.tab is not None:
            for voice, row in rows:
                self._back(element, position)
                position = 0
                for event in row:
                    self._event(element, event, voice, shown, stops, full=False)
                    position += event.ticks
        if position < length:
            leaf(child(element, "forward"), "duration", str((length - position) // self.tick))

    def _back(self, element: Element, position: int) -> None:
        if position:
            leaf(child(element, "backup"), "duration", str(position // self.tick))

    def _marks(
        self, element: Element, waiting: list[MeasureMark], position: int, until: int
    ) -> None:
        """The marks that stand before the next event begins."""
        while waiting and (waiting[0].at.ticks < until or waiting[0].at.ticks <= position):
            mark = waiting.pop(0)
            marks.write_mark(element, mark, (mark.at.ticks - position) // self.tick)

    def _event(
        self,
        element: Element,
        event: Event,
        voice: int,
        shown: Mapping[int, str],
        stops: Mapping[int, frozenset[str]],
        *,
        full: bool,
    ) -> None:
        written = Written(
            event, voice, stops.get(event.id, frozenset()), shown, self.tick,
            self.lines.notations.get(event.id, ()) if full else (),
            self.brackets.get(event.id, ()) if full else (),
        )  # fmt: skip
        if not full:
            assert self.tab is not None
            write_event(element, written, self.tab, full=False)
            return
        marks.write_dynamics(element, event, voice, self.staff.number)
        marks.write_lines(element, self.lines.before.get(event.id, ()), starts=True)
        write_event(element, written, self.staff, full=True)
        marks.write_lines(element, self.lines.after.get(event.id, ()), starts=False)

    def _accidentals(self, measure: Measure) -> dict[int, str]:
        held = frozenset((voice, pitch) for voice, row in self.tied.items() for pitch in row)
        needed = accidentals.needed(measure, self.before, held)
        return {
            note.id: ALTER_ACCIDENTALS[note.pitch.alter]
            for _, note in walk.notes(measure)
            if note.id in needed
        }

    def _stops(self, measure: Measure) -> dict[int, frozenset[str]]:
        """Event id -> the pitches a tie from the event before leads to; remembers the last."""
        found: dict[int, frozenset[str]] = {}
        for voice, row in enumerate(measure.voices):
            open_ties = self.tied.get(voice, frozenset())
            for event in row:
                pitches = {note.pitch for note in event.notes}
                found[event.id] = frozenset(str(pitch) for pitch in open_ties & pitches)
                open_ties = frozenset(note.pitch for note in event.notes if note.tied)
            self.tied[voice] = open_ties
        for voice in range(len(measure.voices), 4):
            self.tied.pop(voice, None)
        return found


def _time(attributes: Element, metre: Metre) -> None:
    time = child(attributes, "time", {"symbol": metre.symbol} if metre.symbol else {})
    leaf(time, "beats", "+".join(map(str, metre.groups)))
    leaf(time, "beat-type", str(metre.unit))


def _details(attributes: Element, instrument: Instrument, number: str, tab: bool) -> None:
    details = child(attributes, "staff-details", {"number": number})
    count = len(instrument.strings)
    leaf(details, "staff-lines", str(count if tab else 5))
    for line in range(1, count + 1):
        pitch = instrument.strings[count - line]
        tuning = child(details, "staff-tuning", {"line": str(line)})
        leaf(tuning, "tuning-step", pitch.step)
        if pitch.alter:
            leaf(tuning, "tuning-alter", str(pitch.alter))
        leaf(tuning, "tuning-octave", str(pitch.octave))
    if instrument.capo:
        leaf(details, "capo", str(instrument.capo))


def _told(section: Section) -> int:
    """How many times the repeat signs and endings of a section tell."""
    passes = [p for ending in section.endings for p in ending.passes]
    repeated = section.times > 1 and (
        any(max(ending.passes) < section.times for ending in section.endings)
        or not any(ending.last == section.measures[-1].id for ending in section.endings)
    )
    if not section.endings:
        return section.times
    return max([1, *passes, 2 if repeated else 1])


def _starting(section: Section, measure: Measure) -> Ending | None:
    return next((e for e in section.endings if e.first == measure.id), None)


def _stopping(section: Section, measure: Measure) -> Ending | None:
    return next((e for e in section.endings if e.last == measure.id), None)


def _passes(ending: Ending) -> str:
    return ", ".join(map(str, ending.passes))
