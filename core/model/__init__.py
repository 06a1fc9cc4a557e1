"""Every value of the lesson file."""

from core.model.errors import BadInput, EditRefused, FootstoolError
from core.model.form import Arrangement, Barre, Ending, Section, Span, Tempo
from core.model.instrument import LOWERED_SIXTH, STANDARD, Instrument, Place
from core.model.lesson import (
    LESSON_VERSION,
    Brief,
    HandProfile,
    Lesson,
    LevelContract,
    Settings,
    Source,
    SourceCard,
    SourcePart,
    Waiver,
)
from core.model.measure import (
    SIGN_WORDS,
    VOICE_NAMES,
    ChordMark,
    ChordShape,
    Measure,
    MeasureMark,
    OtherVersion,
    PositionMark,
    ShapeBarre,
    Sign,
    TempoMark,
    TextMark,
)
from core.model.notes import (
    Arpeggio,
    Articulation,
    Breath,
    Dynamic,
    Event,
    EventMark,
    Fermata,
    Finger,
    Fingering,
    Grace,
    Harmonic,
    Label,
    Note,
    Origin,
    Pluck,
)
from core.model.pitch import Key, Pitch, frequency
from core.model.time import TICKS_PER_QUARTER, TICKS_PER_WHOLE, Base, Length, Metre, Value

__all__ = [
    "LESSON_VERSION", "LOWERED_SIXTH", "SIGN_WORDS", "STANDARD", "TICKS_PER_QUARTER",
    "TICKS_PER_WHOLE", "Arpeggio", "Arrangement", "Articulation", "BadInput", "Barre", "Base",
    "Breath", "Brief", "ChordMark", "ChordShape", "Dynamic", "EditRefused", "Ending", "Event",
    "EventMark", "Fermata", "Finger", "Fingering", "FootstoolError", "Grace", "HandProfile",
    "Harmonic", "Instrument", "Key", "Label", "Length", "Lesson", "LevelContract", "Measure",
    "MeasureMark", "Metre", "Note", "Origin", "OtherVersion", "Pitch", "Place", "Pluck",
    "PositionMark", "Section", "Settings", "ShapeBarre", "Sign", "Source", "SourceCard",
    "SourcePart", "Span", "Tempo", "TempoMark", "TextMark", "VOICE_NAMES", "Value", "Waiver",
    "frequency",
]  # fmt: skip
