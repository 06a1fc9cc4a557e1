"""What the window asks the worker process, and what it gets back: values that can be sent."""

from __future__ import annotations

from msgspec import Struct

from core.hand.barres import LaidBarre
from core.hand.music import Keep
from core.hand.passage import Spot
from core.model import Finger, Label, Lesson, Measure, Place, walk
from core.store.records import Record


class Fingers(Struct, frozen=True):
    """Places and fingers for some measures (None: all), everything outside them kept as it is.

    `alike`: equal measures are fingered alike where that costs little. `calm`: what is suggested
    in these of the measures stays as it is where that costs little.
    """

    measures: frozenset[int] | None = None
    keep: Keep = ""
    alike: bool = False
    calm: frozenset[int] = frozenset()


class Prices(Struct, frozen=True):
    """What each way to play a note costs; its own pin is left out of account, all others stay."""

    measure: int
    note: int


class WhyNot(Struct, frozen=True):
    """What speaks against playing a note with a finger, or in one very place."""

    measure: int
    note: int
    finger: int
    string: int = 0
    fret: int = 0


class OtherWays(Struct, frozen=True):
    """Ways to finger some measures that a teacher would call different."""

    measures: frozenset[int]


Question = Fingers | Prices | WhyNot | OtherWays


class Clash(Struct, frozen=True):
    """A spot that no hand can play as written: which notes, why, and the cheapest way out."""

    measure: int
    notes: tuple[int, ...]
    words: str
    way_out: str


class Fingering(Struct, frozen=True):
    """Labels by note id; `unplaced` notes have none; `clashes` and `barres` lie in the measures
    asked for."""

    places: dict[int, Label[Place]] = {}
    fingers: dict[int, Label[Finger]] = {}
    unplaced: tuple[int, ...] = ()
    clashes: tuple[Clash, ...] = ()
    barres: tuple[LaidBarre, ...] = ()
    solver: str = ""

    def stands_in(self, measure: Measure) -> bool:
        """Whether the notes of a measure have these places and fingers already."""
        for _, note in walk.notes(measure):
            place, finger = self.places.get(note.id), self.fingers.get(note.id)
            if place is not None and (note.place is None or note.place.value != place.value):
                return False
            if finger is not None and (note.finger is None or note.finger.value != finger.value):
                return False
        return True


class Priced(Struct, frozen=True):
    """A way to play a note: string, fret and finger, and how much dearer the passage gets.

    `cut` where it needs a ringing note let go early.
    """

    spot: Spot
    more: float
    now: bool = False
    cut: bool = False


class PriceList(Struct, frozen=True):
    """The ways to play a note, cheapest first; none for a note no finger presses."""

    note: int
    rows: tuple[Priced, ...] = ()


class Reason(Struct, frozen=True):
    """Why not: in words."""

    note: int
    words: str


class Way(Struct, frozen=True):
    """A fingering with its name, what it asks of the hand, and how much dearer it is."""

    name: str
    words: str
    more: float
    fingering: Fingering


class Ways(Struct, frozen=True):
    """The cheapest way first, then the others."""

    rows: tuple[Way, ...] = ()


Answer = Fingering | PriceList | Reason | Ways


class Message(Struct, frozen=True):
    """From the window: what changed in the lesson (a whole one first), then a question.

    Serials rise. `stop` gives a question up that was asked before.
    """

    serial: int
    news: Lesson | Record | None = None
    question: Question | None = None
    stop: bool = False


class Reply(Struct, frozen=True):
    """From the worker: an answer, words of progress, a sentence of what failed, or nothing where
    the question was given up."""

    serial: int
    answer: Answer | None = None
    told: str = ""
    failed: str = ""
