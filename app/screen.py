"""Whether there is a screen to open the bench on. Creating a window without one aborts Python."""

from __future__ import annotations

import ctypes
import re
import socket
import sys
from collections.abc import Mapping
from pathlib import Path

from app.sentences import XCB_LIBRARIES

_WINDOWLESS = ("offscreen", "minimal")


def unseen(environment: Mapping[str, str]) -> bool:
    """True where windows would open but nobody could see them (offscreen platforms)."""
    return environment.get("QT_QPA_PLATFORM", "").startswith(_WINDOWLESS)


def has_display(environment: Mapping[str, str], system: str = sys.platform) -> bool:
    """Whether a window can be opened: on Linux and its kin, whether a display answers."""
    if system in ("win32", "darwin"):
        return True
    platform = environment.get("QT_QPA_PLATFORM", "").partition(":")[0]
    if platform and not platform.startswith(("xcb", "wayland")):
        return True
    return (platform != "wayland" and _x_answers(environment.get("DISPLAY", ""))) or (
        platform != "xcb" and _wayland_answers(environment)
    )


def missing_libraries(environment: Mapping[str, str], system: str = sys.platform) -> list[str]:
    """The system libraries that an X window needs and that cannot be loaded.

    Qt aborts the process for want of them, so they are tried before.
    """
    platform = environment.get("QT_QPA_PLATFORM", "")
    wanted = system == "linux" and (platform.startswith("xcb") or not platform)
    if not wanted or not environment.get("DISPLAY"):
        return []
    return [name for name in XCB_LIBRARIES if not _loads(name)]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _x_answers(display: str) -> bool:
    found = re.fullmatch(r"(?:unix/?)?(?P<host>[^:]*):(?P<number>\d+)(\.\d+)?", display)
    if found is None:
        return False
    number = int(found["number"])
    if found["host"]:
        return number < 59_000 and _answers(socket.AF_INET, (found["host"], 6000 + number))
    path = f"/tmp/.X11-unix/X{number}"
    return _answers(socket.AF_UNIX, path) or _answers(socket.AF_UNIX, "\0" + path)


def _wayland_answers(environment: Mapping[str, str]) -> bool:
    name = environment.get("WAYLAND_DISPLAY", "")
    if not name:
        return False
    return _answers(socket.AF_UNIX, str(Path(environment.get("XDG_RUNTIME_DIR", "/")) / name))


def _answers(family: int, address: str | tuple[str, int]) -> bool:
    with socket.socket(family) as probe:
        probe.settimeout(2)
        try:
            probe.connect(address)
        except OSError:
            return False
    return True
