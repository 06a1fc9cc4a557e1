"""Fonts with their licences and metrics, and the demo lesson."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path


def path(*parts: str) -> Path:
    """The file of a resource; the package is always installed unpacked."""
    with as_file(files("resources").joinpath(*parts)) as found:
        return found
