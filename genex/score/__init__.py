"""Notes, parts, the timeline and the Score."""

from genex.score.model import (
    Articulation,
    Fretting,
    LeadIn,
    Mix,
    Move,
    Note,
    Part,
    Role,
    Score,
    Slide,
)
from genex.score.timeline import (
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
    "Articulation",
    "Bar",
    "ChordSpan",
    "Fretting",
    "LeadIn",
    "Meter",
    "Mix",
    "Move",
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
