"""The command line: what it makes, what it says, its exit codes, and what it does not import."""

from __future__ import annotations

import os
import subprocess
import sys
import wave
from pathlib import Path

import pytest
from msgspec import structs

import app.main as command_line
from app import commands
from core.model import Settings
from core.store import load, save
from tests import build

pytest.importorskip("core.formats.musicxml_write", reason="MusicXML is still being written")

ROOT = Path(__file__).parent.parent.parent
LESSON = structs.replace(
    build.lesson(["E4s1f0:whole"], ["G4s1f3:whole", "r:whole"], title="Two Gates"),
    settings=Settings(practice_percent=50),
)


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    save(LESSON, tmp_path / "tune.footstool")
    return tmp_path / "tune.footstool"


def run(*arguments: object) -> int:
    """The exit code, as a shell would see it."""
    try:
        return command_line.main([str(argument) for argument in arguments])
    except SystemExit as stop:
        return int(stop.code or 0)


def refused(capsys: pytest.CaptureFixture[str]) -> str:
    """The one sentence on stderr, and nothing on stdout."""
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("footstool: ")
    assert said.err.endswith("\n")
    assert said.err.count("\n") == 1
    return said.err.strip()


def seconds(path: Path) -> float:
    with wave.open(str(path)) as sound:
        return sound.getnframes() / sound.getframerate()


# ------------------------------------------------------------------------- help and use


@pytest.mark.parametrize("command", ["open", "convert", "render", "kit", "demo"])
def test_every_command_explains_itself(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(command, "--help") == 0
    said = capsys.readouterr().out
    assert said.startswith(f"usage: footstool {command}")
    assert f"Example: footstool {command}" in said
    assert run("--help") == 0
    assert f"  {command} " in capsys.readouterr().out


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--version") == 0
    assert capsys.readouterr().out.startswith("footstool 0")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["convert"], "the following arguments are required: IN, OUT"),
        (["convert", "a", "b", "c"], "unrecognized arguments: c"),
        (["render", "a", "b.wav", "--count-in", "x"], "invalid int value: 'x'"),
        (["--nonsense"], "--nonsense"),
    ],
)
def test_bad_use_is_told_in_one_sentence(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*arguments) == 2
    assert sentence in refused(capsys)


# ------------------------------------------------------------------------- convert


