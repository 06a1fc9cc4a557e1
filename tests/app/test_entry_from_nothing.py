"""The demo's first section from an empty lesson, by the keyboard alone; keystrokes are counted."""

from __future__ import annotations

import resources
from app.files import new_lesson
from core.model import walk
from core.store import load

MOST_PER_NOTE = 3.5  # the budget of the issue: one keystroke is one key, with or without Shift

ARROWS = {"u": "Up", "d": "Down", "<": "Left"}

# What a person types, measure by measure. Values Q E H and the dot, figures, u and d for the
# arrows up and down, < for the arrow left.
PICKUP = "E d d d 2"
MELODY = (
    "Q u 2 E u 0 Q 1 E 0",
    "Q u 0 E d 3 Q 1 E d 2",
    "Q u 0 E 1 Q 3 E 0",
    "Q . 0 Q d 1 E d 2",
)
BASS = "H . d 0 0 d 3 0"
FINGERS = "2 2 1 3 1 2 3 1 4 1 2"
CLOSE = ("Q u u u 1 E 0 Q d 3 E 0", "H . d d 2 < u 2 u 1")
CLOSE_BASS = "Q . d d 0 d d 0 H . u 0"
CLOSE_FINGERS = "1 3 1 3 2"


class Typist:
    """Types and counts."""

    def __init__(self, bench) -> None:
        self.bench, self.count = bench, 0

    def keys(self, *keys: str) -> None:
        self.bench.press(*keys)
        self.count += len(keys)

    def line(self, text: str) -> None:
        self.keys(*(ARROWS.get(key, key) for key in text.split()))

    def answer(self, key: str, text: str) -> None:
        self.keys(key)
        self.count += self.bench.answer(text)


def written(section):
    """Every note by measure: voice, onset, value, pitch, place, finger."""
    return [
        [
            (at.voice, at.onset, str(at.event.value), str(n.pitch), str(n.place.value),
             n.finger.value if n.finger else None)
            for at, n in walk.notes(measure)
        ]
        for measure in section.measures
    ]  # fmt: skip


def enter_section(typist: Typist) -> None:
    typist.answer("Z", "6/8 Am")
    typist.answer("Shift+Z", "1/8")
    for line in (PICKUP, *MELODY):
        typist.line(line)
    typist.keys("V", "Ctrl+Home", "Ctrl+Right")
    typist.line(BASS)
    typist.keys("Ctrl+Home", "Ctrl+Up")
    typist.line(FINGERS)
    typist.answer("Y", "1-2")
    typist.keys("Ctrl+Down")
    for line in CLOSE:
        typist.line(line)
    typist.keys("V", "Ctrl+Left")
    typist.line(CLOSE_BASS)
    typist.keys("Ctrl+Left", "Ctrl+Left", "Ctrl+Up")
    typist.line(CLOSE_FINGERS)
    typist.keys("Ctrl+A", "Shift+O")


def test_the_first_section_of_the_demo_is_entered_by_keys_alone(make_bench, capsys):
    wanted = load(resources.path("demo", "rowing-home.footstool")).arrangement.sections[0]
    bench = make_bench(new_lesson())
    typist = Typist(bench)
    enter_section(typist)
    made = bench.lesson().arrangement.sections[0]
    assert written(made) == written(wanted)
    assert [(m.metre, m.key, m.ticks, m.counted) for m in made.measures] == [
        (m.metre, m.key, m.ticks, m.counted) for m in wanted.measures
    ]
    # The link to what was written again stands as it does in the demo: measures 5 and 6.
    place = {m.id: i for i, m in enumerate(made.measures)}
    assert [m.same_as and place[m.same_as] for m in made.measures[5:7]] == [1, 2]
    notes = sum(map(len, written(wanted)))
    with capsys.disabled():
        each = typist.count / notes
        print(f"\nentry: {typist.count} keystrokes for {notes} notes, {each:.2f} a note")
    assert typist.count <= MOST_PER_NOTE * notes


def test_all_of_it_is_taken_back_step_by_step(make_bench):
    empty = new_lesson()
    bench = make_bench(empty)
    enter_section(Typist(bench))
    while bench.session.history.done:
        bench.press("Ctrl+Z")
        assert bench.writing.caret.measure in bench.session.outline.index
    assert bench.lesson() == empty
