"""Chord shapes collected as a sheet, in the order of use."""

from __future__ import annotations

from msgspec import structs

from core.edit import AddMeasureMark, apply
from core.model import ChordMark, walk
from core.model.shapes import shape_sheet
from tests import build
from tests.bench.music import demo


def test_the_demo_shows_its_shapes_in_the_order_of_use():
    names = [use.shape.name for use in shape_sheet(demo().arrangement)]
    assert names == ["Am", "E", "C", "G", "Fmaj7", "Dm"]


def test_a_shape_used_twice_stands_once_with_both_measures():
    lesson = build.lesson(["C4:whole", "D4:whole", "E4:whole"])
    first, _, last = (m.id for m in walk.measures(lesson.arrangement))
    shape = shape_sheet(demo().arrangement)[0].shape
    for measure in (last, first):
        lesson = apply(AddMeasureMark(measure, ChordMark(shape)), lesson).lesson
    (use,) = shape_sheet(lesson.arrangement)
    assert use.measures == (first, last)
    other = structs.replace(shape, name="Am again")
    lesson = apply(AddMeasureMark(last, ChordMark(other)), lesson).lesson
    assert len(shape_sheet(lesson.arrangement)) == 2


def test_no_shape_no_sheet():
    assert shape_sheet(build.lesson(["C4:whole"]).arrangement) == ()
