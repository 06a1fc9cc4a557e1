"""MIDI files, written and read."""

from core.formats.midi_read import read
from core.formats.midi_write import write

__all__ = ["read", "write"]
