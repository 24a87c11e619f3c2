"""Notes, parts, the timeline and the Score."""

from genex.score.clock import FileClock
from genex.score.model import (
    Articulation,
    Fretting,
    LeadIn,
    Mix,
    Note,
    Part,
    Role,
    Score,
    Slide,
)
from genex.score.timeline import (
    COMMON_TIME,
    Bar,
    ChordSpan,
    Meter,
    Pass,
    RepeatSpan,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)

__all__ = [
    "COMMON_TIME",
    "Articulation",
    "Bar",
    "ChordSpan",
    "FileClock",
    "Fretting",
    "LeadIn",
    "Meter",
    "Mix",
    "Note",
    "Part",
    "Pass",
    "RepeatSpan",
    "Role",
    "Score",
    "SectionSpan",
    "Slide",
    "TempoChange",
    "TempoMap",
    "Timeline",
]
