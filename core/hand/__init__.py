"""The hand: where notes can be played, what it can reach, what a fingering costs."""
