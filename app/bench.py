"""The bench: builds the window and all it needs, joins them, and runs until it is closed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import structs
from platformdirs import user_config_path, user_state_path
from PySide6.QtWidgets import QApplication

import resources
import resources.metrics
from app.actions import Table
from app.asking import Asking
from app.drafting import Drafting
from app.files import Files, new_lesson
from app.hand_side import HandSide, join_hand
from app.hearing import Hearing
from app.jobs import Jobs
from app.look import Choice, Look
from app.messages import Messages
from app.reading import LESSON_SUFFIX, Opened, read
from app.remembered import Remembered
from app.safekeeping import Safekeeping
from app.selecting import Selecting
from app.session import Session
from app.sheet.fonts import SheetFonts
from app.sheet.painter import SheetPainter
from app.sheet.source_view import SourceView
from app.sheet.view import SheetView, is_roll
from app.signing import Signing
from app.table import LINES, Bench, table
from app.tidying import Tidying
from app.window import Parts, Window
from app.writing import Writing
from core.model import BadInput, Lesson
from core.page.engrave import Cache, engrave
from core.page.layout import Layout
from core.page.metrics import Metrics, build
from core.page.style import PageStyle, for_pages, for_settings
from core.page.together import together
from core.store import recover

if TYPE_CHECKING:
    from app.listening import Player

DEMO = ("demo", "rowing-home.footstool")


class PageEngraver:
    """Asks the page room for layouts and keeps what it may reuse."""

    def __init__(self, metrics: Metrics | None = None) -> None:
        self._metrics = metrics or build(resources.metrics.load())
        self._cache = Cache()

    def apart(self) -> PageEngraver:
        """Another one for other music: nothing kept is shared."""
        return PageEngraver(self._metrics)

    def staves(self, lessons: Sequence[Lesson], style: PageStyle) -> tuple[Layout, ...]:
        """Parts one under another, their barlines in line."""
        return together(lessons, style, self._metrics)

    def __call__(self, lesson: Lesson, style: PageStyle, previous: Layout | None) -> Layout:
        if is_roll(style):  # lines on the screen have no end to put a sheet at
            style = structs.replace(for_settings(style, lesson.settings), shape_sheet=False)
        else:
            style = for_pages(style, lesson.settings)
        return engrave(lesson, style, self._metrics, self._cache, previous)


@dataclass(frozen=True)
class Built:
    """A bench that is built and joined but not yet shown."""

    window: Window
    session: Session
    writing: Writing
    selecting: Selecting
    drafting: Drafting
    hearing: Hearing
    files: Files
    asking: Asking
    jobs: Jobs
    messages: Messages
    look: Look
    sheet: SheetView
    table: Table
    hand: HandSide


def new_player() -> Player:
    """The player of the built-in strings, loaded when something is first to be heard."""
    from app.listening import Player  # noqa: PLC0415

    return Player()


def build_bench(
    lesson: Lesson, asking: Asking, choice: Choice = "system",
    player: Callable[[], Player] = new_player, percent: int = 100,
) -> Built:  # fmt: skip
    """Build and join everything; the player is made when first needed, `percent` sizes the text."""
    painter = SheetPainter(SheetFonts())
    look = Look(choice, percent)
    messages = Messages()
    engraver = PageEngraver()
    session = Session(lesson, engraver, LINES)
    writing = Writing(session, messages)
    jobs = Jobs()
    files = Files(session, messages, asking, jobs)
    hearing = Hearing(session, writing, messages, player)
    selecting = Selecting(session, writing, messages)
    drafting = Drafting(session, writing, selecting, messages)
    sheet = SheetView(session, writing, selecting, look, painter, messages)
    source = SourceView(session, writing, drafting, look, painter, engraver.staves)

    def open_demo() -> None:
        files.show(structs.replace(read(resources.path(*DEMO)), foreign=False), None)

    parts = Parts(
        session, writing, selecting, hearing, files, jobs, messages, asking, look, sheet, source,
        open_demo,
    )  # fmt: skip
    window = Window(parts)
    hand = join_hand(parts, window)
    actions = table(
        Bench(
            session, files, writing, selecting, drafting, hearing, jobs, look, sheet, window, hand,
            Signing(session, writing, selecting, messages),
        )
    )  # fmt: skip
    window.use(actions)
    return Built(
        window, session, writing, selecting, drafting, hearing, files, asking, jobs, messages, look,
        sheet, actions, hand,
    )  # fmt: skip


def read_or_kept(path: Path) -> Opened | None:
    """What a file holds; None for a lesson that cannot be read but was kept beside its file."""
    try:
        return read(path)
    except BadInput:
        if path.suffix.lower() != LESSON_SUFFIX or recover(path) is None:
            raise
        return None


def open_bench(path: Path | None) -> int:
    """Open the window on a file, or on the demo lesson; the exit code of the program.

    Raises BadInput for a file that cannot be opened: from the command line that is told there.
    A damaged lesson that was kept beside its file is asked about in the window.
    """
    demo = resources.path(*DEMO)
    own = None if path is None or path.resolve() == demo.resolve() else path
    opened = read_or_kept(own or demo)
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName("Footstool")
    remembered = Remembered(user_config_path("footstool", appauthor=False) / "bench.ini")
    bench = build_bench(
        new_lesson() if own or opened is None else opened.lesson, Asking(), remembered.choice,
        new_player, remembered.percent,
    )  # fmt: skip
    keeping = Safekeeping(
        bench.session, bench.messages, bench.asking, user_state_path("footstool", appauthor=False)
    )
    bench.files.opened_lesson.connect(keeping.offer)
    bench.files.rescue = keeping.rescue
    app.aboutToQuit.connect(keeping.finish)
    remembered.show(bench.window)
    bench.window.closed.connect(lambda: remembered.keep(bench.look, bench.window))
    begin(bench, keeping, opened, own)
    bench.window.focus_sheet()
    tidying = Tidying(bench.session, lambda: bench.hearing.playing or bench.jobs.busy)
    app.aboutToQuit.connect(tidying.finish)
    return QApplication.exec()


def begin(bench: Built, keeping: Safekeeping, opened: Opened | None, path: Path | None) -> None:
    """What is shown first: unsaved work that is wanted back, else the file, else the demo.

    `opened` None: the file is damaged, and what was kept of it is offered.
    """
    if keeping.offer_unsaved() or (path is None and keeping.offer_beside()):
        if path is not None:
            bench.messages.note(f"{path.name} was not opened; Ctrl+O opens it.")
    elif path is not None and not _show(bench, opened, path):
        bench.window.open_demo()


def _show(bench: Built, opened: Opened | None, path: Path) -> bool:
    if opened is not None:
        return bench.files.take(opened, path)
    with bench.messages.guarded():
        bench.files.open(path)
    return bench.session.modified
