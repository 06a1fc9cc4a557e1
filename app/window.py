"""The window: puts the parts of the bench side by side and keeps them up to date."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from app import caret as carets
from app.actions import Focus, MenuMaker, Table
from app.asking import Asking
from app.files import Files
from app.hearing import Hearing
from app.help import ABOUT, KeyHelp
from app.jobs import Jobs
from app.look import Look
from app.messages import Messages
from app.panels.answer_line import AnswerLine
from app.panels.course import duration_words, stretches, tempo_words
from app.panels.credit_panel import CreditPanel
from app.panels.duties import view
from app.panels.form_panel import Doing, FormPanel
from app.panels.form_strip import FormStrip
from app.panels.hand_panel import HandPanel
from app.panels.job import Facts, Question, counted, next_spot, questions
from app.panels.job_card import JobCard
from app.panels.listening_bar import ListeningBar
from app.panels.parts import card, scrolled, words
from app.panels.status_line import StatusLine
from app.panels.work_line import WorkLine
from app.selecting import Selecting
from app.session import OPENED, Session
from app.sheet.source_view import SourceView
from app.sheet.view import SheetView
from app.where import caret_words, entry_words, moment_words
from app.writing import Writing
from core.edit.base import Command
from core.edit.change import Change
from core.edit.form import SplitSection
from core.page.layout import Hit
from core.page.style import PageStyle

HAND_HINTS = (
    ("suggest", "suggests fingers"), ("next-way", "another way"), ("why-not", "why not"),
    ("pin", "keeps what is suggested"),
    ("go-to-staff", "to the staff: a figure is a finger"),
    ("go-to-tab", "to the tab: a figure is a fret"),
)  # fmt: skip
LATER_MS = 120  # the map and the counts follow an edit this much later, so that keys never wait


@dataclass(frozen=True)
class Parts:
    """What the window shows and passes keys to; built by `app.bench`."""

    session: Session
    writing: Writing
    selecting: Selecting
    hearing: Hearing
    files: Files
    jobs: Jobs
    messages: Messages
    asking: Asking
    look: Look
    sheet: SheetView
    source: SourceView
    open_demo: Callable[[], None]


class Window(QMainWindow):
    """The bench. Call `use` with the table of actions before it is shown. `closed()` at the end."""

    closed = Signal()

    def __init__(self, parts: Parts) -> None:
        super().__init__()
        self._parts, self.source = parts, parts.source
        self._facts = Facts()
        self._questions: tuple[Question, ...] = ()
        self._question = "fingers"
        self._table: Table | None = None
        self._menus: MenuMaker | None = None
        self._panels: dict[str, QWidget] = {}
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(LATER_MS)
        self._later.timeout.connect(self.refresh_map)
        parts.asking.parent = self
        self._build()
        self._join()
        self.setWindowTitle("Footstool")

    # ------------------------------------------------------------------ building

    def _build(self) -> None:
        parts = self._parts
        self.strip = FormStrip(parts.look, parts.messages)
        self.job_card = JobCard(parts.look)
        self.hand = HandPanel(parts.look)
        self.form = FormPanel(
            Doing(self._do, lambda measure: parts.writing.go_to(measure, 0)), parts.look
        )
        self.credit = CreditPanel(self._do)
        self.listening = ListeningBar(parts.hearing, parts.look, parts.messages.attempt)
        self.status = StatusLine(parts.messages)
        self.answer = AnswerLine(parts.messages)
        self.work = WorkLine(parts.jobs)
        bench = QWidget()
        bench.setObjectName("bench")
        outer = QVBoxLayout(bench)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        inner = QVBoxLayout()
        inner.setContentsMargins(20, 4, 20, 4)
        inner.setSpacing(6)
        inner.addLayout(self._header())
        inner.addWidget(self.strip)
        inner.addLayout(self._facts_line())
        inner.addLayout(self._columns(), 1)
        inner.addWidget(self.answer)
        inner.addWidget(self.status)
        inner.addWidget(self.work)
        self.lines = inner
        outer.addLayout(inner, 1)
        outer.addWidget(self.listening)
        self.setCentralWidget(bench)

    def _header(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._title = words("", "title")
        self._student = words("", "serif")
        self._saved = words("", "quiet", name="saved")
        row.addWidget(self._title)
        row.addSpacing(12)
        row.addWidget(self._student, 0, Qt.AlignmentFlag.AlignBottom)
        row.addStretch(1)
        row.addWidget(self._saved, 0, Qt.AlignmentFlag.AlignBottom)
        return row

    def _facts_line(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._written = words("", "quiet")
        self._length = words("", "quiet")
        row.addWidget(self._written)
        row.addStretch(1)
        row.addWidget(self._length)
        return row

    def _columns(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(12)
        self._left = card("Job card")
        self._fill(self._left, self.job_card)
        middle = card("Sheet")
        self._fill(middle, self._parts.source, self._parts.sheet)
        self._right = card("Panel")
        self._stack = QStackedWidget()
        for key, panel in (("hand", self.hand), ("form", self.form), ("credit", self.credit)):
            self.add_panel(key, panel)
        self._fill(self._right, self._stack)
        row.addWidget(self._left)
        row.addWidget(middle, 1)
        row.addWidget(self._right)
        return row

    def add_panel(self, key: str, panel: QWidget) -> None:
        """One more panel for the right side."""
        self._panels[key] = panel
        self._stack.addWidget(scrolled(panel) if key in ("hand", "level") else panel)

    def show_panel(self, key: str) -> None:
        """Show a panel at the right."""
        self._stack.setCurrentIndex(list(self._panels).index(key))

    @staticmethod
    def _fill(frame: QWidget, *widgets: QWidget) -> None:
        layout = QVBoxLayout(frame)
        layout.setContentsMargins(1, 1, 1, 1)
        layout.setSpacing(0)
        for widget in widgets:
            layout.addWidget(widget)
        layout.setStretchFactor(widgets[-1], 1)

    def _join(self) -> None:
        parts = self._parts
        parts.files.commit = self._commit
        parts.session.changed.connect(self._session_changed)
        parts.session.saved_changed.connect(self._show_saved)
        parts.writing.moved.connect(self._caret_moved)
        parts.selecting.changed.connect(self._show_hand)
        parts.sheet.pointed.connect(self._pointed)
        parts.sheet.asked_menu.connect(self._context_menu)
        self.strip.pointed.connect(self._strip_pointed)
        self.job_card.chosen.connect(self.choose)
        parts.hearing.moved.connect(self._playhead)
        parts.hearing.changed.connect(self._hearing_changed)
        parts.jobs.began.connect(self._refresh_menus)
        parts.jobs.ended.connect(self._refresh_menus)
        parts.files.opened.connect(self._opened)
        parts.look.changed.connect(self._sizes)
        self._sizes()

    def use(self, table: Table) -> None:
        """Take the table of actions: menus, keys, hints."""
        self._table = table
        self._menus = MenuMaker(table, self, self._parts.messages.attempt)
        self._menus.fill(self.menuBar())
        self._parts.sheet.use(table)
        self.strip.use(table)
        self.job_card.set_hint(f"{table.hint('next', 'next open place')}, on the sheet")
        self.hand.set_hint(". ".join(table.hint(*hint) for hint in HAND_HINTS))
        self.form.set_hint(table.hint("measure-section", "on the sheet begins a section there"))
        self.refresh_all()

    def _sizes(self) -> None:
        px = self._parts.look.px
        # With large text the panels wrap sooner, so that the sheet keeps most of the window.
        most = max(600, self.width())
        self._left.setFixedWidth(min(px(172), max(172, most * 18 // 100)))
        self._right.setFixedWidth(min(px(336), max(336, most * 30 // 100)))

    # ------------------------------------------------------------------ keeping up to date

    def refresh_all(self) -> None:
        """Show everything anew."""
        self.refresh_map()
        self._show_saved()
        self._show_hand()

    def refresh_map(self) -> None:
        """The header, the form strip, the counts and the panels of the whole lesson."""
        self._later.stop()
        session = self._parts.session
        lesson, outline = session.lesson, session.outline
        arrangement = lesson.arrangement
        self._title.setText(lesson.title or "A lesson without a title")
        student = lesson.brief.student
        self._student.setText(f"for {student}" if student else "")
        self._questions = questions(lesson, self._facts.of(outline.measures))
        self.job_card.show_questions(self._questions)
        self.job_card.mark(self._question)
        blocks = stretches(arrangement, outline.played)
        names = {m.id: outline.name(m.id) for m in outline.measures}
        self.strip.show_course(blocks, names)
        self.strip.show_here(self._parts.writing.caret.measure)
        self._written.setText(counted(len(outline.measures), "written measure"))
        seconds = duration_words(blocks[-1].end) if blocks else "no end: the road map runs in rings"
        played = counted(len(outline.played), "played measure")
        self._length.setText(f"{played}: {seconds} at {tempo_words(arrangement)}")
        self._length.setToolTip("In strict time: without pauses, slowing and count-in")
        self.form.show_arrangement(arrangement)
        self.credit.show_lesson(lesson)
        self._refresh_menus()

    def _refresh_menus(self) -> None:
        if self._menus is not None:
            self._menus.refresh()

    def _session_changed(self, change: Change, initiator: object) -> None:
        if OPENED in change.fields:
            self.refresh_all()
        else:
            self._later.start()
            self._show_hand()
            self._refresh_menus()

    def _caret_moved(self) -> None:
        self.strip.show_here(self._parts.writing.caret.measure)
        self._show_hand()
        self._parts.hearing.changed.emit()

    def _show_hand(self) -> None:
        writing, session = self._parts.writing, self._parts.session
        outline = session.outline
        caret = writing.caret
        measure = outline.measure(caret.measure)
        if measure is None:
            return
        place = caret_words(outline, caret)
        selected = self._parts.selecting.words()
        self.status.show_place(
            place, entry_words(writing.value, caret, writing.mode, writing.open, selected)
        )
        self._parts.sheet.setAccessibleDescription(place)
        instrument = session.lesson.arrangement.instrument
        index = outline.index[caret.measure]
        hand = view(instrument, outline.measures, index, caret.onset, outline.shift)
        self.hand.show_hand(moment_words(outline, caret), instrument, hand)

    def _show_saved(self) -> None:
        session = self._parts.session
        name = session.path.name if session.path is not None else ""
        if session.modified:
            text = f"changed, not saved: {name}" if name else "not saved yet"
        else:
            text = f"saved: {name}" if name else "the demo, unchanged"
        self._saved.setText(text)
        self.setWindowModified(session.modified)
        self.setWindowTitle(f"{session.lesson.title or 'Lesson'}[*] · Footstool")

    def _hearing_changed(self) -> None:
        if not self._parts.hearing.playing:
            self._parts.sheet.hide_playhead()
            self.strip.hide_playhead()

    def _playhead(self, measure: int, ticks: int, occurrence: int) -> None:
        found = self._parts.session.outline.measure(measure)
        if found is None:
            return
        self._parts.sheet.show_playhead(measure, ticks)
        if occurrence >= 0:
            share = min(1.0, ticks / max(1, found.length_ticks))
            self.strip.show_playhead(occurrence, share)

    # ------------------------------------------------------------------ doing

    def _do(self, command: Command) -> None:
        with self._parts.messages.guarded():
            self._parts.session.apply(command, initiator=self)
        self.refresh_map()

    def _commit(self) -> None:
        """A field that is still being written in becomes an edit."""
        focused = self.focusWidget()
        finished = getattr(focused, "editingFinished", None)
        if finished is not None and focused is not None and self._right.isAncestorOf(focused):
            finished.emit()

    def _pointed(self, hit: Hit, selects: bool) -> None:
        writing = self._parts.writing
        side: carets.On = "tab" if hit.on == "tab" else "staff"
        found = carets.on_note(writing.outline, hit.source, side) if hit.source else None
        if found is None or (side == "tab" and found.string != hit.string):
            voice = writing.caret.voice
            found = carets.Caret(hit.measure, hit.onset, side, hit.string or 1, 0, voice)
        self._parts.messages.clear()
        if selects:
            self._parts.selecting.extend(partial(writing.go, found))
        else:
            self._parts.selecting.drop()
            writing.go(found)

    def _strip_pointed(self, index: int) -> None:
        self.strip.set_here(index)
        measure = self._parts.session.outline.played[index].measure.id
        self._parts.writing.go_to(measure, 0)

    def _context_menu(self, point: QPoint) -> None:
        if self._menus is not None:
            focus = self._parts.sheet.focus_name
            menu = self._menus.context_menu(
                self, (Focus.SHEET, focus), ("Edit", "Note", "Finger", "Measure", "Source", "Hear")
            )
            menu.popup(point)

    def choose(self, key: str) -> None:
        """Open the panel of a question and go to its first open place."""
        self.refresh_map()
        self._question = key
        self.job_card.mark(key)
        self.show_panel(key if key in ("credit", "form") else "hand")
        question = self._chosen()
        if key == "credit":
            self.credit.focus_first_empty()
        elif question is not None and question.spots:
            self._go_to_spot(question, first=True)
            if key == "form":
                self._focus_section()
            else:
                self.focus_sheet()

    def _chosen(self) -> Question | None:
        return next((q for q in self._questions if q.key == self._question), None)

    def next_open(self) -> None:
        """To the next open place of the chosen question, or of the first that has one."""
        self.refresh_map()
        question = self._chosen()
        if question is None or not question.spots:
            question = next((q for q in self._questions if q.spots), None)
        if question is None:
            self._parts.messages.note("Nothing is open on the sheet.")
            return
        if question.key != self._question:
            self.choose(question.key)
        else:
            self._go_to_spot(question, first=False)

    def _go_to_spot(self, question: Question, first: bool) -> None:
        writing = self._parts.writing
        order = writing.outline.index
        here = (-1, -1) if first else (writing.caret.measure, writing.caret.onset)
        note = 0 if first else writing.note_id()
        spot = next_spot(question, order, *here, note=note)
        if spot is None:
            return
        found = carets.on_note(writing.outline, spot.note, "staff") if spot.note else None
        if found is not None:
            writing.go(found)
        else:
            writing.go_to(spot.measure, spot.onset)

    def section_here(self) -> None:
        """Begin a section at the caret's measure where none begins, and open its fields."""
        writing, session = self._parts.writing, self._parts.session
        section = session.outline.section_of[writing.caret.measure]
        if section.measures[0].id != writing.caret.measure:
            writing.do(SplitSection(writing.caret.measure))
        self._open_form()

    def _open_form(self) -> None:
        self.refresh_map()
        self._question = "form"
        self.job_card.mark("form")
        self.show_panel("form")
        self._focus_section()

    def _focus_section(self) -> None:
        _, index = self._parts.hearing.section()
        self.form.focus_section(index)

    def ask(self, question: str, example: str, answered: Callable[[str], object]) -> None:
        """Ask for a word in the line under the sheet."""
        self.answer.ask(question, example, answered, self._parts.sheet)

    def show_source(self) -> None:
        """Show the parts of the kept source above the sheet, or hide them."""
        self._parts.source.toggle()

    def show_as(self, style: PageStyle) -> None:
        """Show lines one under another, pages as printed, or one long line."""
        if style != self._parts.session.style:
            self._parts.session.set_style(style)
            self._caret_moved()

    def open_demo(self) -> None:
        if self._parts.files.may_leave():
            self._parts.open_demo()

    def _opened(self, sentences: tuple[str, ...]) -> None:
        self._parts.messages.clear()
        if sentences:
            title = self._parts.session.lesson.title or "The score"
            self._report = self._parts.asking.tell("What came in", f"{title} came in", sentences)

    # ------------------------------------------------------------------ focus and help

    def focus_job(self) -> None:
        self.job_card.row(self._question).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def focus_strip(self) -> None:
        self.strip.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def focus_sheet(self) -> None:
        self._parts.sheet.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def focus_panel(self) -> None:
        panel = self._stack.currentWidget()
        if panel is None:
            return
        first = next(
            (w for w in panel.findChildren(QWidget) if w.focusPolicy() & Qt.FocusPolicy.TabFocus
             and w.isVisible()),
            None,
        )  # fmt: skip
        if first is not None:
            first.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self._parts.messages.note("There is nothing to write in this panel.")

    def focus_listening(self) -> None:
        self.listening.play.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def show_keys(self) -> None:
        if self._table is not None:
            self._help = KeyHelp(self, self._table)
            self._help.open()

    def show_about(self) -> None:
        self._report = self._parts.asking.tell("About Footstool", "Footstool", ABOUT)

    # ------------------------------------------------------------------ work and closing

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._sizes()

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._parts.files.may_leave():
            event.ignore()
            return
        self._later.stop()
        self._parts.hearing.close()
        self._parts.jobs.close()
        self.closed.emit()
        event.accept()
