"""The command line: the only place that builds and joins things. Imports no Qt by itself."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from app import screen, sentences
from core.model import FootstoolError

DONE, PROBLEMS, BAD_USE = 0, 1, 2
DEMO_FOLDER = Path("footstool-demo")


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(BAD_USE, f"footstool: {sentences.plain(message)}; see {self.prog} --help.\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; the exit code: 0 done, 1 found problems, 2 bad use or bad input."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a file's name may be in no alphabet
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given == ["--think"]:  # the worker process of the bench, see `app.jobs`
        from app.thinking import process

        process.main()
    parser = _parser()
    commands = parser.get_default("commands")
    if given and not given[0].startswith("-") and given[0] not in commands:
        wrong = _no_command(given, commands)
        if wrong:
            return _refuse(wrong)
        given.insert(0, "open")
    options = parser.parse_args(_tempo_joined(given) or ["open"])
    work: Callable[[argparse.Namespace], int] = options.work
    try:
        return work(options)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nobody reads on
        return DONE
    except KeyboardInterrupt:
        return _refuse("stopped; nothing was left half-written.")
    except (FootstoolError, ImportError, OSError) as error:
        found = sentences.sentence(error)
        if found is None:
            raise
        return _refuse(found)


def _no_command(given: Sequence[str], commands: Sequence[str]) -> str | None:
    """What is wrong with a line that begins with no command; None where it is a file to open."""
    first = given[0]
    named = f"the commands are {', '.join(commands[:-1])} and {commands[-1]}."
    if Path(first).exists() or Path(first).suffix:
        if len(given) == 1 or given[1].startswith("-"):
            return None
        return f"the bench opens one file; to do more with {first} begin with a command: {named}"
    if len(given) > 1:
        return f"there is no command {first}; {named}"
    return f"there is no command and no file {first}; {named}"


def _tempo_joined(given: Sequence[str]) -> list[str]:
    """The line with ``--tempo -5%`` as one word, which would pass for an option otherwise."""
    joined: list[str] = []
    for word in given:
        if joined and joined[-1] == "--tempo" and word[:1] == "-" and word[1:2].isdigit():
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _refuse(sentence: str) -> int:
    print(f"footstool: {sentences.plain(sentence)}", file=sys.stderr)
    return BAD_USE


def _version() -> str:
    try:
        return version("footstool")
    except PackageNotFoundError:
        return "0 (not installed)"


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="footstool",
        usage="footstool [FILE]\n       footstool COMMAND ... (see footstool COMMAND --help)",
        description="Turn an old tune into a beginner's guitar lesson. Without a command: open the "
        "bench on FILE, or on the demo lesson.",
        epilog="Example: footstool tune.musicxml",
    )
    parser.add_argument("--version", action="version", version=f"footstool {_version()}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", prog="footstool")
    for add in (_add_open, _add_convert, _add_finger, _add_render, _add_kit, _add_demo):
        add(commands)
    parser.set_defaults(commands=tuple(commands.choices))
    return parser


if TYPE_CHECKING:
    from app.commands import Shown

    _Commands = argparse._SubParsersAction[_Parser]  # argparse names the type no other way


def _command(
    commands: _Commands,
    name: str,
    description: str,
    example: str,
    work: Callable[[argparse.Namespace], int],
) -> argparse.ArgumentParser:
    short = description.partition(". ")[0].removesuffix(".")
    parser = commands.add_parser(
        name, help=f"{short}.", description=description, epilog=f"Example: footstool {example}"
    )
    parser.set_defaults(work=work)
    return parser


def _add_open(commands: _Commands) -> None:
    parser = _command(
        commands, "open", "Open the bench on a file.", "open tune.musicxml",
        lambda o: _bench(o.file),
    )  # fmt: skip
    parser.add_argument("file", metavar="FILE", type=Path, nargs="?", help="a lesson or a score")


def _add_convert(commands: _Commands) -> None:
    parser = _command(
        commands, "convert",
        "Write one file as another, by suffix. Reads .footstool, .musicxml, .xml, .mxl, .mid and "
        ".midi; writes .footstool, .musicxml, .xml, .mid, .pdf (A4 pages), .svg (one long line) "
        "and .wav. Of several parts the highest becomes the melody and the lowest the bass. Of a "
        "MIDI file the rhythm is guessed, and what was guessed is told.",
        "convert tune.musicxml tune.footstool", _convert,
    )  # fmt: skip
    parser.add_argument("source", metavar="IN", type=Path, help="the file to read")
    parser.add_argument("target", metavar="OUT", type=Path, help="the file to write")
    parser.add_argument(
        "--parts",
        metavar="M,B",
        default="",
        help="parts for melody and bass by number, such as 1,4",
    )
    parser.add_argument(
        "--octave",
        metavar="N",
        type=int,
        choices=range(-3, 4),
        help="octaves from what the score writes to what sounds (-1: an octave below)",
    )
    _page_options(parser)


def _add_finger(commands: _Commands) -> None:
    parser = _command(
        commands, "finger",
        "Suggest strings, frets and left-hand fingers for every note. What is set firmly stays; "
        "what no hand can play is named, and exits 1.",
        "finger tune.musicxml tune.footstool --level 1", _finger,
    )  # fmt: skip
    parser.add_argument("source", metavar="IN", type=Path, help="the file to read")
    parser.add_argument("target", metavar="OUT", type=Path, help="the file to write")
    parser.add_argument("--level", type=int, choices=(1, 2, 3), help="default: the lesson's own")
    parser.add_argument(
        "--keep", choices=("places", "fingers", "all"), default="", help="keep what is suggested"
    )
    parser.add_argument(
        "--hand", metavar="SPANS", default="",
        help="six spans in mm: fingers 1-2, 1-3, 1-4, 2-3, 2-4, 3-4 (60,85,110,46,73,48)",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="figures as one JSON document")


def _add_render(commands: _Commands) -> None:
    parser = _command(
        commands, "render", "Write the sound of the piece, or of one section, as a WAV file.",
        "render tune.footstool refrain.wav --section B --tempo 60%", _render,
    )  # fmt: skip
    parser.add_argument("source", metavar="IN", type=Path, help="the file to read")
    parser.add_argument("target", metavar="OUT.wav", type=Path, help="the file to write")
    parser.add_argument("--section", metavar="NAME", default="", help="letter, title or number")
    parser.add_argument(
        "--tempo",
        metavar="TEMPO",
        default="",
        help="beats a minute (60) or of the goal tempo (50%%); default: the practice tempo",
    )
    parser.add_argument(
        "--count-in", metavar="N", type=int, default=0, help="measures counted in (0 to 2)"
    )


def _add_kit(commands: _Commands) -> None:
    parser = _command(
        commands, "kit",
        "Make everything there is to hand out in a folder: pages, sound and MIDI of each section, "
        "MusicXML, the lesson and a list of contents.", "kit tune.footstool for-ines", _kit,
    )  # fmt: skip
    parser.add_argument("source", metavar="IN", type=Path, help="the file to read")
    parser.add_argument("folder", metavar="DIR", type=Path, help="the folder to fill")
    _page_options(parser)


def _page_options(parser: argparse.ArgumentParser) -> None:
    """What the pages show besides the music; what is not said stays as the lesson has it."""
    parser.add_argument(
        "--names", choices=("none", "letters", "fixed-do", "movable-do"),
        help="note names on the pages: letters in the heads, or syllables",
    )  # fmt: skip
    parser.add_argument(
        "--shapes",
        action=argparse.BooleanOptionalAction,
        help="a sheet of all chord shapes at the end",
    )
    parser.add_argument("--staves", choices=("both", "staff", "tab"), help="what pages show")
    parser.add_argument("--paper", choices=("a4", "letter"), help="the paper of the pages")
    parser.add_argument(
        "--large-print",
        action=argparse.BooleanOptionalAction,
        help="large staves and signs, a phrase to a line, landscape",
    )


def _add_demo(commands: _Commands) -> None:
    parser = _command(
        commands, "demo",
        "Open the bench on the demo lesson. With DIR, or where there is no display, make the "
        "demo's whole kit in a folder instead (./footstool-demo).", "demo", _demo,
    )  # fmt: skip
    parser.add_argument("folder", metavar="DIR", type=Path, nargs="?", help="the folder to fill")


def _shown(options: argparse.Namespace) -> Shown:
    from app import commands

    return commands.Shown(
        options.names, options.shapes, options.staves, options.paper, options.large_print
    )


def _convert(options: argparse.Namespace) -> int:
    from app import commands

    shown = _shown(options)
    commands.convert(options.source, options.target, options.parts, options.octave, shown)
    return DONE


def _finger(options: argparse.Namespace) -> int:
    from app import fingering

    clean = fingering.finger(
        options.source, options.target, options.level, options.keep, options.hand, options.json
    )
    return DONE if clean else PROBLEMS


def _render(options: argparse.Namespace) -> int:
    from app import commands

    commands.render(
        options.source, options.target, options.section, options.tempo, options.count_in
    )
    return DONE


def _kit(options: argparse.Namespace) -> int:
    from app import commands

    commands.kit(options.source, options.folder, _shown(options))
    return DONE


def _demo(options: argparse.Namespace) -> int:
    import resources

    lesson = resources.path("demo", "rowing-home.footstool")
    if options.folder is None and screen.has_display(os.environ) and not screen.unseen(os.environ):
        return _bench(lesson)
    from app import commands

    commands.kit(lesson, options.folder or DEMO_FOLDER)
    return DONE


def _bench(path: Path | None) -> int:
    if path is not None and not path.exists():
        return _refuse(f"There is no file {path}.")
    if not screen.has_display(os.environ):
        return _refuse("there is no display to open the bench on; see footstool --help.")
    lacking = screen.missing_libraries(os.environ)
    if lacking:
        return _refuse(sentences.library_sentence(lacking))
    from app.bench import open_bench

    return open_bench(path)


if __name__ == "__main__":
    sys.exit(main())
