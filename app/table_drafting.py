"""The rows of the table of actions for drafting: selecting, the clipboard, measures, the source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from app.actions import Action, Focus
from app.drafting import Drafting
from app.selecting import Selecting
from app.window import Window
from app.writing import Writing

Rows = tuple[tuple[str, str, str, Callable[[], object], int], ...]


def drafting_rows(
    drafting: Drafting, selecting: Selecting, writing: Writing, window: Window
) -> Iterator[Action]:
    """The actions of the menus Edit (clipboard), Select, Measure and Source."""
    yield from _rows("Edit", _clipboard(drafting))
    yield from _rows("Select", _selecting(selecting, writing))
    yield from _rows("Measure", _measures(drafting, window))
    yield from _rows("Source", _source(drafting, window))


def _rows(menu: str, rows: Rows) -> Iterator[Action]:
    for name, title, key, run, group in rows:
        keys = (key,) if key else ()
        yield Action(name, title, keys, Focus.SHEET, run, menu, group)


def _clipboard(drafting: Drafting) -> Rows:
    return (
        ("cut", "Cut", "Ctrl+X", drafting.cut, 4),
        ("copy", "Copy", "Ctrl+C", drafting.copy, 4),
        ("copy-tab", "Copy as plain tab only", "Ctrl+Shift+C", drafting.copy_tab, 4),
        ("paste", "Paste over what is there", "Ctrl+V", drafting.paste, 4),
        ("paste-in", "Paste in before the caret", "Ctrl+Shift+V",
         partial(drafting.paste, "insert"), 4),
    )  # fmt: skip


def _selecting(selecting: Selecting, writing: Writing) -> Rows:
    def extend(move: Callable[[], object]) -> Callable[[], object]:
        return partial(selecting.extend, move)

    return (
        ("select-right", "Select up to the next event", "Shift+Right",
         extend(partial(writing.step, 1)), 1),
        ("select-left", "Select from the event before", "Shift+Left",
         extend(partial(writing.step, -1)), 1),
        ("select-next-measure", "Select up to the next measure", "Ctrl+Shift+Right",
         extend(partial(writing.step_measure, 1)), 1),
        ("select-last-measure", "Select from the measure before", "Ctrl+Shift+Left",
         extend(partial(writing.step_measure, -1)), 1),
        ("select-to-end", "Select to the end of the piece", "Ctrl+Shift+End",
         extend(partial(writing.to_end, True)), 1),
        ("select-to-start", "Select from the start of the piece", "Ctrl+Shift+Home",
         extend(partial(writing.to_end, False)), 1),
        ("select-measure", "Select the measure, then the next too", "A", selecting.measure, 2),
        ("select-section", "Select the section, then the piece", "Ctrl+A", selecting.section, 2),
        ("select-all", "Select the whole piece", "Ctrl+Shift+A", selecting.all, 2),
        ("select-voice", "Only this voice of it, or all", "Shift+V", selecting.one_voice, 3),
        ("select-nothing", "Select nothing", "Esc", selecting.drop, 3),
    )  # fmt: skip


def _measures(drafting: Drafting, window: Window) -> Rows:
    def ask(question: str, example: str, answered: Callable[[str], object]) -> Callable[[], object]:
        return partial(window.ask, question, example, answered)

    return (
        ("measure-add", "Add a measure after", "M", partial(drafting.insert_measure, "after"), 1),
        ("measure-add-before", "Add a measure before", "Shift+M",
         partial(drafting.insert_measure, "before"), 1),
        ("measure-repeat", "Write it once more", "Shift+R", drafting.repeat_measure, 1),
        ("measure-again", "Write earlier measures again after it …", "Y",
         ask("Which measures again?", "as 1 or 1-2", drafting.more_same_as), 1),
        ("measure-same", "Same as measure …", "=",
         ask("Same as which measure?", "as 3; 0: no longer the same", drafting.same_as), 1),
        ("measure-delete", "Delete the measure", "Ctrl+Del", drafting.delete_measure, 1),
        ("measure-complete", "Fill up or trim the measure", "C", drafting.complete_or_trim, 2),
        ("measure-split", "Barline before the caret", "/", drafting.split, 2),
        ("measure-join", "Join with the next measure", "J", drafting.join, 2),
        ("measure-swap", "Exchange melody and bass", "Shift+B", drafting.swap_voices, 2),
        ("measure-head", "Metre and key from here …", "Z",
         ask("Metre, key, or both?", "as 6/8 A minor", drafting.head), 3),
        ("measure-length", "A pickup, or a length of its own …", "Shift+Z",
         ask("How long is this measure?", "as 1/8; 0: as its metre says", drafting.own_length), 3),
        ("measure-section", "Begin a section here, or name it", "G", window.section_here, 3),
    )  # fmt: skip


def _source(drafting: Drafting, window: Window) -> Rows:
    return (
        ("source-take", "Take the measure from the source", "D", drafting.take, 1),
        ("source-part", "Next voice or part of the source", "Shift+D", drafting.next_part, 1),
        ("source-show", "Show the source above the sheet", "Ctrl+D", window.show_source, 2),
    )
