"""Errors as sentences, and what a bare system lacks named by its package."""

from __future__ import annotations

import errno
import os

import pytest

from app import screen, sentences
from core.model import BadInput


def test_a_missing_system_library_is_named_with_its_package() -> None:
    """The wording is the loader's (glibc, dlopen)."""
    error = ImportError(
        "libEGL.so.1: cannot open shared object file: No such file or directory", name="x"
    )
    said = sentences.sentence(error)
    assert said is not None
    assert said.startswith("The system library libEGL.so.1 is missing")
    assert said.endswith("apt-get install libegl1")


def test_a_library_we_do_not_know_is_named_all_the_same() -> None:
    error = ImportError("libodd-9.so.3: cannot open shared object file: No such file")
    assert sentences.sentence(error) == (
        "The system library libodd-9.so.3 is missing; install the package of your system that "
        "holds it."
    )


def test_several_missing_libraries_make_one_command() -> None:
    said = sentences.library_sentence(["libgthread-2.0.so.0", "libglib-2.0.so.0", "libGL.so.1"])
    assert said.endswith("apt-get install libgl1 libglib2.0-0")


def test_a_missing_python_package_is_named() -> None:
    said = sentences.sentence(ModuleNotFoundError("No module named 'lxml'", name="lxml.etree"))
    assert said is not None
    assert "The Python package lxml is missing" in said


@pytest.mark.parametrize(
    "error",
    [
        ImportError("cannot import name 'x' from 'core.model'"),
        ModuleNotFoundError("No module named 'core.nowhere'", name="core.nowhere"),
    ],
)
def test_a_fault_of_ours_is_not_hidden(error: ImportError) -> None:
    assert sentences.sentence(error) is None


def test_other_errors_say_what_they_are() -> None:
    assert sentences.sentence(BadInput("Measure 3 is odd.")) == "Measure 3 is odd."
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "tune.wav")
    assert sentences.sentence(full) == (
        "The file cannot be used: No space left on device (tune.wav)."
    )


def test_plain_text_is_one_line_that_no_terminal_obeys() -> None:
    assert sentences.plain("a\n b\t\x1b[31mc\u202e é♭") == "a b ?[31mc? é♭"


@pytest.mark.parametrize(
    ("environment", "display"),
    [
        ({}, False),
        ({"QT_QPA_PLATFORM": "offscreen"}, True),
        ({"QT_QPA_PLATFORM": "vnc:size=800x600"}, True),
        ({"DISPLAY": "nonsense"}, False),
        ({"DISPLAY": ":59999"}, False),
        ({"DISPLAY": ":59999", "QT_QPA_PLATFORM": "xcb"}, False),
        ({"WAYLAND_DISPLAY": "wayland-none", "XDG_RUNTIME_DIR": "/nowhere"}, False),
    ],
)
def test_whether_a_display_answers(environment: dict[str, str], display: bool) -> None:
    assert screen.has_display(environment, "linux") is display


def test_other_systems_always_have_a_display() -> None:
    assert screen.has_display({}, "win32")
    assert screen.has_display({}, "darwin")


def test_windows_nobody_sees() -> None:
    assert screen.unseen({"QT_QPA_PLATFORM": "offscreen"})
    assert screen.unseen({"QT_QPA_PLATFORM": "minimal:enable_fonts"})
    assert not screen.unseen({"QT_QPA_PLATFORM": "xcb"})
    assert not screen.unseen({})


def test_missing_libraries_are_looked_for_where_an_x_window_would_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tried: list[str] = []
    monkeypatch.setattr(screen, "_loads", lambda name: bool(tried.append(name)))
    lacking = screen.missing_libraries({"DISPLAY": ":0"}, "linux")
    assert lacking == tried
    assert "libxcb-cursor.so.0" in lacking
    assert screen.missing_libraries({}, "linux") == []
    assert screen.missing_libraries({"DISPLAY": ":0"}, "darwin") == []
    assert (
        screen.missing_libraries({"DISPLAY": ":0", "QT_QPA_PLATFORM": "offscreen"}, "linux") == []
    )
