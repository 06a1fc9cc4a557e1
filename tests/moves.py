"""Random commands for any lesson: for property tests, and for a monkey at the window.

`random_command(random, lesson)` picks a command with arguments that mostly fit the lesson and now
and then do not (it must then be refused). Deterministic for a given `random.Random`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random
from typing import Any

from msgspec import structs

from core import edit
from core.edit import Command, Edit
from core.model import (
    EditRefused,
    Event,
    Finger,
    Fingering,
    Harmonic,
    Instrument,
    Key,
    Label,
    Length,
    Lesson,
    Measure,
    Metre,
    Note,
    Origin,
    Place,
    Pluck,
    Source,
    SourceCard,
    SourcePart,
    Span,
    Tempo,
    TextMark,
    Value,
    Waiver,
    walk,
)
from core.model.form import NOTE_SPANS
from tests import strategies
from tests.pick import Pick
from tests.strategies import PLAIN_VALUES, SHAPES, choices

Move = Callable[["Pick"], Command | None]


def _put_fret(pick: Pick) -> Command:
    measure, voice, tick = pick.spot()
    place = pick.place()
    value = pick.maybe(pick.value())
    mode = pick.one(("chord", "overwrite", "insert"))
    return edit.PutFret(measure, voice, tick, place.string, place.fret, value, mode)


def _add_pitch(pick: Pick) -> Command:
    mode = pick.one(("chord", "overwrite", "insert"))
    return edit.AddPitch(*pick.spot(), pick.pitch(), pick.maybe(pick.value()), mode)


def _insert_rest(pick: Pick) -> Command:
    mode = pick.one(("overwrite", "insert"))
    return edit.InsertRest(*pick.spot(), pick.value(), mode, pick.odds(4))


def _on_event(build: Callable[[Pick, int, Event], Command]) -> Move:
    def move(pick: Pick) -> Command | None:
        found = pick.event()
        return build(pick, *found) if found else None

    return move


def _take_suggestions(p: Pick) -> Command | None:
    """What a solver might have found for one measure; now and then for one that has changed."""
    measure = p.measure()
    instrument = p.lesson.arrangement.instrument
    places, fingers, dropped = {}, {}, set()
    for _, note in walk.notes(measure):
        free = note.place is None or not note.place.firm
        string = p.random.randrange(1, len(instrument.strings) + 1)
        fret = note.pitch.midi - instrument.midi_at(Place(string, 0))
        if p.odds(6):
            dropped.add(note.id)
        elif 0 <= fret <= instrument.highest_fret - instrument.capo and free and not note.tied:
            places[note.id] = Label(Place(string, fret), Origin.SUGGESTED)
        fingers[note.id] = Label(p.one(list(Finger)), Origin.SUGGESTED)
    asked = structs.replace(measure, counted=not measure.counted) if p.odds(5) else measure
    found = edit.Suggest(places, fingers, "test", (asked,), frozenset(dropped))
    return edit.TakeSuggestions(found)


def _on_note(build: Callable[[Pick, int, Note], Command]) -> Move:
    def move(pick: Pick) -> Command | None:
        found = pick.note()
        return build(pick, *found) if found else None

    return move


def _place_of(pick: Pick, note: Note) -> Place | None:
    places = pick.lesson.arrangement.instrument.places(note.pitch.midi)
    return pick.one(places) if places and not pick.odds(8) else pick.maybe(pick.place())


def _harmonic(pick: Pick, measure: int, note: Note) -> Command:
    stopped = 0 if note.place is None else note.place.value.fret
    kinds = (Harmonic(), Harmonic("natural", 7), Harmonic("artificial", stopped + 12))
    return edit.SetHarmonic(measure, note.id, pick.maybe(pick.one(kinds)))


def _alternative(pick: Pick, measure: int, note: Note) -> Command:
    other = Fingering(_place_of(pick, note), pick.one(list(Finger)), "keeps the bass")
    return edit.SetAlternative(measure, note.id, pick.maybe(other))


def _exchange_alternative(pick: Pick) -> Command | None:
    found = pick.note(lambda note: note.alternative is not None) or pick.note()
    return edit.ExchangeAlternative(found[0], found[1].id) if found else None


def _drop_tuplet(pick: Pick) -> Command | None:
    found = pick.event(lambda event: bool(event.value.tuplets)) or pick.event()
    return edit.DropTuplet(found[0], found[1].id) if found else None


def _event_mark(pick: Pick) -> Any:
    return pick.one(strategies.EVENT_MARKS)


def _measure_mark(pick: Pick) -> Any:
    at = Length(pick.random.randrange(6) * Value.parse("eighth").ticks)
    marks = (
        edit_mark(SHAPES, pick, at),
        TextMark(pick.words(), at, pick.odds(3)),
        strategies.TempoMark(at, "rit.", effect="slower"),
        strategies.TempoMark(at, "", Value.parse("quarter"), 66.0),
        strategies.PositionMark(pick.random.randrange(0, 13), at),
    )
    return pick.one(marks)


def edit_mark(shapes: Sequence[Any], pick: Pick, at: Length) -> Any:
    return strategies.ChordMark(pick.one(shapes), at)


def _remove_mark(pick: Pick) -> Command | None:
    rows = [(m.id, mark) for m in pick.measures for mark in m.marks]
    return edit.RemoveMeasureMark(*pick.one(rows)) if rows else None


def _change_mark(pick: Pick) -> Command | None:
    rows = [(m.id, mark) for m in pick.measures for mark in m.marks]
    return edit.ChangeMeasureMark(*pick.one(rows), _measure_mark(pick)) if rows else None


def _span(pick: Pick) -> Span | None:
    kind: Any = pick.one(strategies.SPAN_KINDS)
    first, last = pick.run()
    if kind == "talk":
        return Span(0, kind, first, last, pick.words())
    found = [m for m in pick.measures if m.id in (first, last)]
    if kind in NOTE_SPANS:
        pool = [note.id for m in found for _, note in walk.notes(m)]
    else:
        pool = [located.event.id for m in found for located in walk.events(m)]
    if not pool:
        return None
    barre = pick.one(strategies.BARRES) if kind == "barre" else None
    return Span(0, kind, pick.one(pool), pick.one(pool), "", barre, pick.odds(4), pick.odds(6))


def _add_span(pick: Pick) -> Command | None:
    span = _span(pick)
    return edit.AddSpan(span) if span else None


def _change_span(pick: Pick) -> Command | None:
    spans = pick.lesson.arrangement.spans
    if not spans:
        return None
    former = pick.one(spans)
    other = _span(pick)
    if other is not None and other.kind == former.kind:
        return edit.ChangeSpan(structs.replace(other, id=former.id))
    return edit.ChangeSpan(structs.replace(former, text=pick.words(), hidden=pick.odds(2)))


def _remove_span(pick: Pick) -> Command | None:
    spans = pick.lesson.arrangement.spans
    return edit.RemoveSpan(pick.one(spans).id) if spans else None


def _section(pick: Pick) -> Command:
    return edit.SetSection(
        pick.section().id,
        pick.maybe(pick.one(("A", "B", "Coda", "too long"))),
        pick.maybe(pick.words()),
        pick.maybe(pick.random.randrange(0, 4)),
    )


def _ending(pick: Pick) -> Command:
    section = pick.section()
    first, last = pick.one(section.measures).id, pick.one(section.measures).id
    passes = pick.one(((1,), (2,), (1, 2), (3,), ()))
    return edit.SetEnding(section.id, first, last, passes, not pick.odds(4))


def _remove_ending(pick: Pick) -> Command | None:
    rows = [(s.id, e.first) for s in pick.lesson.arrangement.sections for e in s.endings]
    return edit.RemoveEnding(*pick.one(rows)) if rows else None


def _instrument(pick: Pick) -> Command:
    instrument: Instrument = pick.one((*strategies.INSTRUMENTS, Instrument(capo=5)))
    return edit.SetInstrument(instrument, pick.one(("pitches", "places")))


def _other_version(command: type) -> Move:
    def move(pick: Pick) -> Command | None:
        rows = [(m.id, other.purpose) for m in pick.measures for other in m.others]
        return command(*pick.one(rows)) if rows else None

    return move


def _brief(pick: Pick) -> Command:
    age = pick.one((None, 7, 40, 500))
    return edit.SetBrief(structs.replace(pick.lesson.brief, student=pick.words(), age=age))


def _sources(pick: Pick) -> Command:
    if pick.odds(2):
        return edit.SetSources(())
    number = pick.one((1, pick.lesson.next_id))
    event = Event(number + 1, Value.parse("half"), (Note(number + 2, pick.pitch()),))
    measure = Measure(number, Metre.parse("3/4"), Key(0), ((event,),))
    return edit.SetSources((Source("a duet", (SourcePart("Canto", (measure,)),), melody=0),))


def _waiver(pick: Pick) -> Command:
    return edit.AddWaiver(Waiver(pick.one(("L6", "S1")), pick.measure().id, pick.words()))


def _remove_waiver(pick: Pick) -> Command | None:
    waivers = pick.lesson.waivers
    chosen = pick.one(waivers) if waivers else None
    return edit.RemoveWaiver(chosen.rule, chosen.measure) if chosen else None


def _grace(pick: Pick, measure: int, event: Event) -> Command:
    return edit.AddGrace(measure, event.id, pick.pitch(), slashed=pick.odds(2))


def _own_length(pick: Pick) -> Command:
    length = Length(pick.random.randrange(0, 9) * Value.parse("eighth").ticks)
    return edit.SetOwnLength(pick.measure().id, pick.maybe(length))


def _split(pick: Pick) -> Command:
    tick = pick.random.randrange(0, 9) * Value.parse("eighth").ticks
    return edit.SplitMeasure(pick.measure().id, tick, pick.odds(2))


def selection(pick: Pick) -> edit.Selection:
    """Some music, mostly a measure or two, in one voice or all."""
    first, last = pick.run()
    sixteenth = Value.parse("16th").ticks
    start = 0 if pick.odds(2) else pick.random.randrange(8) * sixteenth
    end = 64 * sixteenth if pick.odds(2) else pick.random.randrange(24) * sixteenth
    return edit.Selection(first, start, last, end, pick.one((edit.ALL_VOICES, (0,), (1,))))


def _clip(pick: Pick) -> edit.Clip:
    try:
        return edit.copy(pick.lesson, selection(pick))
    except EditRefused:
        return edit.Clip(())


def _paste(pick: Pick) -> Command:
    measure, voice, tick = pick.spot()
    mode = pick.one(("overwrite", "overwrite", "insert"))
    return edit.Paste(measure, tick, _clip(pick), pick.maybe(voice), mode)


def _take(pick: Pick) -> Command | None:
    if not pick.lesson.sources:
        return None
    measure = pick.measure().id
    voice, of = pick.random.randrange(2), pick.random.choice((0, 1, None))
    return edit.TakeFromSource(0, 0, measure, measure, voice, of)


def _transpose(pick: Pick) -> Command:
    by = pick.one((12, -12, 2, -3, 7, 90))
    return edit.Transpose(selection(pick), by, pick.odds(2))


PARTS: tuple[Any, ...] = (("place", "finger", "plucking"), ("finger",), ("place",))


def _together(pick: Pick) -> Command:
    return edit.Together((_take_measure(pick), _paste(pick)), "paste")


def _take_measure(pick: Pick) -> Command:
    return edit.InsertMeasures(pick.measure().id)


MOVES: dict[str, Move] = {
    "PutFret": _put_fret,
    "AddPitch": _add_pitch,
    "InsertRest": _insert_rest,
    "HoldOn": lambda pick: edit.HoldOn(*pick.spot(), pick.value()),
    "AddGrace": _on_event(_grace),
    "DeleteNote": _on_note(lambda p, m, n: edit.DeleteNote(m, n.id)),
    "DeleteEvent": _on_event(lambda p, m, e: edit.DeleteEvent(m, e.id)),
    "TurnToRest": _on_event(lambda p, m, e: edit.TurnToRest(m, e.id)),
    "HideRest": _on_event(
        lambda p, m, e: edit.HideRest(m, e.id, p.odds(2), p.one((None, 2, -4, 40)))
    ),
    "SetValue": _on_event(
        lambda p, m, e: edit.SetValue(m, e.id, p.value(), p.one(("overwrite", "insert")))
    ),
    "ToggleDot": _on_event(
        lambda p, m, e: edit.ToggleDot(m, e.id, p.one(("overwrite", "insert")))
    ),
    "MakeTuplet": _on_event(
        lambda p, m, e: edit.MakeTuplet(m, e.id, *p.one(((3, 2), (5, 4), (2, 3), (19, 2))))
    ),
    "DropTuplet": _drop_tuplet,
    "CompleteMeasure": lambda p: edit.CompleteMeasure(p.measure().id, p.one((None, 0, 1))),
    "TrimMeasure": lambda p: edit.TrimMeasure(p.measure().id),
    "SetPitch": _on_note(lambda p, m, n: edit.SetPitch(m, n.id, p.pitch())),
    "SetPlace": _on_note(lambda p, m, n: edit.SetPlace(m, n.id, _place_of(p, n))),
    "MoveToString": _on_note(
        lambda p, m, n: edit.MoveToString(m, n.id, p.random.randrange(1, 7))
    ),
    "SetTie": _on_event(lambda p, m, e: edit.SetTie(m, e.id, not p.odds(3))),
    "MoveToVoice": _on_event(lambda p, m, e: edit.MoveToVoice(m, e.id, p.one((0, 1, 1, 2, 7)))),
    "SwapVoices": lambda p: edit.SwapVoices(p.measure().id, 0, p.one((1, 1, 2))),
    "SetFinger": _on_note(
        lambda p, m, n: edit.SetFinger(m, n.id, p.maybe(p.one(list(Finger))))
    ),
    "SetPlucking": _on_note(
        lambda p, m, n: edit.SetPlucking(m, n.id, p.maybe(p.one(list(Pluck))))
    ),
    "SetSubstitute": _on_note(
        lambda p, m, n: edit.SetSubstitute(m, n.id, p.maybe(p.one(list(Finger))))
    ),
    "PinSuggestion": _on_note(lambda p, m, n: edit.PinSuggestion(m, n.id, p.one(PARTS))),
    "RefuseSuggestion": _on_note(lambda p, m, n: edit.RefuseSuggestion(m, n.id, p.one(PARTS))),
    "TakeSuggestions": _take_suggestions,
    "PinMeasure": lambda p: edit.PinMeasure(p.measure().id),
    "SetNoteSign": _on_note(
        lambda p, m, n: edit.SetNoteSign(
            m, n.id, p.one(("let_ring", "circled", "guide", "small")), not p.odds(3)
        )
    ),
    "SetAccidental": _on_note(
        lambda p, m, n: edit.SetAccidental(m, n.id, p.one(choices(Note, "accidental")))
    ),
    "SetBend": _on_note(lambda p, m, n: edit.SetBend(m, n.id, p.one((None, 0.5, 1.0, -3.0)))),
    "SetHarmonic": _on_note(_harmonic),
    "SetAlternative": _on_note(_alternative),
    "ExchangeAlternative": _exchange_alternative,
    "SetMark": _on_event(lambda p, m, e: edit.SetMark(m, e.id, _event_mark(p), not p.odds(4))),
    "ToggleMark": _on_event(lambda p, m, e: edit.ToggleMark(m, e.id, _event_mark(p))),
    "ToggleFermata": _on_event(lambda p, m, e: edit.ToggleFermata(m, e.id)),
    "AddMeasureMark": lambda p: edit.AddMeasureMark(p.measure().id, _measure_mark(p)),
    "RemoveMeasureMark": _remove_mark,
    "ChangeMeasureMark": _change_mark,
    "KeepOtherVersion": lambda p: edit.KeepOtherVersion(
        p.measure().id, p.one(choices(strategies.OtherVersion, "purpose"))
    ),
    "ExchangeVersion": _other_version(edit.ExchangeVersion),
    "DropVersion": _other_version(edit.DropVersion),
    "InsertMeasures": lambda p: edit.InsertMeasures(
        p.measure().id, p.one((1, 1, 2, 0)), p.one(("before", "after"))
    ),
    "DeleteMeasures": lambda p: edit.DeleteMeasures(*p.run()),
    "MoveStrings": lambda p: edit.MoveStrings(selection(p), p.one((-1, 1))),
    "FigureOpenStrings": lambda p: edit.FigureOpenStrings(selection(p)),
    "Together": _together,
    "ClearSelection": lambda p: edit.ClearSelection(selection(p), p.odds(2)),
    "Paste": _paste,
    "TakeFromSource": _take,
    "Transpose": _transpose,
    "CopyMeasures": lambda p: edit.CopyMeasures(*p.run(), p.measure().id),
    "EmptyMeasure": lambda p: edit.EmptyMeasure(p.measure().id),
    "RepeatMeasure": lambda p: edit.RepeatMeasure(p.measure().id),
    "SameAs": lambda p: edit.SameAs(p.measure().id, p.one((None, p.measure().id, 999_999))),
    "SplitMeasure": _split,
    "JoinMeasures": lambda p: edit.JoinMeasures(p.measure().id),
    "SetMetre": lambda p: edit.SetMetre(
        p.measure().id, Metre.parse(p.one(("3/4", "6/8", "4/4", "5/8"))), p.odds(2)
    ),
    "SetKey": lambda p: edit.SetKey(
        p.measure().id, Key(p.random.randrange(-7, 8), p.one(("major", "minor"))), p.odds(2)
    ),
    "SetOwnLength": _own_length,
    "SetCounted": lambda p: edit.SetCounted(p.measure().id, p.odds(2)),
    "SetBarline": lambda p: edit.SetBarline(p.measure().id, p.one(choices(Measure, "barline"))),
    "SetLineBreak": lambda p: edit.SetLineBreak(p.measure().id, p.odds(2)),
    "SetSection": _section,
    "SplitSection": lambda p: edit.SplitSection(p.measure().id, p.one(("", "D"))),
    "JoinSection": lambda p: edit.JoinSection(p.section().id),
    "MoveSection": lambda p: edit.MoveSection(p.section().id, p.random.randrange(0, 4)),
    "SetEnding": _ending,
    "RemoveEnding": _remove_ending,
    "SetSign": lambda p: edit.SetSign(
        p.measure().id, p.one(choices(strategies.Sign, "kind")), not p.odds(4)
    ),
    "AddSpan": _add_span,
    "ChangeSpan": _change_span,
    "RemoveSpan": _remove_span,
    "AddTalk": lambda p: edit.AddTalk(*p.run(), p.words()),
    "SetInstrument": _instrument,
    "SetTitle": lambda p: edit.SetTitle(p.words()),
    "SetSourceCard": lambda p: edit.SetSourceCard(SourceCard(composer=p.words())),
    "SetCredit": lambda p: edit.SetCredit(p.words()),
    "SetSources": _sources,
    "SetBrief": _brief,
    "SetSettings": lambda p: edit.SetSettings(
        structs.replace(p.lesson.settings, practice_percent=p.one((50, 100, 0)))
    ),
    "SetTempo": lambda p: edit.SetTempo(
        Tempo(p.one(PLAIN_VALUES[2:]), float(p.random.randrange(40, 140)))
    ),
    "SetMainKey": lambda p: edit.SetMainKey(Key(p.random.randrange(-4, 5))),
    "SetClef": lambda p: edit.SetClef(p.odds(2)),
    "AddWaiver": _waiver,
    "RemoveWaiver": _remove_waiver,
}  # fmt: skip

ENTRY = ("PutFret", "AddPitch", "InsertRest", "SetValue", "SetFinger", "DeleteNote")


def random_command(random: Random, lesson: Lesson, only: Sequence[str] = ()) -> Command:
    """Some command for the lesson; entry is as likely as all the rest together.

    `only` names the commands to choose from; LookupError when the lesson has nothing for them.
    """
    pick = Pick(random, lesson)
    names = list(only) or list(MOVES)
    for _ in range(100):
        name = pick.one(ENTRY if not only and pick.odds(2) else names)
        command = MOVES[name](pick)
        if command is not None:
            return command
    raise LookupError(f"the lesson has nothing for {', '.join(names)}")


def play(random: Random, lesson: Lesson, steps: int) -> list[tuple[Command, Edit]]:
    """Carry out so many random commands, refusals left out: what was done, in order."""
    done: list[tuple[Command, Edit]] = []
    for _ in range(steps):
        command = random_command(random, lesson)
        try:
            result = edit.apply(command, lesson)
        except EditRefused:
            continue
        done.append((command, result))
        lesson = result.lesson
    return done
