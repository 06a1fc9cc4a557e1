"""From road map to sound: what is heard, when, on which string, and the samples themselves."""

from core.sound.plan import MeasureRange, OccurrenceRange, OneSection, Plan, Whole
from core.sound.timeline import Timeline, timeline

__all__ = [
    "MeasureRange", "OccurrenceRange", "OneSection", "Plan", "Timeline", "Whole", "timeline",
]  # fmt: skip
