"""The score-and-tab canvas: fonts, painter, caret, keys."""
