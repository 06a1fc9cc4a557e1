"""MIDI files, written and read."""

from core.formats.midi_write import write

__all__ = ["write"]
