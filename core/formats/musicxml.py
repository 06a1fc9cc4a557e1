"""MusicXML 4.0, reading and writing side by side."""

from __future__ import annotations

from core.formats.imported import Imported, PartChoice, PartInfo, Report
from core.formats.musicxml_read import parts, read
from core.formats.musicxml_write import write

__all__ = ["Imported", "PartChoice", "PartInfo", "Report", "parts", "read", "write"]
