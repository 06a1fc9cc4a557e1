"""What went wrong, as one sentence: for the command line and the bench alike. Knows no Qt."""

from __future__ import annotations

import re
from types import MappingProxyType

from core.model.errors import FootstoolError

DEBIAN_PACKAGES = MappingProxyType(
    {
        "libGL.so.1": "libgl1",
        "libEGL.so.1": "libegl1",
        "libglib-2.0.so.0": "libglib2.0-0",
        "libgthread-2.0.so.0": "libglib2.0-0",
        "libdbus-1.so.3": "libdbus-1-3",
        "libfontconfig.so.1": "libfontconfig1",
        "libfreetype.so.6": "libfreetype6",
        "libX11.so.6": "libx11-6",
        "libX11-xcb.so.1": "libx11-xcb1",
        "libXext.so.6": "libxext6",
        "libXrandr.so.2": "libxrandr2",
        "libxkbcommon.so.0": "libxkbcommon0",
        "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
        "libxcb.so.1": "libxcb1",
        "libxcb-cursor.so.0": "libxcb-cursor0",
        "libxcb-icccm.so.4": "libxcb-icccm4",
        "libxcb-image.so.0": "libxcb-image0",
        "libxcb-keysyms.so.1": "libxcb-keysyms1",
        "libxcb-randr.so.0": "libxcb-randr0",
        "libxcb-render.so.0": "libxcb-render0",
        "libxcb-render-util.so.0": "libxcb-render-util0",
        "libxcb-shape.so.0": "libxcb-shape0",
        "libxcb-shm.so.0": "libxcb-shm0",
        "libxcb-sync.so.1": "libxcb-sync1",
        "libxcb-util.so.1": "libxcb-util1",
        "libxcb-xfixes.so.0": "libxcb-xfixes0",
        "libxcb-xkb.so.1": "libxcb-xkb1",
        "libgssapi_krb5.so.2": "libgssapi-krb5-2",
        "libbrotlidec.so.1": "libbrotli1",
        "libbrotlicommon.so.1": "libbrotli1",
        "libpulse.so.0": "libpulse0",
        "libasound.so.2": "libasound2",
    }
)
"""System library -> the package that holds it in Debian 12."""

OUR_PACKAGES = ("app", "core", "resources")

XCB_LIBRARIES = (
    *(name for name in DEBIAN_PACKAGES if name.startswith(("libxcb", "libX11"))),
    "libxkbcommon-x11.so.0",
)
"""What a window on an X display needs besides what the Qt modules load themselves."""


def plain(text: str) -> str:
    """The text on one line, fit for any terminal: what cannot be shown becomes a question mark."""
    line = " ".join(text.split())
    return "".join(letter if letter.isprintable() else "?" for letter in line)


def sentence(error: FootstoolError | ImportError | OSError) -> str | None:
    """What an error says to the user; None for an import error that is a fault of ours."""
    if isinstance(error, ImportError):
        return missing_library(error) or missing_package(error)
    return os_sentence(error) if isinstance(error, OSError) else str(error)


def missing_library(error: ImportError) -> str | None:
    """The sentence for an import that failed for want of a system library; None for any other."""
    found = re.match(r"(lib[\w.+-]+?\.so[\w.]*): cannot open shared object file", str(error))
    return library_sentence([found[1]]) if found else None


def library_sentence(names: list[str]) -> str:
    """Which system libraries are missing, and what to install."""
    packages = sorted({DEBIAN_PACKAGES[name] for name in names if name in DEBIAN_PACKAGES})
    subject = (
        f"The system library {names[0]} is"
        if len(names) == 1
        else f"The system libraries {', '.join(names)} are"
    )
    if not packages:
        return f"{subject} missing; install the package of your system that holds it."
    return (
        f"{subject} missing, so the bench cannot open; on Debian or Ubuntu install what is missing "
        f"with: sudo apt-get install {' '.join(packages)}"
    )


def missing_package(error: ImportError) -> str | None:
    """The sentence for a Python package that is not installed; None for any other import error."""
    if not isinstance(error, ModuleNotFoundError) or not error.name:
        return None
    package = error.name.partition(".")[0]
    if package in OUR_PACKAGES:
        return None
    return (
        f"The Python package {package} is missing; install Footstool again with all it needs "
        f"(pip install footstool)."
    )


def os_sentence(error: OSError) -> str:
    """What the system says about a file, as a sentence."""
    reason = error.strerror or str(error)
    name = f" ({error.filename})" if error.filename else ""
    return f"The file cannot be used: {reason}{name}."
