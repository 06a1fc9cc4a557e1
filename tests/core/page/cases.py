"""Hard cases for engraving, as small lessons. Pictures of them are looked at; some are goldens."""

# ruff: noqa: E501 (a measure reads best on one line)

from __future__ import annotations

from collections.abc import Callable, Mapping

from msgspec import structs

from core.edit.base import map_events
from core.model import (
    Arpeggio,
    Articulation,
    Barre,
    ChordMark,
    ChordShape,
    Dynamic,
    Ending,
    Event,
    Fermata,
    Finger,
    Fingering,
    Grace,
    Instrument,
    Key,
    Label,
    Length,
    Lesson,
    Measure,
    Metre,
    Note,
    Origin,
    OtherVersion,
    Pitch,
    Place,
    Pluck,
    PositionMark,
    Sign,
    Span,
    TempoMark,
    TextMark,
)
from tests import build

AM = ChordShape(
    "Am", (0, 1, 2, 2, 0, None), (None, Finger.INDEX, Finger.RING, Finger.MIDDLE, None, None)
)


def events_of(lesson: Lesson) -> list[Event]:
    """Every event in written order, voice by voice."""
    return [
        event
        for section in lesson.arrangement.sections
        for measure in section.measures
        for row in measure.voices
        for event in row
    ]


def changed(lesson: Lesson, changes: Mapping[int, Callable[[Event], Event]]) -> Lesson:
    """The lesson with its n-th events changed (counted as `events_of` does)."""
    wanted = {events_of(lesson)[n].id: change for n, change in changes.items()}

    def one(measure: Measure) -> Measure:
        return map_events(measure, lambda e: wanted[e.id](e) if e.id in wanted else e)

    return with_measures(lesson, one)


def with_measures(lesson: Lesson, change: Callable[[Measure], Measure]) -> Lesson:
    """The lesson with every measure mapped."""
    sections = tuple(
        structs.replace(s, measures=tuple(change(m) for m in s.measures))
        for s in lesson.arrangement.sections
    )
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=sections)
    )


def with_section(lesson: Lesson, at: int, **fields: object) -> Lesson:
    """The lesson with fields of one section replaced."""
    sections = list(lesson.arrangement.sections)
    sections[at] = structs.replace(sections[at], **fields)
    return structs.replace(
        lesson, arrangement=structs.replace(lesson.arrangement, sections=tuple(sections))
    )


def with_spans(lesson: Lesson, *spans: tuple[str, int, int, dict[str, object]]) -> Lesson:
    """The lesson with spans from the n-th to the m-th event (or their first notes)."""
    row = events_of(lesson)
    made = []
    number = lesson.next_id
    for kind, start, end, more in spans:
        a, b = row[start], row[end]
        ends = (a.notes[0].id, b.notes[0].id) if kind in ("slide", "string") else (a.id, b.id)
        made.append(Span(number, kind, *ends, **more))  # type: ignore[arg-type]
        number += 1
    arrangement = structs.replace(lesson.arrangement, spans=tuple(made))
    return structs.replace(lesson, arrangement=arrangement, next_id=number)


def marked(*marks: object) -> Callable[[Event], Event]:
    return lambda event: structs.replace(event, marks=tuple(marks))


def noted(**fields: object) -> Callable[[Event], Event]:
    def change(event: Event) -> Event:
        return structs.replace(
            event, notes=tuple(structs.replace(n, **fields) for n in event.notes)
        )

    return change


def _measure(lesson: Lesson, at: int, **fields: object) -> Lesson:
    every = [m for s in lesson.arrangement.sections for m in s.measures]
    wanted = every[at].id
    return with_measures(lesson, lambda m: structs.replace(m, **fields) if m.id == wanted else m)


def unisons() -> Lesson:
    return build.lesson([
        "E4s1f0:quarter E4s1f0:half D4s2f3:quarter | E4s2f5:quarter E4s2f5:quarter F4s3f10:half",
        "C4s2f1:half. B3s2f0:quarter | D4s2f3:half A3s3f2:quarter B3s3f4:eighth C4s2f1:eighth",
    ], title="Unison voices")  # fmt: skip


