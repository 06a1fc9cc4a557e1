from core.display.golden import as_text
from core.display.items import Block, Curve, Face, Fill, Glyph, Line, Role, Sheet, Text

ITEMS = (
    Text(6, -1, "A\ue080", Face.SERIF_BOLD, 2, 1.25, anchor=0.5, role=Role.PINNED, source=9),
    Glyph(2, 3.5, 0xE0A4, source=7),
    Glyph(1, 3.50004, 0xE262, size=0.8),
    Line(0, -0.0001, 8, 0, 0.13, Role.STAFF),
    Line(0, 5, 8, 5, 0.1, Role.PENCIL, dash=(0.5, 0.25)),
    Fill(((2, 1), (3, 1), (3, 2)), Role.BLANK),
    Curve((1, 2), (5, 2), ((2, 3), (4, 3)), ((2, 2.8), (4, 2.8)), source=4),
)

GOLDEN = """\
sheet 20 x 30.5
block at 5,6.25
  0,0 line to 8,0 width 0.13 staff
  0,5 line to 8,5 width 0.1 dash 0.5,0.25 pencil
  1,2 curve to 5,2 outer 2,3 4,3 inner 2,2.8 4,2.8 ink #4
  1,3.5 glyph accidentalSharp size 0.8 ink
  2,1 fill to 3,1 3,2 blank
  2,3.5 glyph U+E0A4 ink #7
  6,-1 text "A<U+E080>" serif bold size 2 width 1.25 anchor 0.5 pinned #9
"""


def test_a_sheet_reads_as_text_from_left_to_right():
    sheet = Sheet(20, 30.5, (Block(5, 6.25, ITEMS, key=3),))
    assert as_text(sheet, {0xE262: "accidentalSharp"}) == GOLDEN


def test_the_order_of_items_does_not_show():
    sheet = Sheet(20, 30.5, (Block(5, 6.25, ITEMS[::-1], key=3),))
    assert as_text(sheet, {0xE262: "accidentalSharp"}) == GOLDEN
