"""Writing: the caret, and what each key does to the music at it. Holds no widget."""