def seconds() -> Lesson:
    return build.lesson([
        "D4s2f3!4+E4s1f0!0:quarter B3s2f0+C4s3f5:quarter G3s3f0+A3s4f7+B3s2f0:half | A2s5f0:whole",
        "F#4s1f2!2+G4s2f8:half. G#4s1f4+A4s2f10:quarter | D3s4f0+E3s5f7:half E2s6f0:half",
    ], key="G major", title="Seconds")  # fmt: skip


def four_voices() -> Lesson:
    return build.lesson([
        "E4s1f0:quarter r:quarter G4s1f3:half | A2s5f0:half r:half | r:quarter C4s2f1:quarter B3s2f0:half | r:half E3s4f2:half",
        "r:half E4s1f0:half | r:quarter A2s5f0:half. | B3s2f0:whole | E3s4f2:half r:half",
    ], title="Four voices")  # fmt: skip


def tuplets() -> Lesson:
    return build.lesson([
        "E4s1f0:eighth@3:2 F4s1f1:eighth@3:2 G4s1f3:eighth@3:2 E4s1f0:quarter@3:2 C4s2f1:eighth@3:2 r:eighth@3:2 G3s3f0:eighth@3:2 A3s3f2:eighth@3:2 B3s2f0:quarter | A2s5f0:whole",
        "C4s2f1:quarter@3:2 D4s2f3:quarter@3:2 E4s1f0:quarter@3:2 "
        + " ".join(["A3s3f2:16th@5:4"] * 5)
        + " C4s2f1:quarter | A2s5f0:half A2s5f0:half",
    ], title="Tuplets")  # fmt: skip


def barre() -> Lesson:
    lesson = build.lesson([
        "F4s1f1!1:quarter A3s3f2!2:quarter C4s2f1!1:quarter F4s1f1:quarter | F2s6f1!1:whole",
        "F#4s1f2!1:eighth C#4s2f2!1:eighth A3s3f2!1:eighth E4s2f5!4:eighth C#4s2f2!1:half | F#2s6f2!1:whole",
    ], key="F# minor", title="Barre with a held bass")  # fmt: skip
    lesson = with_spans(
        lesson,
        ("barre", 0, 3, {"barre": Barre(1)}),
        ("barre", 5, 9, {"barre": Barre(2, 3, lowest=3)}),
    )
    return _measure(lesson, 1, marks=(PositionMark(2),))


def dense_fingers() -> Lesson:
    lesson = build.lesson([
        "A2s5f0!0:16th E3s4f2!2:16th A3s3f2!3:16th C4s2f1!1:16th E4s1f0!0:16th C4s2f1!1:16th A3s3f2!3:16th E3s4f2!2:16th A2s5f0+E3s4f2!2+A3s3f2!3+C4s2f1!1+E4s1f0!0:half",
        "G#3s3f1!1:16th B3s2f0!0:16th E4s1f0!0:16th G#4s1f4!4:16th F#4s1f2!2:quarter D#4s2f4!4:16th B3s2f0!0:16th A#3s3f3!3:16th B3s2f0:16th E4s1f0:quarter | E2s6f0!0:half B2s5f2!2:half",
    ], title="Dense fingers and plucking letters")  # fmt: skip
    letters = "pimaamip"
    changes = {
        i: noted(plucking=Label(Pluck(letter), Origin.PINNED if i % 2 else Origin.SUGGESTED))
        for i, letter in enumerate(letters)
    }
    return changed(lesson, {**changes, 8: lambda e: structs.replace(
        e, marks=(Arpeggio("up"),), notes=_letters(e.notes))})  # fmt: skip


