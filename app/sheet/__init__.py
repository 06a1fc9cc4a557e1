"""The canvas: score and tab as the page room lays them out, and the caret on them."""