@pytest.mark.parametrize(
    ("suffix", "begins"),
    [
        (".footstool", b"{"),
        (".musicxml", b"<?xml"),
        (".xml", b"<?xml"),
        (".mid", b"MThd"),  # Standard MIDI File 1.1: the header chunk
        (".pdf", b"%PDF-1."),  # ISO 32000-1, 7.5.2
        (".svg", b"<"),
        (".wav", b"RIFF"),
        (".PDF", b"%PDF-1."),
    ],
)
def test_a_lesson_becomes_any_kind_of_file(
    tune: Path, suffix: str, begins: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tune.with_name(f"out{suffix}")
    assert run("convert", tune, target) == 0
    assert target.read_bytes().startswith(begins)
    assert sorted(p.name for p in tune.parent.iterdir()) == [target.name, tune.name]
    assert capsys.readouterr().err == ""


def test_a_lesson_converted_to_a_lesson_is_the_same(tune: Path) -> None:
    assert run("convert", tune, tune.with_name("again.footstool")) == 0
    assert load(tune.with_name("again.footstool")) == LESSON


def test_the_strip_is_one_drawing(tune: Path) -> None:
    assert run("convert", tune, tune.with_name("line.svg")) == 0
    text = tune.with_name("line.svg").read_text()
    assert text.count("<svg") == 1
    assert "Two Gates" in text


@pytest.mark.parametrize("name", ["out.docx", "out"])
def test_an_unknown_kind_is_refused_before_anything_is_read(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("convert", tmp_path / "nowhere.footstool", tmp_path / name) == 2
    assert f"{name} is of no kind that Footstool writes" in refused(capsys)


def test_a_kind_that_cannot_be_read(tune: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tune.with_suffix(".docx")
    source.touch()
    assert run("convert", source, tune.with_name("out.pdf")) == 2
    assert "tune.docx is of no kind that Footstool reads" in refused(capsys)


def test_a_target_that_cannot_be_written(tune: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("convert", tune, tune.parent / "nowhere" / "out.mid") == 2
    assert "there is no such folder" in refused(capsys)


# ------------------------------------------------------------------------- render


@pytest.mark.parametrize(
    ("options", "music_seconds"),
    [
        # A beat lasts 60 / bpm seconds; three measures of four quarters at 60 a minute.
        ([], 24.0),  # the practice tempo, 50 %
        (["--tempo", "60"], 12.0),
        (["--tempo", "50%"], 24.0),
        (["--tempo", "120"], 6.0),
        (["--section", "b", "--tempo", "120"], 4.0),
        (["--section", "2", "--tempo", "120"], 4.0),
        (["--section", "A", "--tempo", "120", "--count-in", "1"], 4.0),
        (["--section", "A", "--tempo", "120", "--count-in", "2"], 6.0),
    ],
)
def test_the_sound_lasts_as_long_as_its_tempo_says(
    tune: Path, options: list[str], music_seconds: float
) -> None:
    target = tune.with_name("out.wav")
    assert run("render", tune, target, *options) == 0
    ring = seconds(target) - music_seconds
    assert 0 <= ring <= 6


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--section", "Q"], "There is no section Q; its sections are A and B."),
        (["--tempo", "fast"], "fast is no tempo; write 60 (beats a minute) or 50%."),
        (["--tempo", "nan"], "tempo"),
        (["--tempo", "-5%"], "A tempo is more than 0, not -5;"),
        (["--tempo=-5%"], "A tempo is more than 0, not -5;"),
        (["--tempo", "0%"], "A tempo is more than 0, not 0;"),
        (["--tempo", "500%"], "outside 5 to 400 %"),
        (["--tempo", "9999"], "outside 5 to 600 beats a minute"),
        (["--count-in", "3"], "0 to 2 measures"),
    ],
)
def test_what_cannot_be_rendered(
    tune: Path, options: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("render", tune, tune.with_name("out.wav"), *options) == 2
    assert sentence in refused(capsys)
    assert [p.name for p in tune.parent.iterdir()] == [tune.name]


@pytest.mark.parametrize(
    ("letters", "sentence"),
    [
        ([""], "There is no section Q; its one section has no letter: number 1."),
        (["Coda"], "There is no section Q; its one section is Coda."),
        (["A", ""], "There is no section Q; its sections are A and number 2 (it has no letter)."),
    ],
)
def test_the_sections_there_are_can_be_asked_for(
    tune: Path, letters: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lesson = build.lesson(*(["E4s1f0:whole"] for _ in letters))
    sections = tuple(
        structs.replace(section, letter=letter)
        for section, letter in zip(lesson.arrangement.sections, letters, strict=True)
    )
    arrangement = structs.replace(lesson.arrangement, sections=sections)
    save(structs.replace(lesson, arrangement=arrangement), tune)
    assert run("render", tune, tune.with_name("out.wav"), "--section", "Q") == 2
    assert sentence in refused(capsys)


def test_render_writes_wav_only(tune: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("render", tune, tune.with_name("out.mp3")) == 2
    assert "does not end in .wav" in refused(capsys)


# ------------------------------------------------------------------------- kit and demo


def test_a_kit_is_made_and_listed(tune: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tune.with_name("kit")
    assert run("kit", tune, folder) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert said.out.startswith(f"The kit of Two Gates, in {folder}:\n")
    for path in folder.iterdir():
        assert f"  {path.name} " in said.out


def test_a_second_kit_says_what_made_way(tune: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tune.with_name("kit")
    run("kit", tune, folder)
    made = len([*folder.iterdir()])
    (folder / "notes of mine.txt").write_text("keep")
    capsys.readouterr()
    assert run("kit", tune, folder) == 0
    said = capsys.readouterr().out
    assert said.endswith(f"{made} files of the kit that was there before made way.\n")
    assert (folder / "notes of mine.txt").read_text() == "keep"


def test_a_kit_replaces_no_file_that_is_not_a_kits(
    tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tune.with_name("kit")
    folder.mkdir()
    for name in ("two-gates.mid", "contents.txt"):
        (folder / name).write_text("mine")
    assert run("kit", tune, folder) == 2
    assert "kit holds two-gates.mid and 1 more, which no list of contents" in refused(capsys)
    assert {p.name: p.read_text() for p in folder.iterdir()} == {
        "two-gates.mid": "mine", "contents.txt": "mine",
    }  # fmt: skip


def test_the_demo_makes_its_kit_where_it_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("demo", tmp_path / "out") == 0
    assert "The kit of Rowing Home at Lantern Time" in capsys.readouterr().out
    made = {p.name for p in (tmp_path / "out").iterdir()}
    assert "rowing-home-at-lantern-time-handout.pdf" in made
    assert "rowing-home-at-lantern-time-section-b.wav" in made


@pytest.mark.parametrize("environment", [{"QT_QPA_PLATFORM": "offscreen"}, {}])
def test_the_bare_demo_without_a_screen_makes_a_kit_here(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    environment: dict[str, str],
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked: list[Path] = []
    monkeypatch.setattr(commands, "kit", lambda source, folder: asked.append(folder))
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.chdir(tmp_path)
    assert run("demo") == 0
    assert asked == [Path("footstool-demo")]


def test_the_bench_needs_a_display(
    tune: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert run(tune) == 2
    assert "there is no display to open the bench on" in refused(capsys)


def test_a_misspelt_command_is_named_before_the_display(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert run("redner") == 2
    assert "there is no command and no file redner; the commands are open, " in refused(capsys)
    assert run("frobnicate", "tune.musicxml") == 2
    said = refused(capsys)
    assert "there is no command frobnicate; the commands are open, convert, " in said
    assert said.endswith("kit and demo.")


def test_a_missing_file_is_named_before_the_display(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert run(tmp_path / "none.footstool") == 2
    assert "There is no file" in refused(capsys)


def test_a_file_with_more_behind_it_begins_with_no_command(
    tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tune, tune.with_suffix(".pdf")) == 2
    assert "begin with a command: the commands are open, convert, " in refused(capsys)


# ------------------------------------------------------------------------- bad input


@pytest.fixture(params=["convert", "render", "kit"])
def asked(request: pytest.FixtureRequest, tmp_path: Path) -> list[str]:
    """A command and its target, to be given a bad file."""
    target = {"convert": "out.pdf", "render": "out.wav", "kit": "kit"}[request.param]
    return [request.param, str(tmp_path / target)]


def bad(asked: list[str], source: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """The sentence for a bad source; nothing may have been written beside it."""
    before = sorted(source.parent.iterdir())
    assert run(asked[0], source, asked[1]) == 2
    assert sorted(source.parent.iterdir()) == before
    return refused(capsys)


def test_a_lesson_that_is_not_there(
    asked: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "There is no file" in bad(asked, tmp_path / "tune.footstool", capsys)


def test_a_truncated_lesson(
    asked: list[str], tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tune.write_bytes(tune.read_bytes()[:-40])
    assert "tune.footstool cannot be opened: the file is cut off at line" in bad(
        asked, tune, capsys
    )


def test_a_lesson_from_a_newer_footstool(
    asked: list[str], tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tune.write_bytes(tune.read_bytes().replace(b'"version": 1', b'"version": 2'))
    assert "was written by a newer Footstool" in bad(asked, tune, capsys)


def test_a_lesson_that_is_something_else(
    asked: list[str], tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for data in (b"", b"\xff\xfe\0", b"[" * 100_000, b'{"format": 3}', b"<score-partwise/>"):
        tune.write_bytes(data)
        bad(asked, tune, capsys)


def test_a_lesson_nested_deeper_than_python_can_go(
    asked: list[str], tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    deep = b'{"a":' * 50_000
    tune.write_bytes(b'{"format": "footstool.lesson", "version": 1, "x": ' + deep)
    bad(asked, tune, capsys)


def test_a_field_that_would_be_lost_is_told_and_the_file_still_opens(
    tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tune.write_bytes(tune.read_bytes().replace(b'"notes"', b'"nootes"', 1))
    assert run("convert", tune, tune.with_name("again.footstool")) == 0
    said = capsys.readouterr().err
    assert 'tune.footstool has a field that this Footstool does not know: "nootes" (line' in said
    assert "measure 1)" in said
    assert said.count("\n") == 1


def test_a_title_cannot_command_the_terminal(
    tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    save(structs.replace(LESSON, title="Two\x1b[2J\nGates"), tune)
    assert run("kit", tune, tune.with_name("kit")) == 0
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert said.startswith("The kit of Two?[2J Gates, in ")


# ------------------------------------------------------------------------- other processes


def shell(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=kept | environment, text=True,
        capture_output=True, timeout=120, check=False,
    )  # fmt: skip


def test_starting_imports_neither_qt_nor_music21_nor_numpy_nor_lxml() -> None:
    heavy = {"PySide6", "music21", "numpy", "lxml", "mido", "fontTools", "pydyf"}
    code = (
        "import sys, app.main; print(' '.join(sorted({m.partition('.')[0] for m in sys.modules})))"
    )
    found = shell("-c", code)
    assert found.returncode == 0, found.stderr
    assert heavy.isdisjoint(found.stdout.split())


_BLOCKED = """
import sys

class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "PySide6":
            raise AssertionError("PySide6 was asked for")

sys.meta_path.insert(0, Wall())
from app.main import main

for arguments in {commands!r}:
    code = main(arguments)
    assert code == 0, (arguments, code)
"""


def test_every_windowless_command_works_without_qt(tune: Path) -> None:
    folder = tune.parent
    commands_ = [
        ["convert", str(tune), str(folder / name)]
        for name in ("a.pdf", "a.svg", "a.mid", "a.musicxml", "a.footstool")
    ]
    commands_.append(["convert", str(folder / "a.musicxml"), str(folder / "b.footstool")])
    commands_.append(["render", str(tune), str(folder / "a.wav"), "--tempo", "200"])
    commands_.append(["kit", str(tune), str(folder / "kit")])
    found = shell("-c", _BLOCKED.format(commands=commands_))
    assert found.returncode == 0, found.stderr


def test_a_reader_who_leaves_early_is_no_error(tune: Path) -> None:
    kit = tune.with_name("kit")
    code = (
        "import os, sys; os.close(1); r, w = os.pipe(); os.close(r); assert w == 1 or os.dup2(w, 1)"
    )
    code += f"; from app.main import main; sys.exit(main(['kit', {str(tune)!r}, {str(kit)!r}]))"
    found = shell("-c", code)
    assert "Traceback" not in found.stderr
    assert (kit / "contents.txt").exists()
