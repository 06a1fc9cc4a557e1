"""One module a file format, reading and writing side by side."""
