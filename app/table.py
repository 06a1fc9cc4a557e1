"""The one table of actions of the bench: every title, key, focus and menu stands here."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from msgspec import structs

from app.actions import Action, Focus, Table
from app.drafting import Drafting
from app.files import Files
from app.hand_side import HandSide
from app.hearing import Hearing
from app.jobs import Jobs
from app.look import STEP, Choice, Look
from app.page_choices import ROWS, SWITCHES, PageChoices
from app.selecting import Selecting
from app.session import Session
from app.sheet.view import ROLL_MM, SheetView
from app.signing import Signing
from app.table_drafting import drafting_rows
from app.table_hand import hand_rows
from app.table_signs import sign_rows
from app.window import Window
from app.writing import VOICE_WORDS, Writing
from core.model import Base, Finger
from core.page.style import A4, PageStyle

# Ways to show the music. Lines have the width of the printed page, so that they break alike.
LINES = PageStyle(
    height_mm=ROLL_MM, left_mm=7.0, right_mm=7.0, width_mm=194.0, top_mm=5.0, bottom_mm=5.0,
    title=False, footer=False,
)  # fmt: skip
ONE_LINE = PageStyle(flow="line")

ANY, SHEET, TAB, STAFF, STRIP = (
    Focus.ANYWHERE, Focus.SHEET, Focus.TAB, Focus.STAFF, Focus.STRIP,
)  # fmt: skip

VALUE_KEYS = (
    ("W", Base.WHOLE, "Whole"), ("H", Base.HALF, "Half"), ("Q", Base.QUARTER, "Quarter"),
    ("E", Base.EIGHTH, "Eighth"), ("S", Base.SIXTEENTH, "Sixteenth"),
    ("T", Base.THIRTY_SECOND, "Thirty-second"),
)  # fmt: skip


@dataclass(frozen=True)
class Bench:
    """What actions act on."""

    session: Session
    files: Files
    writing: Writing
    selecting: Selecting
    drafting: Drafting
    hearing: Hearing
    jobs: Jobs
    look: Look
    sheet: SheetView
    window: Window
    hand: HandSide
    signing: Signing


def table(bench: Bench) -> Table:
    """All actions of the bench."""
    return Table(
        [
            *_file_rows(bench),
            *_edit_rows(bench),
            *_walk_rows(bench.writing, bench.sheet),
            *_value_rows(bench),
            *_note_rows(bench),
            *sign_rows(bench.signing, bench.window, bench.sheet),
            *_figure_rows(bench),
            *drafting_rows(bench.drafting, bench.selecting, bench.writing, bench.window),
            *hand_rows(bench.hand, bench.sheet),
            *_hear_rows(bench.hearing),
            *_strip_rows(bench),
            *_view_rows(bench),
            *_page_rows(PageChoices(bench.session)),
            *_focus_rows(bench.window),
            *_help_rows(bench.window),
        ]
    )


def _file_rows(bench: Bench) -> Iterator[Action]:
    files, jobs = bench.files, bench.jobs
    idle: Callable[[], bool] = lambda: not jobs.busy  # noqa: E731
    section = partial(_export_section, bench)
    whole = partial(files.export_sound, None)
    yield Action("new", "New lesson", ("Ctrl+N",), ANY, files.new, "File", 1)
    yield Action("open", "Open …", ("Ctrl+O",), ANY, files.ask_open, "File", 1)
    yield Action("demo", "Open the demo lesson", (), ANY, bench.window.open_demo, "File", 1)
    yield Action("save", "Save", ("Ctrl+S",), ANY, files.save, "File", 2)
    yield Action("save-as", "Save as …", ("Ctrl+Shift+S",), ANY, files.save_as, "File", 2)
    yield Action("kit", "Make the whole kit …", ("Ctrl+K",), ANY, files.export_kit, "File", 3, idle)
    yield Action("pdf", "Handout as PDF …", ("Ctrl+P",), ANY, files.export_handout, "File", 3, idle)
    yield Action("midi", "MIDI file …", (), ANY, files.export_midi, "File", 3, idle)
    yield Action("wav", "Sound of the section …", (), ANY, section, "File", 3, idle)
    yield Action("wav-piece", "Sound of the piece …", (), ANY, whole, "File", 3, idle)
    yield Action("score", "MusicXML score …", (), ANY, files.export_score, "File", 3, idle)
    yield Action(
        "stop-job", "Stop what is being made", (), ANY, jobs.stop, "File", 3, lambda: jobs.busy
    )
    yield Action("quit", "Close the bench", ("Ctrl+Q",), ANY, bench.window.close, "File", 4)


def _export_section(bench: Bench) -> None:
    bench.files.export_sound(bench.hearing.section()[0])


def _edit_rows(bench: Bench) -> Iterator[Action]:
    writing, session = bench.writing, bench.session
    yield Action(
        "undo", "Undo", ("Ctrl+Z",), ANY, writing.undo, "Edit", 1,
        lambda: bool(session.history.done),
    )  # fmt: skip
    yield Action(
        "redo", "Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), ANY, writing.redo, "Edit", 1,
        lambda: bool(session.history.undone),
    )  # fmt: skip
    yield Action("next", "Next open place", ("N",), SHEET, bench.window.next_open, "Edit", 2)
    yield Action(
        "pin", "Keep what is suggested", ("Return", "Enter"), SHEET, writing.pin, "Edit", 3
    )
    yield Action(
        "pin-measure", "Keep all that is suggested in the measure", ("Shift+Return",), SHEET,
        writing.pin_measure, "Edit", 3,
    )  # fmt: skip


def _walk_rows(writing: Writing, sheet: SheetView) -> Iterator[Action]:
    rows: tuple[tuple[str, str, str, Callable[[], object]], ...] = (
        ("right", "Next event", "Right", partial(writing.step, 1)),
        ("left", "Event before", "Left", partial(writing.step, -1)),
        ("down", "String or note below", "Down", partial(writing.climb, 1)),
        ("up", "String or note above", "Up", partial(writing.climb, -1)),
        ("to-tab", "To the tab", "Ctrl+Down", partial(writing.cross, "tab")),
        ("to-staff", "To the staff", "Ctrl+Up", partial(writing.cross, "staff")),
        ("next-beat", "Next beat", "Alt+Right", partial(writing.step_beat, 1)),
        ("last-beat", "Beat before", "Alt+Left", partial(writing.step_beat, -1)),
        ("next-measure", "Next measure", "Ctrl+Right", partial(writing.step_measure, 1)),
        ("last-measure", "Measure before", "Ctrl+Left", partial(writing.step_measure, -1)),
        ("line-down", "Next line", "PgDown", partial(sheet.system_step, 1)),
        ("line-up", "Line before", "PgUp", partial(sheet.system_step, -1)),
        ("line-start", "Start of the line", "Home", partial(sheet.system_end, False)),
        ("line-end", "End of the line", "End", partial(sheet.system_end, True)),
        ("next-section", "Next section", "Ctrl+PgDown", partial(writing.step_section, 1)),
        ("last-section", "Section before", "Ctrl+PgUp", partial(writing.step_section, -1)),
        ("start", "Start of the piece", "Ctrl+Home", partial(writing.to_end, False)),
        ("end", "End of the piece", "Ctrl+End", partial(writing.to_end, True)),
    )
    for name, title, key, run in rows:
        yield Action(f"go-{name}", title, (key,), SHEET, run, "Go", 1)
    yield Action("voice", "Write in the other voice", ("V",), SHEET, writing.other_voice, "Go", 2)
    for voice, words in enumerate(VOICE_WORDS):
        yield Action(f"voice-{voice + 1}", f"Write in {words}", (f"Alt+{voice + 1}",), SHEET,
                     partial(writing.to_voice, voice), "Go", 2)  # fmt: skip


def _value_rows(bench: Bench) -> Iterator[Action]:
    writing, menu = bench.writing, "Note"
    for key, base, title in VALUE_KEYS:
        yield Action(
            f"value-{base.value}", title, (key,), SHEET, partial(writing.set_value, base), menu, 1
        )
    yield Action("dot", "Dot", (".",), SHEET, writing.dot, menu, 1)
    yield Action("triplet", "Triplet, or none", ("U",), SHEET, writing.tuplet, menu, 1)
    yield Action(
        "tuplet", "Another tuplet …", ("Shift+U",), SHEET,
        partial(bench.window.ask, "How many in the time of how many?", "as 5:4",
                bench.drafting.tuplet), menu, 1,
    )  # fmt: skip
    yield Action(
        "insert-mode", "Put in before the caret, or write over", ("Ins",), SHEET,
        writing.change_mode, menu, 1, ticked=lambda: writing.mode == "insert",
    )  # fmt: skip


def _note_rows(bench: Bench) -> Iterator[Action]:
    writing, drafting, menu = bench.writing, bench.drafting, "Note"
    rows: tuple[tuple[str, str, str, Callable[[], object], int], ...] = (
        ("rest", "Rest", "R", writing.rest, 2),
        ("tie", "Tie to the next", "L", writing.tie, 2),
        ("fermata", "Fermata", "F", writing.fermata, 2),
        ("add-pitch", "Add a note by name", "P", bench.sheet.await_letter, 3),
        (
            "string-up",
            "Same note on the string above",
            "Shift+Up",
            partial(drafting.to_string, -1),
            3,
        ),
        (
            "string-down",
            "Same note on the string below",
            "Shift+Down",
            partial(drafting.to_string, 1),
            3,
        ),
        ("other-voice", "Move to the other voice", "B", drafting.to_other_voice, 3),
        ("delete", "Delete the note, or clear what is selected", "Del", drafting.delete, 4),
        ("close-up", "Take it out, what follows moves up", "Backspace", drafting.close_up, 4),
    )
    for name, title, key, run, group in (*rows, *_pitch_rows(drafting)):
        yield Action(name, title, (key,), SHEET, run, menu, group)


def _pitch_rows(drafting: Drafting) -> tuple[tuple[str, str, str, Callable[[], object], int], ...]:
    return (
        ("raise", "Semitone up", "Alt+Up", partial(drafting.transpose, 1), 3),
        ("lower", "Semitone down", "Alt+Down", partial(drafting.transpose, -1), 3),
        ("octave-up", "Octave up", "Alt+PgUp", partial(drafting.transpose, 12), 3),
        ("octave-down", "Octave down", "Alt+PgDown", partial(drafting.transpose, -12), 3),
        (
            "step-up",
            "Step of the key up",
            "Alt+Shift+Up",
            partial(drafting.transpose, 1, along_key=True),
            3,
        ),
        (
            "step-down",
            "Step of the key down",
            "Alt+Shift+Down",
            partial(drafting.transpose, -1, along_key=True),
            3,
        ),
    )


def _figure_rows(bench: Bench) -> Iterator[Action]:
    writing = bench.writing
    for figure in range(10):
        yield Action(
            f"fret-{figure}", f"Fret {figure}", (str(figure),), TAB, partial(writing.figure, figure)
        )
    yield Action(
        "fret-ten", "Fret ten and more, then a figure", ("X",), TAB, bench.sheet.await_fret
    )
    for figure in range(10):
        title = "Open string" if figure == 0 else f"Finger {figure}"
        menu = "Finger" if figure <= 4 else ""
        yield Action(
            f"finger-{figure}", title, (str(figure),), STAFF, partial(writing.figure, figure), menu
        )
    yield Action(
        "thumb", "Thumb", ("Alt+T",), SHEET, partial(writing.set_finger, Finger.THUMB), "Finger"
    )
    yield Action(
        "open-figures", "0 at all open strings", ("Shift+O",), SHEET,
        bench.drafting.figure_open_strings, "Finger",
    )  # fmt: skip
    yield Action(
        "no-finger", "Leave the finger open", ("Shift+Del",), SHEET,
        partial(writing.set_finger, None), "Finger",
    )  # fmt: skip


def _hear_rows(hearing: Hearing) -> Iterator[Action]:
    menu = "Hear"

    def flip(name: str) -> None:
        now = getattr(hearing.choices, name)
        hearing.choose(structs.replace(hearing.choices, **{name: not now}))

    def is_on(name: str) -> bool:
        return bool(getattr(hearing.choices, name))

    yield Action("hear", "Hear or stop", ("Space",), SHEET, hearing.toggle, menu, 1)
    yield Action("hear-any", "Hear or stop, from anywhere", ("F9",), ANY, hearing.toggle, menu, 1)
    yield Action("hear-measure", "Hear the measure", ("Shift+Space",), SHEET,
                 partial(hearing.hear, "measure"), menu, 1)  # fmt: skip
    yield Action("hear-section", "Hear the section", ("Shift+F9",), ANY,
                 partial(hearing.hear, "section"), menu, 1)  # fmt: skip
    yield Action("hear-piece", "Hear the piece", ("Ctrl+F9",), ANY,
                 partial(hearing.hear, "piece"), menu, 1)  # fmt: skip
    for name, title, key in (
        ("loop", "Loop", "O"), ("count_in", "Count-in", "I"), ("click", "Click", "K"),
    ):  # fmt: skip
        yield Action(f"hear-{name}", title, (key,), SHEET, partial(flip, name), menu, 2,
                     ticked=partial(is_on, name))  # fmt: skip
    yield Action("faster", "Faster by 5 %", ("]",), SHEET,
                 lambda: hearing.set_percent(hearing.percent + 5), menu, 3)  # fmt: skip
    yield Action("slower", "Slower by 5 %", ("[",), SHEET,
                 lambda: hearing.set_percent(hearing.percent - 5), menu, 3)  # fmt: skip


def _strip_rows(bench: Bench) -> Iterator[Action]:
    strip, window = bench.window.strip, bench.window
    rows: tuple[tuple[str, str, str, Callable[[], object]], ...] = (
        ("right", "Next played measure", "Right", partial(strip.step, 1)),
        ("left", "Played measure before", "Left", partial(strip.step, -1)),
        ("next", "Next block", "Ctrl+Right", partial(strip.move_block, 1)),
        ("last", "Block before", "Ctrl+Left", partial(strip.move_block, -1)),
        ("hear", "Hear or stop", "Space", bench.hearing.toggle),
        ("enter", "To the sheet", "Return", window.focus_sheet),
    )
    for name, title, key, run in rows:
        yield Action(f"strip-{name}", title, (key,), STRIP, run)


def _view_rows(bench: Bench) -> Iterator[Action]:
    sheet, look, window = bench.sheet, bench.look, bench.window
    menu = "View"
    for name, title, key, style in (
        ("lines", "Lines one under another", "Ctrl+1", LINES),
        ("pages", "Pages as printed", "Ctrl+2", A4),
        ("line", "One long line", "Ctrl+3", ONE_LINE),
    ):
        yield Action(name, title, (key,), ANY, partial(window.show_as, style), menu, 1,
                     ticked=partial(lambda s: bench.session.style == s, style))  # fmt: skip
    yield Action("larger", "Larger", ("Ctrl++", "Ctrl+="), ANY, partial(sheet.zoom, 1.15), menu, 2)
    yield Action("smaller", "Smaller", ("Ctrl+-",), ANY, partial(sheet.zoom, 1 / 1.15), menu, 2)
    yield Action("fit", "Fit the width", ("Ctrl+0",), ANY, sheet.fit_width, menu, 2,
                 ticked=lambda: sheet.fits)  # fmt: skip
    themes: tuple[tuple[Choice, str], ...] = (
        ("system", "Light or dark as the system"), ("light", "Light"), ("dark", "Dark"),
    )  # fmt: skip
    for choice, title in themes:
        yield Action(f"look-{choice}", title, (), ANY, partial(look.choose, choice), menu, 3,
                     ticked=partial(lambda c: look.choice == c, choice))  # fmt: skip
    yield Action("text-larger", "Larger text", ("Ctrl+Alt++", "Ctrl+Alt+="), ANY,
                 lambda: look.scale_text(look.percent + STEP), menu, 4)  # fmt: skip
    yield Action("text-smaller", "Smaller text", ("Ctrl+Alt+-",), ANY,
                 lambda: look.scale_text(look.percent - STEP), menu, 4)  # fmt: skip


def _page_rows(choices: PageChoices) -> Iterator[Action]:
    """What the lesson's pages show besides the music, on the sheet and in the handout."""
    groups: dict[str, int] = {}
    numbers: dict[str, int] = {}
    for name, value, title in ROWS:
        group = groups.setdefault(name, len(groups) + 1)
        number = numbers[name] = numbers.get(name, 0) + 1
        yield Action(f"page-{name}-{number}", title, (), ANY, partial(choices.choose, name, value),
                     "Page", group, ticked=partial(choices.is_on, name, value))  # fmt: skip
    for name, title in SWITCHES:
        yield Action(f"page-{name}", title, (), ANY, partial(choices.flip, name), "Page", 9,
                     ticked=partial(choices.is_on, name))  # fmt: skip


def _focus_rows(window: Window) -> Iterator[Action]:
    rows: tuple[tuple[str, str, Callable[[], object]], ...] = (
        ("Job card", "F2", window.focus_job),
        ("Form strip", "F3", window.focus_strip),
        ("Sheet", "F4", window.focus_sheet),
        ("Panel", "F5", window.focus_panel),
        ("Listening bar", "F6", window.focus_listening),
    )
    for title, key, run in rows:
        name = title.lower().replace(" ", "-")
        yield Action(f"focus-{name}", title, (key,), ANY, run, "Go", 3)


def _help_rows(window: Window) -> Iterator[Action]:
    yield Action("keys", "Keys", ("F1",), ANY, window.show_keys, "Help", 1)
    yield Action("about", "About Footstool", (), ANY, window.show_about, "Help", 1)
