"""The system's clipboard: music as Footstool keeps it, and as plain-text tab for everyone else."""

from __future__ import annotations

import msgspec
from PySide6.QtCore import QMimeData
from PySide6.QtGui import QGuiApplication

from core.edit.clip import Clip
from core.formats.lesson_json import encode, from_text

MUSIC = "application/vnd.footstool.music+json"
MOST_BYTES = 8 * 1024 * 1024


def put(clip: Clip, tab: str) -> None:
    """Lay music and its plain tab on the clipboard."""
    data = QMimeData()
    data.setData(MUSIC, encode(clip))
    data.setText(tab)
    QGuiApplication.clipboard().setMimeData(data)


def put_text(text: str) -> None:
    """Lay text on the clipboard."""
    QGuiApplication.clipboard().setText(text)


def music() -> Clip | None:
    """The music on the clipboard, where a Footstool put it there and it can be read."""
    data = QGuiApplication.clipboard().mimeData()
    if data is None or not data.hasFormat(MUSIC):
        return None
    held = data.data(MUSIC).data()
    if len(held) > MOST_BYTES:
        return None
    try:
        return msgspec.json.decode(held, type=Clip, dec_hook=from_text)
    except (msgspec.DecodeError, ValueError):
        # Another program may claim the name of our format: what it wrote is not ours.
        return None


def text() -> str:
    """The text on the clipboard; empty when there is none."""
    return QGuiApplication.clipboard().text()
