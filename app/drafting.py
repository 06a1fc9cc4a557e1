"""Drafting in larger pieces: selections, the clipboard, measures, voices, and the kept source.

Holds no widget. Every method is what one key does and raises EditRefused with a sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar

from msgspec import structs
from PySide6.QtCore import QObject, Signal

from app import caret as carets
from app import clipboard
from app.caret import Caret
from app.messages import Messages
from app.selecting import Selecting
from app.session import OPENED, Session
from app.signs import reading
from app.writing import VOICE_WORDS, Writing
from core.edit import base
from core.edit.base import Command
from core.edit.change import Change
from core.edit.clip import ClearSelection, Clip, Paste, Selection, copy
from core.edit.measures import CopyMeasures, DeleteMeasures, InsertMeasures, RepeatMeasure, SameAs
from core.edit.metre import SetCounted, SetKey, SetMetre, SetOwnLength
from core.edit.rhythm import CompleteMeasure, TrimMeasure
from core.edit.rows import Mode
from core.edit.source import TakeFromSource, voices_of
from core.edit.splitting import JoinMeasures, SplitMeasure
from core.edit.strings import FigureOpenStrings, MoveStrings
from core.edit.together import Together
from core.edit.transpose import Transpose
from core.edit.voices import MoveToVoice, SwapVoices
from core.formats import plain_tab
from core.model import EditRefused, Length, Metre, SourcePart
from core.model.measure import Measure
from core.model.validate import problems

T = TypeVar("T")

# What told the values of a plain tab, for the message line.
TIMING = {
    "written": " with the values its letters give.",
    "spaced": "; where no letters say the values its spacing gave them: check them.",
    "even": "; where neither letters nor spacing tell the values they are even.",
}


class Drafting(QObject):
    """`source_changed()` when another part of the source is the one to take from."""

    source_changed = Signal()

    def __init__(
        self, session: Session, writing: Writing, selecting: Selecting, messages: Messages
    ) -> None:
        super().__init__()
        self._session, self._writing = session, writing
        self._selecting, self._messages = selecting, messages
        self._part, self._of = 0, 0
        self._own: Clip | None = None
        session.changed.connect(self._session_changed)

    def _session_changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields:
            self._part = 0  # of the sources of the lesson before

    # ------------------------------------------------------------------ clipboard

    def copy(self) -> Selection:
        """The selection, or the caret's measure, onto the clipboard: as music and as plain tab."""
        what = self._selecting.required()
        lesson = self._session.lesson
        self._own = copy(lesson, what)
        clipboard.put(self._own, plain_tab.write(lesson, what).text)
        words = self._selecting.words().replace(" selected", "") or "the measure"
        self._messages.note(f"Copied: {words}.")
        return what

    def cut(self) -> None:
        """Copy, and leave rests where the music was; the caret goes to where it began."""
        what = self.copy()
        self._keep(ClearSelection(what))
        self._to_start(what)

    def paste(self, mode: Mode = "overwrite") -> None:
        """The music on the clipboard at the caret, or a plain tab; the caret goes on behind it."""
        clip, told = self._held()
        caret = self._writing.caret
        one_voice = len({piece.voice for piece in clip.pieces}) == 1
        voice = caret.voice if one_voice else None
        measure, tick = caret.measure, caret.onset
        commands: list[Command] = []
        if tick >= self._writing.measure.ticks and self._writing.open:
            commands.append(InsertMeasures(measure))
            measure, tick = self._session.lesson.next_id, 0
        commands.append(Paste(measure, tick, clip, voice, mode))
        command = Together(tuple(commands), "paste")
        if clip is not self._own:
            self._check(command)
        self._writing.do(command)
        self._selecting.drop()
        self._writing.stay(self._behind(measure, tick + _length(clip)))
        if told:
            self._messages.note(told)

    def _held(self) -> tuple[Clip, str]:
        """What there is to paste, and what to say about it."""
        found = clipboard.music()
        if found is not None and found.pieces:
            return (self._own if self._own == found and self._own is not None else found), ""
        text = clipboard.text()
        if not text.strip():
            raise EditRefused("There is nothing to paste; Ctrl+C copies what is selected.")
        measure = self._writing.measure
        instrument = self._session.lesson.arrangement.instrument
        read = plain_tab.read(text, instrument, measure.metre, measure.key)
        return read.clip, " ".join(("Pasted from plain tab" + TIMING[read.timing], *read.remarks))

    def _check(self, command: Command) -> None:
        """What other programs laid on the clipboard must make a sound lesson."""
        found = problems(base.apply(command, self._session.lesson).lesson)
        if found:
            raise EditRefused(f"That cannot be pasted: {found[0].sentence}")

    def _behind(self, measure: int, ticks: int) -> Caret:
        """The caret at so many ticks after a measure's start, over barlines."""
        outline, caret = self._writing.outline, self._writing.caret
        position = outline.index[measure]
        while position + 1 < len(outline.measures) and ticks >= outline.measures[position].ticks:
            ticks -= outline.measures[position].ticks
            position += 1
        return structs.replace(caret, measure=outline.measures[position].id, onset=ticks, rank=0)

    def copy_tab(self) -> None:
        """The whole selection as plain tab only, for a mail or a message; says what it lacks."""
        written = plain_tab.write(self._session.lesson, self._selecting.required())
        clipboard.put_text(f"{written.text}\n{plain_tab.LEGEND}")
        lacks = f"; it does not say: {', '.join(written.left_out)}" if written.left_out else ""
        self._messages.note(f"Copied as plain tab{lacks}.")

    # ------------------------------------------------------------------ selected notes

    def delete(self) -> None:
        """Rests in place of what is selected; without a selection the note at the caret goes."""
        found = self._selecting.selection
        if found is None:
            self._writing.delete()
        else:
            self._keep(ClearSelection(found))

    def close_up(self) -> None:
        """Take out what is selected, or the event at the caret; what follows moves up."""
        found = self._selecting.selection
        if found is None:
            self._writing.close_up()
        else:
            self._keep(ClearSelection(found, close_up=True))
            self._to_start(found)

    def transpose(self, by: int, along_key: bool = False) -> None:
        """Move what is selected, or the note at the caret, by semitones or steps of the key."""
        found = self._selecting.selection
        if found is None:
            self._writing.shift(by, along_key)
        else:
            self._keep(Transpose(found, by, along_key))

    def to_string(self, by: int) -> None:
        """What is selected, or the note at the caret, on the next string at the same pitch."""
        found = self._selecting.selection
        if found is None:
            self._writing.to_string(by)
        else:
            self._keep(MoveStrings(found, by))

    def figure_open_strings(self) -> None:
        """The figure 0 at the open strings of the selection, or of the measure."""
        self._keep(FigureOpenStrings(self._selecting.required()))

    def _keep(self, command: Command) -> Change:
        """An edit of the selection that leaves it selected."""
        return self._writing.do(command)

    def _to_start(self, what: Selection) -> None:
        """Nothing is selected any more and the caret is where the selection began."""
        self._selecting.drop()
        caret = self._writing.caret
        self._writing.stay(structs.replace(caret, measure=what.first, onset=what.start, rank=0))

    # ------------------------------------------------------------------ measures

    def insert_measure(self, where: Literal["before", "after"]) -> None:
        """An empty measure after the caret's, or before it; the caret goes there."""
        change = self._writing.do(InsertMeasures(self._writing.caret.measure, 1, where))
        if change.inserted:
            self._to(change.inserted[0])

    def delete_measure(self) -> None:
        """The caret's measure, or every measure of the selection, is gone; the caret goes to what

        came after it, or before it at the end.
        """
        first, last = self._selecting.measures
        position = self._writing.outline.index[first]
        self._writing.do(DeleteMeasures(first, last))
        self._selecting.drop()
        row = self._writing.outline.measures
        self._to(row[min(position, len(row) - 1)].id)

    def repeat_measure(self) -> None:
        """Write the measure, or the selected measures, once more after themselves; go there."""
        first, last = self._selecting.measures
        one = first == last
        change = self._writing.do(RepeatMeasure(first) if one else CopyMeasures(first, last, last))
        if change.inserted:
            self._selecting.drop()
            self._to(change.inserted[0])

    def complete_or_trim(self) -> None:
        """Make the measure as long as its metre: rests for what is missing, off with the rest."""
        measure = self._writing.measure
        over = any(measure.filled_ticks(v) > measure.ticks for v in range(len(measure.voices)))
        self._writing.do(TrimMeasure(measure.id) if over else CompleteMeasure(measure.id))

    def split(self) -> None:
        """A barline before the caret."""
        caret = self._writing.caret
        change = self._writing.do(SplitMeasure(caret.measure, caret.onset))
        if change.inserted:
            self._to(change.inserted[0])

    def join(self) -> None:
        """No barline any more between the caret's measure and the next."""
        self._writing.do(JoinMeasures(self._writing.caret.measure))

    def same_as(self, answer: str) -> None:
        """``3``: write what measure 3 has and keep the link; ``0``: drop the link.

        With several measures selected the model is measure 3 and those after it.
        """
        outline = self._writing.outline
        number = _whole(answer, "Write the number of a measure, or 0 for no longer the same.")
        first, last = self._selecting.measures
        row = outline.measures[outline.index[first] : outline.index[last] + 1]
        if number == 0:
            commands = tuple(SameAs(measure.id, None) for measure in row)
        else:
            model = self._numbered(number)
            start = outline.index[model.id]
            models = outline.measures[start : start + len(row)]
            if len(models) < len(row):
                raise EditRefused(
                    f"From measure {number} on there are fewer than {len(row)} measures; "
                    "select fewer, or name an earlier one."
                )
            pairs = zip(row, models, strict=True)
            commands = tuple(SameAs(measure.id, other.id) for measure, other in pairs)
        self._writing.do(Together(commands, commands[0].label))

    def more_same_as(self, answer: str) -> None:
        """``1`` or ``1-2``: write those measures once more after the caret's, with the link."""
        low, _, high = answer.replace(" ", "").partition("-")
        wanted = "Write a measure's number, or the first and last: 1-2."
        first = self._numbered(_whole(low, wanted))
        last = self._numbered(_whole(high or low, wanted))
        caret = self._writing.caret
        empty = not any(self._writing.measure.voices)
        copied: list[Command] = [CopyMeasures(first.id, last.id, caret.measure)]
        if empty and caret.measure not in (first.id, last.id):
            copied.append(DeleteMeasures(caret.measure, caret.measure))
        change = self._writing.do(Together(tuple(copied), copied[0].label))
        if change.inserted:
            self._writing.stay(self._end_of(change.inserted[-1]))

    def _end_of(self, measure_id: int) -> Caret:
        """Where the caret's voice goes on after a measure."""
        caret = structs.replace(self._writing.caret, measure=measure_id, rank=0)
        outline = self._writing.outline
        measure = outline.measures[outline.index[measure_id]]
        return carets.after(outline, caret, carets.filled(measure, caret.voice))

    def _numbered(self, number: int) -> Measure:
        outline = self._writing.outline
        found = (m for m in outline.measures if outline.numbers[m.id] == number and m.counted)
        measure = next(found, None)
        if measure is None:
            last = max(outline.numbers.values())
            raise EditRefused(f"There is no measure {number}; the last one is {last}.")
        return measure

    def _to(self, measure: int) -> None:
        caret = self._writing.caret
        self._writing.stay(Caret(measure, 0, caret.on, caret.string, 0, caret.voice))

    # ------------------------------------------------------------------ metre and key

    def head(self, answer: str) -> None:
        """``6/8``, ``A minor``, ``Am`` or both: metre and key from the caret's measure on."""
        measure = self._writing.caret.measure
        commands: list[Command] = []
        words = answer.split()
        if words and "/" in words[0]:
            commands.append(
                SetMetre(
                    measure, _parsed(Metre.parse, words.pop(0), "a metre; write one such as 6/8")
                )
            )
        if words:
            commands.append(SetKey(measure, reading.key(" ".join(words))))
        if not commands:
            raise EditRefused("Write a metre, a key, or both, such as 6/8 A minor.")
        self._writing.do(Together(tuple(commands), commands[0].label))

    def own_length(self, answer: str) -> None:
        """``1/8``: the measure is only that long; 0: as long as its metre.

        The first measure is then a pickup, which has no number.
        """
        measure = self._writing.measure
        text = answer.strip()
        length = (
            None if text == "0" else _parsed(Length.parse, text, "a length; write one such as 1/8")
        )
        commands: list[Command] = [SetOwnLength(measure.id, length)]
        if measure.id == self._writing.outline.measures[0].id:
            commands.append(SetCounted(measure.id, length is None))
        self._writing.do(Together(tuple(commands), commands[0].label))

    def tuplet(self, answer: str) -> None:
        """``5:4``: the event at the caret, or new notes, five in the time of four."""
        actual, _, normal = answer.partition(":")
        wanted = "Write how many in the time of how many: 5:4."
        self._writing.tuplet(_whole(actual, wanted), _whole(normal, wanted))

    # ------------------------------------------------------------------ voices

    def to_other_voice(self) -> None:
        """The event at the caret goes to the other of melody and bass, and the caret with it."""
        caret = self._writing.caret
        at = carets.event_at(self._writing.measure, caret)
        if at is None:
            raise self._writing.refused(
                "there is no note or rest here yet; Left and Right walk on."
            )
        voice = 1 - min(at.voice, 1)
        self._writing.do(MoveToVoice(caret.measure, at.event.id, voice))
        self._writing.stay(structs.replace(self._writing.caret, voice=voice))

    def swap_voices(self) -> None:
        """Melody and bass change places, in every selected measure."""
        outline = self._writing.outline
        first, last = self._selecting.measures
        row = outline.measures[outline.index[first] : outline.index[last] + 1]
        self._keep(Together(tuple(SwapVoices(m.id) for m in row), "exchange melody and bass"))

    # ------------------------------------------------------------------ source

    def parts(self) -> list[tuple[int, int, SourcePart]]:
        """Every part of the sources kept with the lesson: source, part, and itself."""
        return [
            (source, index, part)
            for source, kept in enumerate(self._session.lesson.sources)
            for index, part in enumerate(kept.parts)
        ]

    @property
    def part(self) -> int:
        """Which of `parts` measures are taken from."""
        return min(self._part, max(0, len(self.parts()) - 1))

    @property
    def taken_voice(self) -> int | None:
        """Which voice of the chosen part is taken; None: all of them."""
        options = _options(self.required_parts()[self.part][2])
        return options[min(self._of, len(options) - 1)]

    def taken_words(self) -> str:
        """``Guitar, the lower voice``: what measures are taken from."""
        part = self.required_parts()[self.part][2]
        return _taken_words(part, self.taken_voice)

    def next_part(self) -> None:
        """Take from the next voice of the part, then all of them, then from the next part."""
        parts = self.required_parts()
        if self._of + 1 < len(_options(parts[self.part][2])):
            self.choose_part(self.part, self._of + 1)
        else:
            self.choose_part((self.part + 1) % len(parts))
        self._messages.note(f"Measures are taken from {self.taken_words()}.")

    def choose_part(self, index: int, of: int = 0) -> None:
        """Take from that one of `parts`, and of its voices with music that one (after the last:
        all of them)."""
        self._part, self._of = index, of
        self.source_changed.emit()

    def take(self) -> None:
        """What the chosen voice of the source has at the time of the caret's measure, or of the

        selected ones, into the caret's voice; the caret goes on behind them.
        """
        source, index, _ = self.required_parts()[self.part]
        first, last = self._selecting.measures
        voice, of = self._writing.caret.voice, self.taken_voice
        self._writing.do(TakeFromSource(source, index, first, last, voice, of))
        self._selecting.drop()
        self._writing.stay(self._end_of(last))
        down = " and those below it" if of is None else ""
        self._messages.note(f"{self.taken_words()}: written into {VOICE_WORDS[voice]}{down}.")

    def required_parts(self) -> list[tuple[int, int, SourcePart]]:
        parts = self.parts()
        if not parts:
            raise EditRefused(
                "No source is kept with this lesson; a score that is opened becomes one."
            )
        return parts


def _options(part: SourcePart) -> tuple[int | None, ...]:
    """The voices of a part that can be taken; None: all of them."""
    voices = voices_of(part) or (0,)
    return (*voices, None) if len(voices) > 1 else voices


def _taken_words(part: SourcePart, of: int | None) -> str:
    voices = voices_of(part)
    if len(voices) < 2:
        return part.name
    if of is None:
        return f"{part.name}, all its voices"
    if len(voices) == 2:
        return f"{part.name}, the {'upper' if of == voices[0] else 'lower'} voice"
    return f"{part.name}, voice {voices.index(of) + 1}"


def _length(clip: Clip) -> int:
    return max(piece.offset + piece.event.ticks for piece in clip.pieces)


def _whole(text: str, wanted: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise EditRefused(wanted) from None


def _parsed(parse: Callable[[str], T], text: str, wanted: str) -> T:
    try:
        return parse(text)
    except ValueError:
        raise EditRefused(f"{text} is not {wanted}.") from None
