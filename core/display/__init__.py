"""Display lists: drawing decided elsewhere, as values; replayed to SVG and PDF. Knows no music."""