def _letters(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    return tuple(
        structs.replace(n, plucking=Label(Pluck(letter)))
        for n, letter in zip(notes, "ppima", strict=True)
    )


def three_endings() -> Lesson:
    lesson = build.lesson(
        ["E4s1f0:half G4s1f3:half", "C4s2f1:whole", "D4s2f3:whole", "E4s1f0:whole"],
        ["A3s3f2:whole", "C4s2f1:whole"],
        title="Three endings",
    )
    row = lesson.arrangement.sections[0].measures
    lesson = with_section(
        lesson, 0, times=4, title="Refrain",
        endings=(Ending((1, 2), row[1].id, row[1].id), Ending((3,), row[2].id, row[2].id),
                 Ending((4,), row[3].id, row[3].id, closed=False)),
    )  # fmt: skip
    lesson = with_section(lesson, 1, times=3)
    lesson = _measure(lesson, 0, signs=(Sign("segno"),))
    lesson = _measure(lesson, 3, signs=(Sign("to coda"),))
    lesson = _measure(lesson, 5, signs=(Sign("ds al coda"),))
    return _measure(lesson, 1, marks=(ChordMark(AM),))


def graces() -> Lesson:
    lesson = build.lesson([
        "F#4s1f2:eighth E4s1f0!0:quarter D4s2f3:16th F4s1f1:16th E4s1f0:quarter C4s2f1:eighth D4s2f3:eighth E4s1f0:quarter | A2s5f0:whole",
    ], title="Grace notes and slurs")  # fmt: skip
    small = {i: (lambda e: structs.replace(e, grace=Grace(True))) for i in (0, 2, 3)}
    lesson = changed(lesson, small)
    return with_spans(
        lesson,
        ("slur", 0, 1, {}), ("slur", 2, 4, {}), ("hammer-on", 5, 6, {}), ("slide", 6, 7, {}),
    )  # fmt: skip


def changes() -> Lesson:
    lesson = build.lesson(
        ["E4s1f0:quarter " * 3, "G4s1f3:quarter " * 3, "F#4s1f2:quarter " * 4, "Eb4s2f4:quarter. Bb3s3f3:quarter."],
        metre="3/4", key="E major", title="Changes of key and metre",
    )  # fmt: skip
    lesson = _measure(lesson, 1, key=Key.parse("G major"))
    lesson = _measure(lesson, 2, key=Key.parse("G major"), metre=Metre.parse("4/4 common"))
    return _measure(lesson, 3, key=Key.parse("Eb major"), metre=Metre.parse("6/8"))


def ringing() -> Lesson:
    bar = "E4s1f0:quarter D4s2f3:quarter C4s2f1:quarter B3s2f0:quarter~ | A2s5f0:half. A2s5f0:quarter~"
    after = "B3s2f0:half C4s2f1+E4s1f0:half | A2s5f0:whole"
    lesson = build.lesson([bar, after, bar, after], title="Ties over a line break")
    lesson = changed(lesson, {0: noted(let_ring=True), 8: noted(let_ring=True)})
    lesson = _measure(lesson, 0, line_break=True)
    return with_spans(lesson, ("slur", 2, 6, {}), ("crescendo", 1, 7, {}), ("let ring", 1, 7, {}))


def quick_runs() -> Lesson:
    run = " ".join(
        f"{p}:64th" for p in ("E4s1f0", "F4s1f1", "G4s1f3", "F4s1f1", "E4s1f0", "D4s2f3",
                              "C4s2f1", "D4s2f3")
    )  # fmt: skip
    return build.lesson([
        run + " E4s1f0:eighth E4s1f0:eighth. F4s1f1:16th E4s1f0:eighth D4s2f3:16th C4s2f1:16th C4s2f1:16th D4s2f3:eighth E4s1f0:16th | A2s5f0:quarter. r:eighth A2s5f0:half",
    ], title="A run of 64ths")  # fmt: skip


def signs() -> Lesson:
    lesson = build.lesson([
        "E4s1f0:quarter G4s1f3:quarter C4s2f1:quarter A3s3f2:quarter | A2s5f0:half E3s4f2:half",
        "C5s1f8:quarter. B4s1f7:eighth A4s1f5:half | F2s6f1:half C3s5f3:half",
        "F4s1f1:eighth F4s1f1:eighth r:quarter E4:quarter G4:quarter", "E4s1f0:quarter A4s1f5:half.",
    ], title="Small signs")  # fmt: skip
    lesson = changed(lesson, {
        0: marked(Articulation("staccato"), Dynamic("p")), 1: marked(Articulation("accent")),
        2: marked(Articulation("tenuto")), 3: marked(Fermata(), Dynamic("mf")),
        6: noted(circled=True, finger=Label(Finger.LITTLE)),
        7: noted(guide=True, finger=Label(Finger.RING)),
    })  # fmt: skip
    lesson = _measure(
        lesson, 0, marks=(TempoMark(text="Andante"), TextMark("dolce", Length.parse("1/2")))
    )
    return with_spans(
        lesson, ("crescendo", 0, 3, {}), ("diminuendo", 6, 8, {}), ("phrase", 0, 8, {})
    )


def crowded_fingers() -> Lesson:
    """Other fingers and places; seconds and accidentals that leave figures no room on the left."""
    lesson = build.lesson([
        "C4s2f1!1:quarter D4s2f3!3:quarter E4s1f0!0:quarter F4s1f1!1:quarter | A2s5f0!0:half. E3s4f2:quarter",
        "A3s3f2!2+C4s2f1!1:half C4s2f1!1+D4s3f7!4+E4s1f0!0:half",
        "C4s2f1!1+E4s1f0!0:half G#3s3f1!1+A#3s4f8!4+C#4s2f2!2:half",
        "C4s2f1!1+E4s1f0!0:half D5s1f10!4+B4s2f12!1:half | F3s4f3!3+A3s3f2!2:half D3s4f0!0+E3s5f7!3:half",
        "D5s1f10!4+B4s2f12!1+A4s3f14!2:half C3s5f3!3+E3s4f2!2+G3s3f0!0+B3s2f0!0+E4s1f0!0:half",
    ], title="Crowded fingers, and other ways")  # fmt: skip
    return changed(lesson, {
        0: noted(alternative=Fingering(Place(3, 5), Finger.LITTLE, "keeps the bass")),
        1: noted(alternative=Fingering(finger=Finger.LITTLE), guide=True),
        3: noted(alternative=Fingering(Place(2, 6))),
    })  # fmt: skip


def other_versions() -> Lesson:
    """An easier and a harder way and one for the second time, small above their measures."""
    lesson = build.lesson([
        "C4s2f1!1:quarter D4s2f3!3:quarter E4s1f0!0:quarter F4s1f1!1:quarter | A2s5f0!0:half. E3s4f2!2:quarter",
        "G4s1f3!4:quarter. F4s1f1!1:eighth E4s1f0!0:half | C3s5f3!3:whole",
        "C4s2f1!1:half B3s2f0:half | G2s6f3!3:whole", "C4s2f1!1:whole | C3s5f3!3:whole",
    ], title="Other versions")  # fmt: skip
    others = build.lesson([
        "C4s2f1!1:half E4s1f0!0:half | A2s5f0!0:whole",
        "G4s1f3!4:16th F#4s1f2!2:16th G4s1f3!4:16th A4s1f5!4:16th G4s1f3!4:eighth F4s1f1!1:eighth E4s1f0!0:eighth D4s2f3:eighth C4s2f1:quarter | C3s5f3!3:whole",
        "A3s3f2!2:quarter C4s2f1!1:quarter G3s3f0:quarter B3s2f0:quarter | E3s4f2!2:half G2s6f3!3:half",
    ])  # fmt: skip
    first = lesson.next_id

    def fresh(event: Event) -> Event:
        notes = tuple(structs.replace(n, id=n.id + first) for n in event.notes)
        return structs.replace(event, id=event.id + first, notes=notes)

    rows = [map_events(m, fresh).voices for m in others.arrangement.sections[0].measures]
    for at, purpose in enumerate(("easier", "harder", "second time")):
        lesson = _measure(lesson, at, others=(OtherVersion(purpose, rows[at]),))  # type: ignore[arg-type]
    return structs.replace(lesson, next_id=first + others.next_id)


def raised(lesson: Lesson, capo: int) -> Lesson:
    """A lesson in A minor with a capo put on: places stay, and everything sounds higher."""
    key = Key.parse(str(Pitch.from_midi(57 + capo))[:-1] + " minor")

    def note(one: Note) -> Note:
        return structs.replace(one, pitch=Pitch.from_midi(one.pitch.midi + capo, key))

    def event(one: Event) -> Event:
        return structs.replace(one, notes=tuple(map(note, one.notes)))

    lesson = with_measures(lesson, lambda m: structs.replace(map_events(m, event), key=key))
    arrangement = structs.replace(lesson.arrangement, instrument=Instrument(capo=capo), key=key)
    return structs.replace(lesson, arrangement=arrangement)


CASES: dict[str, Callable[[], Lesson]] = {
    f.__name__: f
    for f in (
        unisons, seconds, four_voices, tuplets, barre, dense_fingers, three_endings, graces, changes,
        ringing, quick_runs, signs, crowded_fingers, other_versions,
    )
}  # fmt: skip
