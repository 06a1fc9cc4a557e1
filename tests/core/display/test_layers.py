from hypothesis import given, settings
from hypothesis import strategies as st

from core.display.items import Curve, Fill, Glyph, Line, Role, Text
from core.display.layers import ORDER, layers
from tests.core.display.sheets import page


def test_every_role_has_its_layer_once():
    assert sorted(ORDER) == sorted(Role)


def test_staff_lines_lie_below_the_paper_behind_figures_and_that_below_all_else():
    assert ORDER[:2] == (Role.STAFF, Role.BLANK)


@given(st.permutations(page(1).blocks[1].items))
@settings(max_examples=20)
def test_layers_keep_every_item_once_whatever_the_order(items):
    found = layers(items)
    assert [layer.role for layer in found] == [r for r in ORDER if r in {i.role for i in items}]
    kept = [i for x in found for i in (*x.shapes, *x.lines, *x.glyphs, *x.texts)]
    assert sorted(map(repr, kept)) == sorted(map(repr, items))
    for layer in found:
        assert all(item.role is layer.role for item in (*layer.shapes, *layer.glyphs))
        assert all(isinstance(shape, Fill | Curve) for shape in layer.shapes)
        assert all(isinstance(line, Line) for line in layer.lines)
        assert all(isinstance(glyph, Glyph) for glyph in layer.glyphs)
        assert all(isinstance(text, Text) for text in layer.texts)
