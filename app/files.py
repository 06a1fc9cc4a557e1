"""Opening, saving and exporting: what the File menu does. Holds no widget."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from functools import partial
from pathlib import Path

from msgspec import Struct
from PySide6.QtCore import QObject, Signal

from app.asking import Asking
from app.commands import replaced
from app.jobs import Jobs, Tell
from app.messages import Messages
from app.reading import LESSON_SUFFIX, Opened, read
from app.score_choices import ScoreChoices, in_doubt
from app.session import Prepared, Session
from core.kit.names import slug
from core.model import Arrangement, BadInput, Key, Lesson, Measure, Metre, Section
from core.store import save
from core.store.files import write_atomically

LARGE_BYTES = 64_000  # what is larger would hold the window up while it is read and laid out


class _Ready(Struct, frozen=True):
    """What was read beside the window; `revision` is the session's when that began."""

    path: Path
    opened: Opened
    prepared: Prepared
    revision: int
    choices: ScoreChoices | None


class _Broken(Struct, frozen=True):
    """A file that could not be read beside the window, and the sentence why."""

    path: Path
    why: str
    revision: int


class Files(QObject):
    """`opened(sentences)` after a lesson was opened, with what there is to tell about it;
    `opened_lesson(path)` then for a lesson that has a file; `came_in()` for a score."""

    opened = Signal(object)
    came_in = Signal()
    opened_lesson = Signal(object)

    def __init__(
        self, session: Session, messages: Messages, asking: Asking, jobs: Jobs,
        commit: Callable[[], None] = lambda: None,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._messages, self._asking, self._jobs = session, messages, asking, jobs
        # Called before anything is saved or left: a text still being written becomes an edit.
        self.commit = commit
        # Called for a lesson that cannot be read and why; whether what was kept of it is open now.
        self.rescue: Callable[[Path, str], bool] = lambda _path, _why: False
        self._folder = Path.home()
        jobs.failed.connect(messages.failed)
        jobs.stopped.connect(lambda: messages.note("Stopped; nothing was left half-written."))
        jobs.done.connect(self._done)

    # ------------------------------------------------------------------ lessons

    def new(self) -> None:
        """Begin an empty lesson of one measure, after saving or leaving what is open."""
        if self.may_leave():
            self.show(Opened(new_lesson(), foreign=True), None)

    def ask_open(self) -> None:
        """Ask for a file and open it, after saving or leaving what is open."""
        if not self.may_leave():
            return
        path = self._asking.file_to_open(self._folder)
        if path is not None:
            self.open(path)

    def open(self, path: Path) -> None:
        """Open a lesson or a score. Raises BadInput, and then the open lesson is untouched.

        A large file is read and laid out beside the window, which stays at hand meanwhile.
        Of a damaged lesson what its journal kept is offered.
        """
        if path.exists() and path.stat().st_size > LARGE_BYTES:
            self._start_reading(path, None)
            return
        try:
            found = read(path)
        except BadInput as error:
            if not self.rescue(path, str(error)):
                raise
        else:
            self.take(found, path)

    def take(self, found: Opened, path: Path) -> bool:
        """Show what was read from a file, after asking where a score leaves something open.

        False when it was left unopened.
        """
        chosen = self._choices(found, path)
        if chosen is None:
            return False
        if chosen != ScoreChoices():
            found = read(path, chosen.parts, chosen.octave)
        self._folder = path.resolve().parent
        self.show(found, path)
        return True

    def _choices(self, found: Opened, path: Path) -> ScoreChoices | None:
        """How a score is to be read, asked where there is something to ask; None: not at all."""
        if found.report is None or not in_doubt(found.report):
            return ScoreChoices()
        return self._asking.score_choices(path.name, found.report)

    def _start_reading(self, path: Path, choices: ScoreChoices | None) -> None:
        revision, prepare = self._session.revision, self._session.prepare

        def work(tell: Tell) -> _Ready | _Broken:
            tell("reading")
            wanted = choices or ScoreChoices()
            try:
                found = read(path, wanted.parts, wanted.octave)
            except BadInput as error:
                return _Broken(path, str(error), revision)
            tell("laying out")
            return _Ready(path, found, prepare(found.lesson), revision, choices)

        self._jobs.start(f"Opening {path.name}", work)

    def _done(self, result: object) -> None:
        if isinstance(result, _Ready):
            with self._messages.guarded():
                self._arrived(result)
        elif isinstance(result, _Broken):
            with self._messages.guarded():
                self._failed(result)
        else:
            self._messages.note(str(result))

    def _failed(self, broken: _Broken) -> None:
        """Offer what was kept of a lesson that could not be read, or say why it could not."""
        free = self._session.revision == broken.revision or self.may_leave()
        if free and not self.rescue(broken.path, broken.why):
            self._messages.failed(broken.why)

    def _arrived(self, ready: _Ready) -> None:
        """Show what was read beside the window; edits made meanwhile are asked about first."""
        if ready.choices is None:
            chosen = self._choices(ready.opened, ready.path)
            if chosen is None:
                return
            if chosen != ScoreChoices():
                self._jobs.close()  # it has just ended; the next one begins when it is gone
                self._start_reading(ready.path, chosen)
                return
        if self._session.revision == ready.revision or self.may_leave():
            self._folder = ready.path.resolve().parent
            self.show(ready.opened, ready.path, ready.prepared)

    def show(self, found: Opened, path: Path | None, prepared: Prepared | None = None) -> None:
        """Show an opened lesson; a foreign one has no lesson file yet."""
        known = None if found.foreign else path
        self._session.open(found.lesson, known, saved=not found.foreign, prepared=prepared)
        self.opened.emit(found.sentences)
        if known is not None:
            self.opened_lesson.emit(known)
        if found.report is not None:
            self.came_in.emit()

    def save(self) -> bool:
        """Save under the lesson's name, or ask for one. Whether it was saved."""
        self.commit()
        path = self._session.path
        return self.save_as() if path is None else self._write(path)

    def save_as(self) -> bool:
        """Ask for a name and save; whether it was saved."""
        self.commit()
        path = self._asking.file_to_write(
            "Save as", self._proposed(LESSON_SUFFIX), f"Lessons (*{LESSON_SUFFIX})"
        )
        if path is None:
            return False
        if path.suffix.lower() != LESSON_SUFFIX:
            path = path.with_name(path.name + LESSON_SUFFIX)
        return self._write(path)

    def _write(self, path: Path) -> bool:
        lesson = self._session.lesson
        save(lesson, path)
        self._folder = path.resolve().parent
        self._session.mark_saved(lesson, path)
        self._messages.note(f"Saved as {path.name}.")
        return True

    def may_leave(self) -> bool:
        """Whether the open lesson may be left: it is saved, or the teacher lets it go."""
        self.commit()
        if not self._session.modified:
            return True
        answer = self._asking.save_first(self._session.lesson.title or "The lesson")
        if answer != "save":
            return answer == "leave"
        with self._messages.guarded():
            return self.save()
        return False

    def _proposed(self, suffix: str) -> Path:
        path = self._session.path
        name = path.stem if path is not None else slug(self._session.lesson.title, "lesson")
        return self._folder / f"{name}{suffix}"

    # ------------------------------------------------------------------ exports

    def export_handout(self) -> None:
        self._export("Handout", ".pdf", "PDF pages (*.pdf)", _handout)

    def export_midi(self) -> None:
        self._export("MIDI file", ".mid", "MIDI files (*.mid)", _midi)

    def export_score(self) -> None:
        self._export("Score", ".musicxml", "MusicXML scores (*.musicxml)", _score)

    def export_sound(self, section: Section | None) -> None:
        """The sound of a section, or of the whole piece, at the practice tempo."""
        work = partial(_sound, section=section)
        self._export("Sound", ".wav", "Sound files (*.wav)", work)

    def _export(
        self, title: str, suffix: str, kind: str, make: Callable[[Lesson], Iterable[bytes]]
    ) -> None:
        self.commit()
        path = self._asking.file_to_write(
            f"Write the {title.lower()}", self._proposed(suffix), kind
        )
        if path is not None:
            lesson = self._session.lesson
            self._jobs.start(
                f"{title}: {path.name}", lambda tell: _write_all(path, make(lesson), tell)
            )

    def export_kit(self) -> None:
        """Everything there is to hand out, in one folder."""
        self.commit()
        folder = self._asking.folder("Make the whole kit in a folder", self._folder)
        if folder is not None:
            lesson = self._session.lesson
            self._jobs.start(f"Kit: {folder.name}", lambda tell: _kit(lesson, folder, tell))


def new_lesson() -> Lesson:
    """One empty measure of 4/4 in C, called section A: where a tune is begun from nothing."""
    measure = Measure(2, Metre([4], 4), Key(0))
    section = Section(1, (measure,), letter="A")
    return Lesson("New lesson", Arrangement((section,)), next_id=3)


def _write_all(path: Path, pieces: Iterable[bytes], tell: Tell) -> str:
    data = bytearray()
    tell(path.name)
    for piece in pieces:
        data += piece
        tell(path.name)
    write_atomically(path, bytes(data))
    return f"{path.name} is written, {len(data) / 1000:,.0f} kB."


# Printing and sound are loaded when first asked for: they would slow the first paint.


def _handout(lesson: Lesson) -> Iterator[bytes]:
    from app.printing import press  # noqa: PLC0415
    from core.kit.make import handout  # noqa: PLC0415

    yield handout(lesson, press(), date.today().isoformat())


def _midi(lesson: Lesson) -> Iterator[bytes]:
    from core.formats import midi  # noqa: PLC0415

    yield midi.write(lesson)


def _score(lesson: Lesson) -> Iterator[bytes]:
    from core.formats import musicxml_write  # noqa: PLC0415

    yield musicxml_write.write(lesson)


def _sound(lesson: Lesson, section: Section | None) -> Iterator[bytes]:
    from core.sound import wav  # noqa: PLC0415
    from core.sound.bank import NoteBank  # noqa: PLC0415
    from core.sound.plan import OneSection, Plan, Whole  # noqa: PLC0415
    from core.sound.timeline import DEFAULT_RATE, timeline  # noqa: PLC0415

    percent = float(lesson.settings.practice_percent)
    what = Whole() if section is None else OneSection(section.id)
    plan = Plan(what, percent=percent, count_in=1)
    return wav.pieces(timeline(lesson, plan), NoteBank(DEFAULT_RATE), lesson.title)


def _kit(lesson: Lesson, folder: Path, tell: Tell) -> str:
    from app.printing import press  # noqa: PLC0415
    from core.kit.make import make  # noqa: PLC0415

    today = date.today().isoformat()
    made = make(lesson, folder, press(), date=today, tell=tell)
    return f"The kit is in {folder}: {len(made)} files. {replaced(made)}".rstrip()
