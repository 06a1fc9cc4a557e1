"""Plain-text tablature: lines of figures with bar strokes, as players write it in letters.

Six lines of dashes and figures from string 1 down, with bar strokes, are common practice, no
source; so is a letter for the value above each column. What stands around the lines is ours::

       3/4
       Q  E  E  q
    e|-0--1--3-----|     a figure: the fret
    B|-------------|     (3): goes on from the figure before, as a tie does
    G|-------------|     <12>: a natural harmonic, touched there
    D|-------------|
    A|-3-----------|
    E|-------------|
       H.                the second voice's values
    LH .  1  4           left-hand fingers
       3

- Above the values, where it changes: the metre, or how long one measure is (a pickup: ``1/8``).
- A letter a column, the keys that set values in the bench: ``W H Q E S T`` for whole to
  thirty-second, besides ``B`` breve, ``X`` 64th, ``Y`` 128th. Then its dots, and ``3`` in a triplet
  (``5:4``: five in the time of four). **A small letter is a rest.**
- The first voice's letters stand above the lines, those of the other voices below them in order; a
  lone ``-`` is a voice that is silent in the whole line. Where voices begin together, the lower
  voice has the lowest figure, and one more for each ``+`` behind its letter. Voices that begin with
  one figure share it.
- ``LH`` lines: the first has the finger of the topmost figure of each column, the second of the one
  below it, and so on; ``T`` is the thumb, ``.`` no finger.

What such a text does not carry is counted in `Written.left_out`: notes without a place, grace
notes, voices that cross, and every other sign. Spelling follows the key it is read into.

Reading takes what others write as well: with or without names of strings, bars or letters, lines
of any length, lines one under another, figures of two digits set left or right, and signs between
figures. A letter then holds until the next one. Without letters the spacing within a measure gives
the values where it fits some, else columns follow each other evenly.
"""

from core.formats.plain_tab_read import PlainTab, read
from core.formats.plain_tab_write import LEGEND, Written, write

__all__ = ["LEGEND", "PlainTab", "Written", "read", "write"]
