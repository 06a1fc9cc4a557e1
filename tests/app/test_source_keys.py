"""Taking measures from the source, through real key events."""

from __future__ import annotations

from msgspec import structs

from core.edit.base import Ids
from core.edit.copying import copied_measure
from core.model import Source, SourcePart, walk
from tests import build
from tests.app.drafted import at, row, undone


def with_source():
    lesson = build.lesson(["", "E4s1f0:whole", ""])
    parts = [build.lesson([f"{p}5:half G5:half", f"{p}5:whole", f"{p}4:whole"]) for p in "CD"]
    ids = Ids(lesson)
    kept = Source(
        "An old song",
        tuple(
            SourcePart(name, tuple(copied_measure(m, ids) for m in walk.measures(part.arrangement)))
            for name, part in zip(("Treble", "Tenor"), parts, strict=True)
        ),
    )
    return structs.replace(lesson, sources=(kept,), next_id=ids.next)


def test_a_measure_is_taken_from_the_source_into_either_voice(make_bench):
    bench = make_bench(with_source())
    before = bench.lesson()
    bench.press("D")
    assert row(bench, 0) == ["C5", "G5"]
    assert at(bench) == (1, 0)
    undone(bench, (0, 0), before)
    bench.press("V", "Shift+D", "Ctrl+Right", "D")
    assert row(bench, 1) == ["s1f0"]
    assert row(bench, 1, 1) == ["D5"]
    bench.press("Ctrl+Home", "A", "A", "D")
    assert [row(bench, 0, 1), row(bench, 1, 1)] == [["D5", "G5"], ["D5"]]


def test_every_voice_of_a_part_can_be_taken(make_bench):
    lesson = with_source()
    part = build.lesson(["C5:whole | E3:half G3:half", "D5:whole | F3:whole"])
    ids = Ids(lesson)
    two = tuple(copied_measure(m, ids) for m in walk.measures(part.arrangement))
    kept = (Source("Keyboard", (SourcePart("Harp", two),)),)
    bench = make_bench(structs.replace(lesson, sources=kept, next_id=ids.next))
    before = bench.lesson()
    bench.press("Shift+D")
    assert "Harp, the lower voice" in bench.message()
    bench.press("D")
    assert row(bench, 0) == ["E3", "G3"]
    assert "the lower voice: written into the melody" in bench.message()
    undone(bench, (0, 0), before)
    bench.press("V", "D")
    assert row(bench, 0, 1) == ["E3", "G3"]
    bench.press("Ctrl+Z", "V", "Shift+D")
    assert "all its voices" in bench.message()
    bench.press("Ctrl+Home", "A", "A", "D")
    assert [row(bench, 0), row(bench, 0, 1)] == [["C5"], ["E3", "G3"]]
    assert [row(bench, 1), row(bench, 1, 1)] == [["D5"], ["F3"]]
    bench.press("Ctrl+Z")
    assert bench.lesson() == before


def test_a_measure_that_does_not_fit_the_source_says_what_to_do(make_bench):
    bench = make_bench(with_source())
    bench.press("Z")
    bench.answer("3/4")
    before = bench.lesson()
    bench.press("Ctrl+Right", "D")
    assert "does not fit the source" in bench.message()
    assert "take both" in bench.message()
    assert bench.lesson() is before


def test_source_staves_stand_above_the_sheet_at_the_carets_measure(make_bench):
    bench = make_bench(with_source())
    view = bench.window.source
    assert not view.isVisible()
    bench.press("Ctrl+D")
    assert view.isVisible()
    sources = {item.source for block in view.layout_of(1).sheets[0].blocks for item in block.items}
    part = bench.lesson().sources[0].parts[1].measures
    assert {n.id for m in part for _, n in walk.notes(m)} <= sources
    bench.press("Ctrl+Right", "Ctrl+Right")
    assert view.first_measure() == 2
    bench.press("Ctrl+D")
    assert not view.isVisible()


def test_without_a_source_it_is_said(bench):
    for key in ("D", "Shift+D", "Ctrl+D"):
        bench.press(key)
        assert "No source" in bench.message()
